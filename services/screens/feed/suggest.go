package feed

import (
	"cmp"
	"slices"
	"strings"

	"seamwright/services/calc/bead"
	"seamwright/services/calc/spec"
	"seamwright/services/floor"
)

// suggest is what the rules would lay on a seam with the products of this
// shop. A page asks several times; nobody may change the answer.
func (v *view) suggest(s *floor.Seam) spec.Plan {
	p, ok := v.suggested[s.ID]
	if !ok {
		p = spec.PlanFor(s.Survey(), v.products())
		if v.suggested == nil {
			v.suggested = map[floor.SeamID]spec.Plan{}
		}
		v.suggested[s.ID] = p
	}
	return p
}

// products are the products of this shop as the rules know them.
func (v *view) products() []spec.Product {
	if v.stock == nil {
		v.stock = v.f.Sheets(v.now)
	}
	return v.stock
}

// productFor is the product that is laid, planned or suggested for a seam;
// nil when nobody has settled it.
func (v *view) productFor(s *floor.Seam) *floor.Product {
	if s.Bead != nil && s.Bead.Product != nil {
		return s.Bead.Product
	}
	if s.Plan != nil {
		return v.f.Product(s.Plan.Product, v.now)
	}
	if p := v.suggest(s); p.ProductID != "" {
		return v.f.Product(floor.ProductID(p.ProductID), v.now)
	}
	return nil
}

// beadOf is the plan of a seam, or what the rules suggest in its place.
func (v *view) beadOf(s *floor.Seam) floor.Plan {
	if s.Plan != nil {
		return *s.Plan
	}
	p := v.suggest(s)
	out := floor.Plan{
		Product: floor.ProductID(p.ProductID), Profile: p.Profile, Technique: p.Technique, Nozzle: p.Nozzle.String(),
		WidthMM: s.Reference.WidthMM, HeightMM: s.Reference.HeightMM, Cautions: p.Cautions,
	}
	for _, r := range p.Reasons {
		out.Reasons = append(out.Reasons, r.Text)
	}
	return out
}

// beadWords is what is to be laid in a few words: "heavy-bodied white,
// ribbon 25 mm".
func (v *view) beadWords(s *floor.Seam) string {
	if s.Plan == nil && s.Bead == nil && v.suggest(s).NeedsDecision {
		return "what to lay is not settled"
	}
	b := v.beadOf(s)
	parts := []string{productWords(v.productFor(s)), profileWords(b.Profile, b.WidthMM)}
	words := strings.Trim(strings.Join(parts, ", "), ", ")
	return strings.ReplaceAll(words, " mm", "\u00a0mm") // a number is never cut from its unit
}

// whyTechnique is the rule's reason for how a bead is laid.
func (v *view) whyTechnique(s *floor.Seam, t spec.Technique) string {
	p := v.suggest(s)
	if p.Technique != t {
		return ""
	}
	for _, r := range p.Reasons {
		if strings.HasPrefix(r.Rule, "technique-") {
			return r.Text
		}
	}
	return ""
}

// cautionSteps says at which steps a caution is shown, by how it begins; one
// that is not here is shown at all. Those without a step stand on every screen
// already.
var cautionSteps = []struct {
	begins string
	steps  []step
}{
	{"Gloves, eye protection", nil},
	{"The vehicle maker's repair procedure", nil},
	{"Lay only with the surface", []step{stepPlan, stepPrep, stepOpen, stepEqualise, stepOff, stepFit, stepPurge, stepBed, stepBead}},
	{"Keep the drain holes open", []step{stepPlan, stepPrep, stepBed, stepBead, stepTool, stepWax}},
	{"Remove trapped air", []step{stepBead, stepDeair}},
	{"No coat before it has flowed out", []step{stepDeair, stepFlow, stepWait}},
	{"Pull the tape", []step{stepBead, stepTool}},
	{"Brush inside", []step{stepBead, stepTool}},
	{"Lay the bead while the bed is wet", []step{stepBed, stepBead}},
	{"Let the bead set on its tape", []step{stepBed, stepBead}},
	{"Scuff and clean the cured topcoat", []step{stepPrep}},
	{"Cavity wax goes on last", []step{stepBake, stepWax}},
}

// shownAt reports whether a caution belongs to a step.
func shownAt(caution string, st step) bool {
	for _, c := range cautionSteps {
		if strings.HasPrefix(caution, c.begins) {
			return slices.Contains(c.steps, st)
		}
	}
	return true
}

// cautions are those of a seam that belong to its step and that its screen
// does not show by itself; those of the fewest steps come first, as they
// matter most to this one.
func (v *view) cautions(s *floor.Seam, st step) []string {
	all := v.beadOf(s).Cautions
	if len(all) == 0 {
		all = v.suggest(s).Cautions
	}
	return orderCautions(all, st)
}

func orderCautions(all []string, st step) []string {
	var out []string
	for _, c := range all {
		if shownAt(c, st) {
			out = append(out, c)
		}
	}
	slices.SortStableFunc(out, func(a, b string) int { return cmp.Compare(len(stepsOf(a)), len(stepsOf(b))) })
	return out
}

// stepsOf are the steps of a caution; one that is not in the table is about
// any step, and comes first.
func stepsOf(caution string) []step {
	for _, c := range cautionSteps {
		if strings.HasPrefix(caution, c.begins) {
			return c.steps
		}
	}
	return nil
}

// volume is the planned volume of a bead in millilitres: what the plan says,
// else what its section and length come to; 0 when nothing tells it.
func (v *view) volume(s *floor.Seam, b floor.Plan) float64 {
	if ml := b.Volume.ML(); ml > 0 {
		return ml
	}
	ml, err := bead.SeamVolumeML(b.Profile, b.WidthMM, b.HeightMM, s.LengthMM, b.Technique.WetBed())
	if err != nil { // a measure is not known
		return 0
	}
	return ml
}
