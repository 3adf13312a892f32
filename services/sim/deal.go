package sim

import (
	"crypto/sha256"
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

// kinds are the mishaps that are dealt to jobs, in the order of one deck.
var kinds = []string{
	"gelled-nozzle", "wrong-substrate", "not-level", "lot-out-of-date", "not-purged", "not-equalised", "moved-car",
	"late-fact", "late-out-of-order", "claimed-age", "signed-age", "withdrawn-fact", "overdrawn", "retry", "disturbed-bead",
	"tooled-late", "not-prepped", "wet-undercoat", "cold-laying", "bed-only", "leak", "window-missed",
	"rework-after-permit", "booth-fault", "no-permit", "silent-terminal", "second-permit", "unused-permit", "expired-permit",
	"store-doubt",
}

// deck deals mishaps from the seed, every kind before any comes again.
type deck struct {
	chance *rand.Rand
	kinds  []string
	left   []string
}

func newDeck(seed uint64) *deck { return &deck{chance: stream(seed, "deck"), kinds: kinds} }

// deal plants up to n mishaps on a job, of those that can happen to it.
func (d *deck) deal(j *job, n int) {
	for range n {
		i := slices.IndexFunc(d.left, func(k string) bool { return j.suits(k) })
		if i < 0 {
			d.left = append(d.left, d.kinds...)
			d.chance.Shuffle(len(d.left), func(a, b int) { d.left[a], d.left[b] = d.left[b], d.left[a] })
			if i = slices.IndexFunc(d.left, func(k string) bool { return j.suits(k) }); i < 0 {
				return
			}
		}
		j.mishaps[d.left[i]] = true
		d.left = slices.Delete(d.left, i, i+1)
	}
	j.late = j.has("window-missed")
}

// apart are mishaps that would hide one another on one job.
var apart = [][]string{
	{"wrong-substrate", "not-level", "wet-undercoat"},
	{
		"rework-after-permit", "booth-fault", "no-permit", "silent-terminal", "second-permit", "unused-permit", "expired-permit", "store-doubt", "window-missed",
		"restart-with-permit", "two-programs", "clock-back", "clock-forward", "unwritable-with-permit",
		"removed-after-permit", "recall-after-permit", "moved-after-permit", "mended-at-once", "process-in-trouble",
	},
	{"moved-car", "cold-laying"},
}

// suits reports whether a mishap can happen to a job.
func (j *job) suits(kind string) bool {
	if j.mishaps[kind] || j.late {
		return false
	}
	for _, a := range apart {
		if slices.Contains(a, kind) && slices.ContainsFunc(a, func(k string) bool { return j.mishaps[k] }) {
			return false
		}
	}
	has := func(so func(*jobsv1.SeamSurveyed) bool) bool {
		return slices.ContainsFunc(j.seams, func(m *seam) bool { return so(m.def) })
	}
	switch kind {
	case "wrong-substrate", "not-level", "wet-undercoat":
		return j.levelled() != nil
	case "bed-only":
		return has(func(d *jobsv1.SeamSurveyed) bool {
			return d.GetReference().GetProfile() == floorv1.Profile_PROFILE_RIPPLE
		})
	case "window-missed":
		return j.coat() == floorv1.Coat_COAT_PRIMER_SURFACER
	case "late-out-of-order", "tooled-late":
		return slices.ContainsFunc(j.seams, func(m *seam) bool { return technique(m) == floorv1.Technique_TECHNIQUE_TAPE_EDGE })
	}
	return true
}

// model is a kind of vehicle that comes in, with the seams that are opened on
// it. Invented.
type model struct {
	vehicle string
	coats   []floorv1.Coat
	seams   []sketch
}

// sketch is a seam of a model.
type sketch struct {
	name, panel, place, side string
	class                    floorv1.SealerClass
	profile                  floorv1.Profile
	substrate                floorv1.Substrate
	orientation              floorv1.Orientation
	exposed                  bool
	colour                   string
	width, height, length    float64
}

const (
	selfLevelling = floorv1.SealerClass_SEALER_CLASS_SELF_LEVELLING
	mediumBodied  = floorv1.SealerClass_SEALER_CLASS_MEDIUM_BODIED
	heavyBodied   = floorv1.SealerClass_SEALER_CLASS_HEAVY_BODIED
	eCoat         = floorv1.Substrate_SUBSTRATE_E_COAT
	epoxy         = floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER
	zinc          = floorv1.Substrate_SUBSTRATE_ZINC_COATED
	level         = floorv1.Orientation_ORIENTATION_LEVEL
	sloped        = floorv1.Orientation_ORIENTATION_SLOPED
	vertical      = floorv1.Orientation_ORIENTATION_VERTICAL
)

var models = []model{
	{"green hatchback", []floorv1.Coat{floorv1.Coat_COAT_WATERBORNE, floorv1.Coat_COAT_SOLVENTBORNE}, []sketch{
		{"rd-l", "roof", "Roof ditch", "L", selfLevelling, floorv1.Profile_PROFILE_LEVELLED, epoxy, level, false, "grey", 14, 2.2, 1500},
		{"rd-r", "roof", "Roof ditch", "R", selfLevelling, floorv1.Profile_PROFILE_LEVELLED, epoxy, level, false, "grey", 14, 2.2, 1500},
		{"dh-l", "door-l", "Door hem", "L", mediumBodied, floorv1.Profile_PROFILE_STEP, eCoat, vertical, false, "grey", 8, 2.5, 1900},
		{"qw-l", "quarter-l", "Quarter to wheelhouse", "L", heavyBodied, floorv1.Profile_PROFILE_ROUND, eCoat, sloped, false, "white", 8, 3, 900},
		{"bf", "boot-floor", "Boot floor joint", "", heavyBodied, floorv1.Profile_PROFILE_BRUSHED, eCoat, level, true, "white", 22, 1.5, 1300},
	}},
	{"brown estate", []floorv1.Coat{floorv1.Coat_COAT_PRIMER_SURFACER, floorv1.Coat_COAT_WATERBORNE}, []sketch{
		{"dr-r", "roof", "Drip rail", "R", selfLevelling, floorv1.Profile_PROFILE_LEVELLED, epoxy, level, false, "grey", 12, 3.2, 1700},
		{"th", "tailgate", "Tailgate hem", "", mediumBodied, floorv1.Profile_PROFILE_STEP, eCoat, vertical, false, "white", 8, 2.5, 2100},
		{"rpf", "rear-panel", "Rear panel to floor", "", heavyBodied, floorv1.Profile_PROFILE_RIBBON, epoxy, level, false, "grey", 20, 1.5, 1250},
		{"swl", "boot-floor", "Spare-wheel well", "", heavyBodied, floorv1.Profile_PROFILE_ROUND, eCoat, level, true, "black", 8, 2.5, 1500},
	}},
	{"yellow coupe", []floorv1.Coat{floorv1.Coat_COAT_SOLVENTBORNE}, []sketch{
		{"ap-l", "apron-l", "Apron upper", "L", heavyBodied, floorv1.Profile_PROFILE_RIPPLE, zinc, vertical, false, "grey", 10, 3.5, 720},
		{"cowl", "cowl", "Cowl to bulkhead", "", heavyBodied, floorv1.Profile_PROFILE_ROUND, eCoat, sloped, false, "grey", 8, 3, 1300},
		{"bn", "bonnet", "Bonnet hem", "", mediumBodied, floorv1.Profile_PROFILE_STEP, eCoat, vertical, false, "grey", 7, 2, 2400},
		{"rd-l", "roof", "Roof ditch", "L", selfLevelling, floorv1.Profile_PROFILE_LEVELLED, epoxy, level, false, "grey", 13, 2, 1400},
	}},
	{"white delivery van", []floorv1.Coat{floorv1.Coat_COAT_WATERBORNE, floorv1.Coat_COAT_SOLVENTBORNE}, []sketch{
		{"sd-r", "sliding-door-r", "Sliding door hem", "R", mediumBodied, floorv1.Profile_PROFILE_STEP, eCoat, vertical, false, "grey", 9, 2.5, 2300},
		{"sill-r", "side-r", "Sill joint", "R", mediumBodied, floorv1.Profile_PROFILE_RIBBON, eCoat, vertical, false, "white", 18, 1.5, 1650},
		{"wh-r", "side-r", "Quarter to wheelhouse", "R", heavyBodied, floorv1.Profile_PROFILE_BRUSHED, eCoat, sloped, false, "white", 20, 2, 840},
		{"cf", "load-floor", "Load floor joint", "", heavyBodied, floorv1.Profile_PROFILE_ROUND, eCoat, level, true, "beige", 8, 3, 1900},
	}},
}

// colours that new jobs are sprayed; the booth has a setup for each.
var colours = []string{"white", "blue", "silver", "red", "grey metallic"}

// arrivals brings new jobs every working day, as many as keep the shop full.
func (s *sim) arrivals(p *proc) {
	ro := 3001
	for n := 0; ; n++ {
		p.until(s.hours.next(s.now, 0, shiftBegins, shiftEnds))
		for range s.comingIn() {
			p.wait(s.minutes(20, 120))
			if s.queueing() < 4 {
				j := s.sketchJob(fmt.Sprint(ro), models[s.chance.IntN(len(models))])
				ro++
				s.deck.deal(j, s.planting())
				s.spawn("repair "+j.ro, s.now, func(p *proc) { s.repair(p, j) })
			}
		}
		p.until(s.hours.next(s.hours.on(s.now, 1, 0), 0, shiftBegins, shiftEnds))
	}
}

// comingIn is how many cars come in today.
func (s *sim) comingIn() int {
	idle := s.opt.Habits.Idle
	switch {
	case idle <= 0:
		return s.opt.Habits.arrivals()
	case s.chance.Float64() < idle:
		return 0
	}
	return 1 + s.chance.IntN(s.opt.Habits.arrivals())
}

// queueing counts the cars that wait in the yard.
func (s *sim) queueing() int {
	n := 0
	for _, j := range s.inShop {
		if j.bay == "" {
			n++
		}
	}
	return n
}

// planting is how many mishaps a job gets: two, or, in a shop with few jobs,
// none to five.
func (s *sim) planting() int {
	if s.sharp() {
		return s.chance.IntN(6)
	}
	return 2
}

func (s *sim) sketchJob(ro string, m model) *job {
	b := &jobsv1.JobOpened{
		Ro: ro, Vehicle: m.vehicle, Vin: vinFor(ro), PaintColour: colours[s.chance.IntN(len(colours))], Coats: m.coats,
		Promised: timestamppb.New(s.hours.on(s.now, 3, 15*time.Hour)), Weight: float64(1 + s.chance.IntN(3)), AfterBoothMin: 90,
	}
	j := s.newJob(b)
	for _, k := range m.seams {
		j.seams = append(j.seams, &seam{id: ro + "/" + k.name, job: j, def: k.survey(ro, s)})
	}
	return j
}

func (k sketch) survey(ro string, s *sim) *jobsv1.SeamSurveyed {
	prefix := byClass[k.class]
	if k.class == selfLevelling {
		prefix = "sl-"
	}
	r := &floorv1.Reference{
		Source: floorv1.ReferenceSource_REFERENCE_SOURCE_BEFORE_TEAR_DOWN, Class: k.class, Profile: k.profile, Colour: k.colour,
		WidthMm: k.width, HeightMm: k.height,
	}
	if p := s.products[prefix+k.colour]; p != nil {
		r.Lab = p.def.GetLab()
	}
	finish := floorv1.Finish_FINISH_COATED
	if k.exposed {
		finish = floorv1.Finish_FINISH_EXPOSED
	}
	return &jobsv1.SeamSurveyed{
		SeamId: ro + "/" + k.name, Panel: k.panel, Place: k.place, Side: k.side, LengthMm: k.length, Orientation: k.orientation,
		Finish: finish, Substrate: k.substrate, Reference: r,
	}
}

// openJob takes a vehicle into repair and surveys its seams in the yard.
func (s *sim) openJob(p *proc, j *job) {
	var found []due
	if len(j.def.GetVin()) == 17 && s.chance.IntN(4) == 0 {
		j.def.Vin = j.def.GetVin()[:16] + "I" // no such letter in a number
		found = append(found, due{rule: "vin-wrong", subject: "job/" + j.ro, severity: query})
		s.planted("wrong-vin", j.ro)
	}
	s.tell(foreman, desk, live, j.def, found...)
	j.opened = true
	for _, m := range j.seams {
		p.wait(s.minutes(0.5, 1.5))
		s.tell(foreman, desk, live, m.def)
		p.wait(15 * time.Second)
		s.tell(foreman, desk, live, &jobsv1.PhotoAttached{
			SeamId: m.id, Sha256: sumOf(m.id), MediaType: "image/jpeg", Caption: "before tear-down",
		})
	}
}

// sumOf stands for the sum over a photo's bytes.
func sumOf(what string) string { return fmt.Sprintf("%x", sha256.Sum256([]byte(what))) }

// vinFor makes a vehicle identification number with its check digit by
// 49 CFR 565.15, from memory: letters have values, places have weights, the
// remainder of the sum by 11 stands at the ninth place, X for ten.
func vinFor(ro string) string {
	vin := []byte("1ZZDM3AB0TZ" + fmt.Sprintf("%06s", ro))
	weights := []int{8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2}
	sum := 0
	for i, c := range vin {
		sum += weights[i] * vinValue(c)
	}
	vin[8] = "0123456789X"[sum%11]
	return string(vin)
}

func vinValue(c byte) int {
	if c <= '9' {
		return int(c - '0')
	}
	const values = "12345678012345070923456789" // of A to Z; I, O and Q have none
	return int(values[c-'A'] - '0')
}
