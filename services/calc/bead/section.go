// Package bead reckons what a bead takes: its cross-section by profile, the
// volume of a seam with and without a wet bed, what is lost in nozzles, and
// the cartridges that it comes to.
//
// Lengths are in mm, areas in mm², volumes in ml (1 ml = 1000 mm³). The
// shapes are those of plane geometry; that a bead is near enough such a shape
// is common practice, no source.
package bead

import (
	"fmt"
	"math"

	"seamwright/services/calc/spec"
	"seamwright/services/fault"
)

// What a bead may measure, each above 0. Wide enough for anything on a
// vehicle, narrow enough to catch a slipped point.
const (
	MaxWidthMM  = 1000.0
	MaxHeightMM = 1000.0
	MaxLengthMM = 1e6
	MaxPitchMM  = 10000.0
)

// The widths in mm that a spreader nozzle is cut to for a ribbon. Common
// practice, no source.
const (
	MinRibbonMM = spec.MinRibbonMM
	MaxRibbonMM = spec.MaxRibbonMM
)

// Section is a bead across its length.
type Section struct {
	Profile  spec.Profile
	WidthMM  float64 // of a fillet one leg
	HeightMM float64 // of a fillet the other leg, of a levelled bead its depth, of a ripple its crests
	PitchMM  float64 // of a ripple from crest to crest; 0 elsewhere
}

// AreaMM2 is the area of the section in mm²; of a ripple the mean over its
// pitch. Errors are faults of kind Invalid: an unknown profile, a measure out
// of range, a pitch missing or too many, a round bead higher than half its
// width.
func (s Section) AreaMM2() (float64, error) {
	if err := s.checkPitch(); err != nil {
		return 0, err
	}
	return area(s.Profile, s.WidthMM, s.HeightMM)
}

func (s Section) checkPitch() error {
	switch ripple := s.Profile == spec.Ripple; {
	case ripple && s.PitchMM == 0:
		return fault.Bad("pitch_mm", "missing", "a ripple has a pitch; measure from crest to crest")
	case !ripple && s.PitchMM != 0:
		return fault.Bad("pitch_mm", s.PitchMM, "only a ripple has a pitch; leave it out")
	case ripple:
		return positive("pitch_mm", s.PitchMM, MaxPitchMM, "mm")
	}
	return nil
}

// area is the section's area. The mean of a ripple over whole pitches does
// not depend on the pitch.
func area(p spec.Profile, w, h float64) (float64, error) {
	if _, err := spec.Word("profile", string(p), spec.Profiles()); err != nil {
		return 0, err
	}
	if err := positive("width_mm", w, MaxWidthMM, "mm"); err != nil {
		return 0, err
	}
	if err := positive("height_mm", h, MaxHeightMM, "mm"); err != nil {
		return 0, err
	}
	switch p {
	case spec.Ribbon, spec.Brushed, spec.Levelled:
		return w * h, nil
	case spec.Fillet, spec.Step: // triangle of two legs; wedge along a hem
		return w * h / 2, nil
	}
	if h > w/2 { // round and ripple
		return 0, fault.Bad("height_mm", h, fmt.Sprintf(
			"at most half the width, %g mm, for a %s bead; measure again or take another profile", w/2, p))
	}
	if p == spec.Round {
		return segment(w, h), nil
	}
	return meanRipple(w, h), nil
}

// segment is the area of a circular segment of chord w and rise h, h <= w/2
// (half a circle at equality): r²(φ - sin φ cos φ) with half its angle φ =
// 2 atan(2h/w) and r = (w² + 4h²)/(8h). Plane geometry, as in Machinery's
// Handbook, 31st edition, page 79.
func segment(w, h float64) float64 {
	phi := 2 * math.Atan(2*h/w)
	r := radius(w, h)
	return r * r * sliver(2*phi)
}

// radius of the circle whose chord w has the rise h.
func radius(w, h float64) float64 { return (w*w + 4*h*h) / (8 * h) }

// sliver is (u - sin u)/2: the area of a segment of angle u in a circle of
// radius 1. For a flat one the difference would lose its digits, so its
// series is summed: u³/12 (1 - u²/20 (1 - u²/42 (...))).
func sliver(u float64) float64 {
	if u > 0.5 {
		return (u - math.Sin(u)) / 2
	}
	q := u * u
	return u * q / 12 * (1 - q/20*(1-q/42*(1-q/72*(1-q/110*(1-q/156)))))
}

// meanRipple is the mean area of a segment whose rise swings between h/2 and
// h as a sine. Equal steps over a whole period of so smooth a function come
// to the full precision with few of them.
func meanRipple(w, h float64) float64 {
	const steps = 64
	sum := 0.0
	for i := range steps {
		sum += segment(w, h*(0.75+0.25*math.Sin(2*math.Pi*float64(i)/steps)))
	}
	return sum / steps
}

// positive refuses what is not above 0 and at most most.
func positive(field string, x, most float64, unit string) error {
	if x > 0 && x <= most {
		return nil
	}
	return fault.Bad(field, x, fmt.Sprintf("above 0 to %g %s; measure again", most, unit))
}

// notNegative refuses what is not from 0 to most.
func notNegative(field string, x, most float64, unit string) error {
	if x >= 0 && x <= most {
		return nil
	}
	return fault.Bad(field, x, fmt.Sprintf("from 0 to %g %s; correct it", most, unit))
}

// RibbonNote says what is odd about a ribbon's width; empty for a usual width
// and for every other profile.
func RibbonNote(p spec.Profile, widthMM float64) string {
	if p != spec.Ribbon || widthMM >= MinRibbonMM && widthMM <= MaxRibbonMM {
		return ""
	}
	return fmt.Sprintf("a spreader nozzle is cut to %g to %g mm (%g to %g in), this ribbon is %.4g mm (%.2f in) wide: lay it in passes or with another tip (common practice, no source)",
		MinRibbonMM, MaxRibbonMM, MinRibbonMM/25.4, MaxRibbonMM/25.4, widthMM, widthMM/25.4)
}
