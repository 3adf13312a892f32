package intake

// One good file of each kind. The refusals change one thing of them.

const productText = `id: hb-white
name: Demo heavy-bodied white
class: heavy-bodied            # self-levelling | medium-bodied | heavy-bodied
build: standard                # self-levelling only: standard | high-build
colour: {name: white, lab: [94.0, -0.8, 2.1]}   # CIE L*a*b*, D65
cartridge_ml: 200
mix_ratio: "1:1"
price: {amount: "31.50", currency: USD}          # per cartridge
shelf_life_days: 365
opened_life_days: 90
lead_time_days: 3
substrates: [bare-steel, bare-aluminium, zinc-coated, e-coat, epoxy-primer, dtm-urethane-primer, cured-topcoat]
cure:
  reference_temp_c: 21
  activation_energy_kj_mol: 52           # or one of the three next lines
  min_temp_c: 10
  max_temp_c: 40
  tolerance_percent: 10
  stages:
    nozzle-gel: 8
    tooling: 12
    flow-out: 15
    handling: 45
    full-cure: 1440
  over:
    primer-surfacer: {opens: 30, closes: 1440}
    undercoat: {opens: 0, closes: 1440}
    solventborne: {opens: 0, closes: 2880}
    waterborne: {opens: 60, closes: 2880}
  after_scuff_closes: 1440
`

const zoneText = `id: bay-1
limits_c: [5, 35]
probe_error_c: 0.5
drift_c_per_min: 0.2
stale_after_min: 15
settling_min: 30
`

const boothText = `id: booth-1
zone: booth-1
coats: [waterborne]
open:
  - ["2026-03-02T07:30:00Z", "2026-03-02T12:00:00Z"]
  - ["2026-03-02T14:00:00+01:00", "2026-03-02T17:00:00Z"]
first_coat_min: 20
process_min: 75
setup_min:
  white: {white: 5, red: 25}
  red: {white: 40, red: 5.5}
`

const readingsText = `time,temp_c,rh_percent,surface_c
2026-03-02T08:02:00Z,18.5,54.0,17.9
2026-03-02T09:00:00+01:00,18.4,,
`

const loadsText = `load,booth,ro,colour,first_coat_min,process_min,seams
2207-A,booth-1,2207,blue,20,80,rd-l;rd-r
2207-B,booth-1,2207,blue,,,th
`

const surveyText = `ro,vin,vehicle,coats,paint_colour,promised,weight,after_booth_min,seam,panel,place,side,orientation,finish,substrate,reference_source,class,profile,colour,lab_l,lab_a,lab_b,width_mm,height_mm,length_mm
2207,1G4AH59H45G118341,blue hatchback,waterborne;solventborne,blue,2026-03-02T16:30:00Z,3,90,rd-l,roof,Roof ditch,L,level,coated,epoxy-primer,before-tear-down,self-levelling,levelled,grey,61.2,-0.4,-1.6,14,2.2,1620
2207,1g4ah59h45g118341,blue hatchback,waterborne; solventborne,blue,2026-03-02T17:30:00+01:00,3.0,90,qw-l,quarter-l,Quarter to wheelhouse,L,,coated,,none,,,,,,,,,
`
