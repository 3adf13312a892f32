package feed

import (
	"seamwright/services/calc/bead"
	"seamwright/services/floor"
)

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
