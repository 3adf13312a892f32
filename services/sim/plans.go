package sim

import (
	"fmt"
	"math"

	"google.golang.org/protobuf/proto"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

// The simulated technicians choose what goes on a seam by the factory's own
// bead, from a short table of their own.
var byClass = map[floorv1.SealerClass]string{
	floorv1.SealerClass_SEALER_CLASS_MEDIUM_BODIED: "mb-",
	floorv1.SealerClass_SEALER_CLASS_HEAVY_BODIED:  "hb-",
}

// thickMM is the depth from which a roof ditch takes the high-build sealer.
const thickMM = 3

// product is what a technician takes for a seam.
func (s *sim) product(m *seam) *product {
	r := m.def.GetReference()
	if r.GetClass() == floorv1.SealerClass_SEALER_CLASS_SELF_LEVELLING {
		if r.GetHeightMm() >= thickMM {
			return s.products["sl-grey-high"]
		}
		return s.products["sl-grey"]
	}
	if p := s.products[byClass[r.GetClass()]+r.GetColour()]; p != nil {
		return p
	}
	return s.products[byClass[r.GetClass()]+"grey"]
}

func technique(m *seam) floorv1.Technique {
	r := m.def.GetReference()
	switch {
	case r.GetProfile() == floorv1.Profile_PROFILE_RIPPLE:
		return floorv1.Technique_TECHNIQUE_WET_BED_THEN_BEAD
	case r.GetProfile() == floorv1.Profile_PROFILE_BRUSHED:
		return floorv1.Technique_TECHNIQUE_BRUSHED
	case r.GetClass() == floorv1.SealerClass_SEALER_CLASS_MEDIUM_BODIED:
		return floorv1.Technique_TECHNIQUE_TAPE_EDGE
	}
	return floorv1.Technique_TECHNIQUE_DIRECT_BEAD
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

func (s *sim) planSeam(t *tech, m *seam) {
	r := m.def.GetReference()
	m.plan = &jobsv1.SeamPlanned{
		SeamId: m.id, ProductId: s.product(m).id(), Profile: r.GetProfile(), WidthMm: r.GetWidthMm(), HeightMm: r.GetHeightMm(),
		Technique: technique(m), Nozzle: fmt.Sprintf("tip cut at %.0f mm", r.GetWidthMm()), VolumeMl: volume(m),
		Reasons: []string{"As the factory's bead."},
	}
	s.tell(t.person, t.terminal, live, m.plan)
}
