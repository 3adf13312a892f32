package sim

import (
	"math"

	"google.golang.org/protobuf/proto"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/calc/spec"
)

// byClass begins the identifiers of the shop's products by class.
var byClass = map[floorv1.SealerClass]string{
	floorv1.SealerClass_SEALER_CLASS_MEDIUM_BODIED: "mb-",
	floorv1.SealerClass_SEALER_CLASS_HEAVY_BODIED:  "hb-",
}

// surveyed is a seam as the rules of what goes on it see it.
func surveyed(m *seam) spec.Seam {
	r := m.def.GetReference()
	out := spec.Seam{
		Place: m.def.GetPlace(), Orientation: spec.Orientation(term(m.def.GetOrientation())),
		Finish: spec.Finish(term(m.def.GetFinish())), Substrate: spec.Substrate(term(m.def.GetSubstrate())),
		Reference: spec.Reference{
			Source: spec.ReferenceSource(term(r.GetSource())), Class: spec.Class(term(r.GetClass())),
			Profile: spec.Profile(term(r.GetProfile())), Colour: r.GetColour(), Lab: labOf(r.GetLab()),
			WidthMM: r.GetWidthMm(), HeightMM: r.GetHeightMm(),
		},
	}
	if !m.exposed() {
		out.FirstCoat = spec.Coat(term(m.job.coat()))
	}
	return out
}

func labOf(l *floorv1.Lab) *spec.Lab {
	if l == nil {
		return nil
	}
	return &spec.Lab{L: l.GetL(), A: l.GetA(), B: l.GetB()}
}

// sheets are the shop's products as the rules see them.
func (s *sim) sheets() []spec.Product {
	var out []spec.Product
	for _, id := range sortedNames(s.products) {
		d := s.products[id].def
		p := spec.Product{
			ID: id, Name: d.GetName(), Class: spec.Class(term(d.GetClass())), Build: spec.Build(term(d.GetBuild())),
			Colour: d.GetColour(), Lab: labOf(d.GetLab()),
		}
		for _, on := range d.GetSubstrates() {
			p.Substrates = append(p.Substrates, spec.Substrate(term(on)))
		}
		out = append(out, p)
	}
	return out
}

// product is what a technician takes for a seam: what the rules choose, or,
// where they leave it open, the class's grey.
func (s *sim) product(m *seam, p spec.Plan) *product {
	if chosen := s.products[p.ProductID]; chosen != nil {
		return chosen
	}
	class := m.def.GetReference().GetClass()
	if class == floorv1.SealerClass_SEALER_CLASS_SELF_LEVELLING {
		return s.products["sl-grey"]
	}
	return s.products[byClass[class]+"grey"]
}

// technique is how the rules have a seam's bead laid; which sealers are on
// the shelf does not matter to it.
func technique(m *seam) floorv1.Technique {
	return valued[floorv1.Technique](string(spec.PlanFor(surveyed(m), nil).Technique))
}

// mostML is the most that one seam takes: no seam empties a whole cartridge.
const mostML = 150

// volume is about what a bead takes, with a little for waste; in tenths of a
// millilitre.
func volume(m *seam) float64 {
	r := m.def.GetReference()
	w, h := r.GetWidthMm(), r.GetHeightMm()
	if w == 0 || h == 0 {
		w, h = 8, 2.5
	}
	ml := 0.7 * w * h * m.def.GetLengthMm() / 1000
	return math.Round(10*math.Max(5, math.Min(ml, mostML))) / 10
}

// plan says what is to be laid on each seam. What was hidden until tear-down
// is surveyed again first, from the other side.
func (s *sim) planJob(p *proc, t *tech, j *job) {
	for _, m := range j.seams {
		if m.def.GetReference().GetClass() == floorv1.SealerClass_SEALER_CLASS_UNSPECIFIED {
			s.uncover(t, m)
			p.wait(s.minutes(0.3, 1))
		}
	}
	for _, m := range j.seams {
		if m.plan != nil {
			continue // planned and laid before the rest
		}
		s.planSeam(t, m)
		p.wait(s.minutes(0.1, 0.4))
	}
}

func (s *sim) uncover(t *tech, m *seam) {
	b := proto.CloneOf(m.def)
	b.Substrate = floorv1.Substrate_SUBSTRATE_E_COAT
	b.Orientation = floorv1.Orientation_ORIENTATION_VERTICAL
	b.Hidden = true
	colour := "grey"
	if m.exposed() {
		colour = "black"
	}
	b.Reference = &floorv1.Reference{
		Source: floorv1.ReferenceSource_REFERENCE_SOURCE_OTHER_SIDE, Class: floorv1.SealerClass_SEALER_CLASS_HEAVY_BODIED,
		Profile: floorv1.Profile_PROFILE_ROUND, Colour: colour, Lab: s.products["hb-"+colour].def.GetLab(), WidthMm: 8, HeightMm: 2.5,
	}
	s.tell(t.person, t.terminal, live, b)
	m.def = b
}

// planSeam plans as a person does who follows what the rules suggest.
func (s *sim) planSeam(t *tech, m *seam) {
	r := m.def.GetReference()
	p := spec.PlanFor(surveyed(m), s.sheets())
	m.plan = &jobsv1.SeamPlanned{
		SeamId: m.id, ProductId: s.product(m, p).id(), Profile: valued[floorv1.Profile](string(p.Profile)),
		WidthMm: r.GetWidthMm(), HeightMm: r.GetHeightMm(),
		Technique: technique(m), Nozzle: p.Nozzle.String(), VolumeMl: volume(m), Cautions: p.Cautions,
	}
	for _, why := range p.Reasons {
		m.plan.Reasons = append(m.plan.Reasons, why.Text)
	}
	s.tell(t.person, t.terminal, live, m.plan)
}
