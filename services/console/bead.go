package console

import (
	"fmt"

	"seamwright/services/calc/bead"
	"seamwright/services/calc/spec"
	"seamwright/services/fault"
)

// Bead asks what a bead takes.
type Bead struct{ Profile, WidthMM, HeightMM, LengthMM, PitchMM string }

type beadAnswer struct {
	AreaMM2  float64 `json:"area_mm2"`
	VolumeML float64 `json:"volume_ml"`
}

func (a beadAnswer) Lines() []string {
	return []string{fmt.Sprintf("section  %.2f mm²", a.AreaMM2), fmt.Sprintf("volume   %.2f ml", a.VolumeML)}
}

// Run answers.
func (q Bead) Run(o Out) error {
	profile, err := word("--profile", q.Profile, spec.Profiles())
	if err != nil {
		return err
	}
	s := bead.Section{Profile: profile}
	var length float64
	for _, f := range []struct {
		flag, text string
		most       float64
		to         *float64
	}{
		{"--width-mm", q.WidthMM, bead.MaxWidthMM, &s.WidthMM},
		{"--height-mm", q.HeightMM, bead.MaxHeightMM, &s.HeightMM},
		{"--length-mm", q.LengthMM, bead.MaxLengthMM, &length},
		{"--pitch-mm", q.PitchMM, bead.MaxPitchMM, &s.PitchMM},
	} {
		pitch := f.flag == "--pitch-mm"
		if pitch && f.text == "" && profile != spec.Ripple {
			continue
		}
		if pitch && f.text != "" && profile != spec.Ripple {
			return fault.Bad(f.flag, show(f.text), "only a ripple has a pitch; leave it out")
		}
		want := fmt.Sprintf("a number above 0 to %g mm", f.most)
		x, err := number(f.flag, f.text, want)
		if err != nil {
			return err
		}
		if !(x > 0 && x <= f.most) {
			return fault.Bad(f.flag, show(f.text), want)
		}
		*f.to = x
	}
	area, err := s.AreaMM2()
	if err != nil {
		return err
	}
	volume, err := bead.VolumeML(area, length)
	if err != nil {
		return err
	}
	return o.put(beadAnswer{area, volume})
}
