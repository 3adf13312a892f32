package console

import (
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/calc/bead"
	"seamwright/services/calc/spec"
	"seamwright/services/floor"
	"seamwright/services/intake"
)

// undecided is a seam whose plan a person must settle.
type undecided struct {
	Seam string   `json:"seam"`
	What []string `json:"what"`
}

// planFact plans a seam by the rules of what goes on one. What is not settled
// is not planned: the second value then says what a person must decide.
func planFact(j intake.Job, s intake.Seam, products []spec.Product) (*jobsv1.SeamPlanned, *undecided) {
	id := j.RO + "/" + s.ID
	p := spec.PlanFor(s.Spec(j.Coats), products)
	width, height, length := measure(s.WidthMM), measure(s.HeightMM), measure(s.LengthMM)
	open := p.Undecided
	if width == 0 || height == 0 || length == 0 {
		open = append(open, "width, height and length: the survey does not give them all, so the volume is not known")
	}
	var ml float64
	if len(open) == 0 {
		bed := len(p.Layers) > 1
		var err error
		if ml, err = bead.SeamVolumeML(p.Profile, width, height, length, bed); err != nil {
			open = append(open, err.Error())
		}
	}
	if p.NeedsDecision || len(open) > 0 || p.ProductID == "" || p.Technique == "" {
		return nil, &undecided{id, list(open)}
	}
	out := &jobsv1.SeamPlanned{
		SeamId: id, ProductId: p.ProductID, Profile: floor.Enum[floorv1.Profile](string(p.Profile)), WidthMm: width, HeightMm: height,
		Technique: floor.Enum[floorv1.Technique](string(p.Technique)), Nozzle: p.Nozzle.String(), VolumeMl: ml, Cautions: p.Cautions,
	}
	for _, r := range p.Reasons {
		out.Reasons = append(out.Reasons, r.Text)
	}
	return out, nil
}

// measure is a length of the survey; 0 when it is not known.
func measure(mm *float64) float64 {
	if mm == nil {
		return 0
	}
	return *mm
}
