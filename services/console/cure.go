package console

import (
	"slices"
	"strings"
	"time"

	"seamwright/services/calc/cure"
	"seamwright/services/calc/spec"
	"seamwright/services/fault"
	"seamwright/services/intake"
)

// Cure asks how far a bead has cured and when it will have got there.
type Cure struct {
	Product, Zone, Readings string // files
	Laid, Begun             string // moments; Begun empty: as Laid
	Stage, Coat             string
	At                      string // a moment
	Hindsight               bool
}

// Stages of the question beside those that a label gives times for.
const (
	coatOpens  = "coat-opens"
	coatCloses = "coat-closes"
)

// stages are the words that --stage takes.
func stages() []string {
	out := make([]string, 0, 7)
	for _, s := range intake.Stages() {
		out = append(out, string(s))
	}
	return append(out, coatOpens, coatCloses)
}

type cureAnswer struct {
	Kind       string        `json:"kind"`
	Stage      string        `json:"stage"`
	NeededS    float64       `json:"needed_s"`
	AgeColdS   float64       `json:"age_cold_s"`
	AgeHotS    float64       `json:"age_hot_s"`
	AgeNominal *float64      `json:"age_nominal_s"`
	DueCold    *string       `json:"due_cold"`
	DueHot     *string       `json:"due_hot"`
	DueNominal *string       `json:"due_nominal"`
	Reached    string        `json:"reached"`
	Why        []string      `json:"why"`
	Findings   []cureFinding `json:"findings"`

	ground cureGround
}

type cureFinding struct {
	Kind   string  `json:"kind"`
	Reason string  `json:"reason"`
	From   *string `json:"from"`
	To     *string `json:"to"`
}

// Run answers.
func (q Cure) Run(o Out) error {
	p, err := readFile("--product", q.Product, intake.ReadProduct)
	if err != nil {
		return err
	}
	ground := cureGround{product: p}
	course, err := q.course(&ground)
	if err != nil {
		return err
	}
	law, findings, err := lawOf(p.Cure)
	if err != nil {
		return err
	}
	clock, at, err := q.clock(p, law)
	if err != nil {
		return err
	}
	var v cure.Verdict
	seen, known := course.AsOf(at), at
	if q.Hindsight {
		v, seen, known = cure.JudgeHindsight(course, clock, at), course.Hindsight(), endOfTime
	} else {
		v = cure.Judge(course, clock, at)
	}
	findings = append(findings, course.Findings(time.Time{}, known)...)
	if most := p.Cure.MaxTempC; most != nil {
		findings = append(findings, seen.Warmer(*most, clock.From, at)...)
	}
	ground.stand(v, seen, known)
	a := q.answer(v, findings)
	a.ground = ground
	return o.put(a)
}

// endOfTime is later than any reading that package intake takes.
var endOfTime = time.Date(2200, 1, 1, 0, 0, 0, 0, time.UTC)

// course reads the zone and its readings, and keeps them as grounds.
func (q Cure) course(g *cureGround) (*cure.Course, error) {
	z, err := readFile("--zone", q.Zone, intake.ReadZone)
	if err != nil {
		return nil, err
	}
	readings, err := readFile("--readings", q.Readings, intake.ReadReadings)
	if err != nil {
		return nil, err
	}
	g.zone, g.readings = z, readings
	course, err := cure.NewCourse(zoneOf(z))
	if err != nil {
		return nil, err
	}
	for _, r := range readings { // by time
		if _, err := course.Append(cure.Reading{At: r.At, C: r.TempC}); err != nil {
			return nil, err
		}
	}
	return course, nil
}

// clock makes the clock that is asked about, and the moment.
func (q Cure) clock(p intake.Product, law cure.Law) (c cure.Clock, at time.Time, err error) {
	laid, err := when("--laid", q.Laid)
	if err != nil {
		return c, at, err
	}
	begun := laid
	if q.Begun != "" {
		if begun, err = when("--begun", q.Begun); err != nil {
			return c, at, err
		}
	}
	if at, err = when("--at", q.At); err != nil {
		return c, at, err
	}
	if begun.After(laid) {
		return c, at, fault.Bad("--begun", show(q.Begun), "not after --laid "+q.Laid)
	}
	if at.Before(laid) {
		return c, at, fault.Bad("--at", show(q.At), "not before --laid "+q.Laid)
	}
	kind, needed, err := q.needed(p)
	if err != nil {
		return c, at, err
	}
	from := laid
	if kind == cure.Expiry {
		from = begun
	}
	return cure.Clock{Kind: kind, Law: law, From: from, Needed: minutes(needed), Tolerance: p.Cure.TolerancePercent / 100}, at, nil
}

// needed is the stage's kind and its minutes at the reference temperature.
func (q Cure) needed(p intake.Product) (cure.Kind, float64, error) {
	stage, err := word("--stage", q.Stage, stages())
	if err != nil {
		return 0, 0, err
	}
	if stage == coatOpens || stage == coatCloses {
		return q.window(p, stage)
	}
	if q.Coat != "" {
		return 0, 0, fault.Bad("--coat", show(q.Coat), "nothing with --stage "+stage+"; it goes with "+coatOpens+" and "+coatCloses)
	}
	m, ok := p.Cure.StageMin[intake.Stage(stage)]
	if !ok {
		return 0, 0, fault.Bad("--stage", stage, "a stage that "+p.ID+" gives a time for: "+strings.Join(given(p), ", "))
	}
	if stage == string(intake.NozzleGel) || stage == string(intake.Tooling) {
		return cure.Expiry, m, nil
	}
	return cure.Ready, m, nil
}

// window is the time of a coat window. A self-levelling sealer opens no
// sooner than it has flowed out.
func (q Cure) window(p intake.Product, stage string) (cure.Kind, float64, error) {
	coat, err := word("--coat", q.Coat, spec.Coats())
	if err != nil {
		return 0, 0, err
	}
	w, ok := p.Cure.Over[coat]
	if !ok {
		return 0, 0, fault.Bad("--coat", string(coat), "a coat that "+p.ID+" gives a window for: "+strings.Join(given(p), ", "))
	}
	if stage == coatCloses {
		return cure.Expiry, w.ClosesMin, nil
	}
	opens := w.OpensMin
	if p.Class == spec.SelfLevelling {
		opens = max(opens, p.Cure.StageMin[intake.FlowOut])
	}
	return cure.Ready, opens, nil
}

// given lists the stages and coats that a label gives times for.
func given(p intake.Product) []string {
	var out []string
	for _, s := range intake.Stages() {
		if _, ok := p.Cure.StageMin[s]; ok {
			out = append(out, string(s))
		}
	}
	for _, c := range spec.Coats() {
		if _, ok := p.Cure.Over[c]; ok {
			out = append(out, "over "+string(c))
		}
	}
	return out
}

func (q Cure) answer(v cure.Verdict, findings []cure.Finding) cureAnswer {
	a := cureAnswer{
		Kind: v.Kind.String(), Stage: q.Stage, NeededS: v.NeededS, AgeColdS: v.AgeColdS, AgeHotS: v.AgeHotS,
		DueCold: stamp(v.DueCold), DueHot: stamp(v.DueHot), DueNominal: stamp(v.DueNominal),
		Reached: v.Reached.String(), Why: list(v.Why), Findings: []cureFinding{},
	}
	if v.NominalKnown {
		a.AgeNominal = &v.AgeNominalS
	}
	slices.SortStableFunc(findings, func(a, b cure.Finding) int { return a.From.Compare(b.From) })
	for _, f := range findings {
		a.Findings = append(a.Findings, cureFinding{Kind: f.Kind, Reason: f.Reason, From: stamp(f.From), To: stamp(f.To)})
	}
	return a
}
