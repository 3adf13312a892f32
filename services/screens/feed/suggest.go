package feed

import (
	"strings"

	"seamwright/services/calc/spec"
	"seamwright/services/floor"
)

// suggest is what the rules would lay on a seam with the products of this
// shop.
func (v *view) suggest(s *floor.Seam) spec.Plan {
	var products []spec.Product
	for _, id := range v.f.Products() {
		if p := v.f.Product(id, v.now); p != nil {
			products = append(products, p.Spec)
		}
	}
	return spec.PlanFor(spec.Seam{
		Place: s.Place, Orientation: s.Orientation, Finish: s.Finish, Substrate: s.Substrate, Reference: s.Reference,
		DrainHoles: s.DrainHoles, FirstCoat: s.FirstCoat(), Procedure: s.Procedure,
	}, products)
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
	b := v.beadOf(s)
	parts := []string{productWords(v.productFor(s)), profileWords(b.Profile, b.WidthMM)}
	return strings.Trim(strings.Join(parts, ", "), ", ")
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

// generalCautions stand on every screen already.
var generalCautions = []string{"Gloves, eye protection", "The vehicle maker's repair procedure"}

// cautions are those of a seam that its screen does not show by itself.
func (v *view) cautions(s *floor.Seam) []string {
	all := v.beadOf(s).Cautions
	if len(all) == 0 {
		all = v.suggest(s).Cautions
	}
	var out []string
	for _, c := range all {
		general := false
		for _, g := range generalCautions {
			general = general || strings.HasPrefix(c, g)
		}
		if !general {
			out = append(out, c)
		}
	}
	return out
}
