package intake

import (
	"fmt"
	"strconv"
	"strings"

	"seamwright/services/calc/spec"
)

// Stage is a stage of a sealer's cure that a label gives a time for.
type Stage string

// The stages.
const (
	NozzleGel Stage = "nozzle-gel"
	Tooling   Stage = "tooling"
	FlowOut   Stage = "flow-out"
	Handling  Stage = "handling"
	FullCure  Stage = "full-cure"
)

// Stages lists the stages.
func Stages() []Stage { return []Stage{NozzleGel, Tooling, FlowOut, Handling, FullCure} }

// Cure is how a product cures: the plain numbers of its label. At most one
// of the three ways to give the activation energy is set.
type Cure struct {
	ReferenceTempC            float64
	ActivationEnergyKJMol     *float64
	ActivationEnergyBandKJMol *[2]float64 // low, high
	RateDoublesPerK           *float64
	Points                    []Point
	MinTempC                  *float64 // below it nothing is surely reached
	MaxTempC                  *float64 // above it a finding
	TolerancePercent          float64
	StageMin                  map[Stage]float64    // minutes at the reference temperature; absent: unknown
	Over                      map[spec.Coat]Window // absent: unknown
	AfterScuffClosesMin       *float64
}

// Point is a label's time at another temperature.
type Point struct {
	Stage   Stage
	TempC   float64
	Minutes float64
}

// Window is when the first coat over the sealer may begin and must have
// begun, in minutes at the reference temperature.
type Window struct{ OpensMin, ClosesMin float64 }

var (
	labelTemp = span{lo: -40, hi: 100, unit: "°C"}
	energy    = span{lo: 10, hi: 200, unit: "kJ/mol"}
)

func readCure(m *mapping, class spec.Class) Cure {
	if !m.need("cure", "times at a reference temperature") {
		return Cure{}
	}
	c := m.sub("cure", "reference_temp_c", "activation_energy_kj_mol", "activation_energy_band_kj_mol",
		"rate_doubles_per_k", "points", "min_temp_c", "max_temp_c", "tolerance_percent", "stages", "over",
		"after_scuff_closes")
	if c == nil {
		return Cure{}
	}
	out := Cure{
		ReferenceTempC:      c.needNumber("reference_temp_c", labelTemp),
		MinTempC:            c.maybe("min_temp_c", labelTemp),
		MaxTempC:            c.maybe("max_temp_c", span{lo: -40, hi: 200, unit: "°C"}),
		TolerancePercent:    c.needNumber("tolerance_percent", span{hi: 100, below: true, unit: "%"}),
		AfterScuffClosesMin: c.maybe("after_scuff_closes", minutes),
	}
	if out.MinTempC != nil && out.MaxTempC != nil && *out.MinTempC > *out.MaxTempC {
		c.s.bad(c.lineOf("max_temp_c"), "cure.max_temp_c", plain(*out.MaxTempC), "not below min_temp_c "+plain(*out.MinTempC))
	}
	readEnergy(c, &out)
	out.Points = readPoints(c)
	readStages(c, &out, class)
	readWindows(c, &out)
	return out
}

// readEnergy reads the one way in which the file gives the activation
// energy, if any.
func readEnergy(c *mapping, out *Cure) {
	ways := []string{}
	for _, key := range []string{"activation_energy_kj_mol", "activation_energy_band_kj_mol", "rate_doubles_per_k"} {
		if c.has(key) {
			ways = append(ways, key)
		}
	}
	if len(ways) > 1 {
		c.s.bad(c.lineOf(ways[1]), "cure."+ways[1], "beside "+ways[0], "one way to give the activation energy; take the other out")
		return
	}
	out.ActivationEnergyKJMol = c.maybe("activation_energy_kj_mol", energy)
	if v := c.numbers("activation_energy_band_kj_mol", energy, energy); v != nil {
		if v[0] > v[1] {
			c.s.bad(c.lineOf("activation_energy_band_kj_mol"), "cure.activation_energy_band_kj_mol",
				plain(v[0])+" to "+plain(v[1]), "the lower end first")
		}
		out.ActivationEnergyBandKJMol = &[2]float64{v[0], v[1]}
	}
	k := c.maybe("rate_doubles_per_k", span{above: true, hi: 100, unit: "K"})
	if k != nil && c.has("reference_temp_c") {
		if ea := energyOfDoubling(out.ReferenceTempC, *k); !energy.holds(ea) {
			c.s.bad(c.lineOf("rate_doubles_per_k"), "cure.rate_doubles_per_k", plain(*k),
				fmt.Sprintf("it means an activation energy of %.1f kJ/mol; allowed are 10 to 200 kJ/mol", ea))
		}
	}
	out.RateDoublesPerK = k
}

func readPoints(c *mapping) []Point {
	var out []Point
	for i, n := range c.list("points", 1000, "a list of {stage, temp_c, minutes}") {
		p := c.s.node(n, "cure.points["+strconv.Itoa(i)+"]", []string{"stage", "temp_c", "minutes"})
		if p == nil || !p.need("stage", oneOf(Stages())) {
			continue
		}
		out = append(out, Point{
			Stage:   word(p, "stage", Stages()),
			TempC:   p.needNumber("temp_c", labelTemp),
			Minutes: p.needNumber("minutes", minutesPos),
		})
	}
	return out
}

func readStages(c *mapping, out *Cure, class spec.Class) {
	out.StageMin = map[Stage]float64{}
	names := strings.Split(strings.TrimPrefix(oneOf(Stages()), "one of "), ", ")
	if !c.need("stages", "minutes for "+strings.Join(names, ", ")) {
		return
	}
	st := c.sub("stages", names...)
	if st == nil {
		return
	}
	for _, stage := range Stages() {
		if x, ok := st.number(string(stage), minutes); ok {
			out.StageMin[stage] = x
		}
	}
	if class == spec.SelfLevelling {
		st.need(string(FlowOut), "a self-levelling sealer must flow out before it is coated")
	}
	if len(st.names) == 0 {
		c.s.bad(c.lineOf("stages"), "cure.stages", "", "at least one stage in minutes")
	}
}

func readWindows(c *mapping, out *Cure) {
	out.Over = map[spec.Coat]Window{}
	names := strings.Split(strings.TrimPrefix(oneOf(spec.Coats()), "one of "), ", ")
	over := c.sub("over", names...)
	if over == nil {
		return
	}
	for _, coat := range spec.Coats() {
		w := over.sub(string(coat), "opens", "closes")
		if w == nil {
			continue
		}
		win := Window{OpensMin: w.needNumber("opens", minutes), ClosesMin: w.needNumber("closes", minutes)}
		if win.ClosesMin < win.OpensMin {
			c.s.bad(w.lineOf("closes"), w.path+"closes", plain(win.ClosesMin), "not before opens "+plain(win.OpensMin))
		}
		out.Over[coat] = win
	}
}
