package bead

import (
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
	"pgregory.net/rapid"

	"seamwright/services/calc/spec"
	"seamwright/services/fault"
)

// The twin of the segment: heights of the arc over its chord, added up.
func byStrips(w, h float64) float64 {
	r := (w*w + 4*h*h) / (8 * h)
	// x = sin turns the vertical ends of a half-round into smooth ones.
	return quad.Fixed(func(u float64) float64 {
		x := w / 2 * math.Sin(u)
		return (math.Sqrt(math.Max(0, r*r-x*x)) - (r - h)) * w / 2 * math.Cos(u)
	}, -math.Pi/2, math.Pi/2, 200, nil, 0)
}

func TestSegmentAgreesWithStrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := rapid.Float64Range(1, 50).Draw(t, "w")
		h := w / 2 * rapid.Float64Range(0.01, 1).Draw(t, "rise")
		got, want := must(Section{Profile: spec.Round, WidthMM: w, HeightMM: h}.AreaMM2()), byStrips(w, h)
		if math.Abs(got-want) > 1e-9*want {
			t.Fatalf("%g by %g: %v, by strips %v", w, h, got, want)
		}
	})
}

// A flat segment is a parabola's, two thirds of its rectangle, with the next
// term h/w squared smaller (series of plane geometry).
func TestFlatSegments(t *testing.T) {
	for _, h := range []float64{1e-8, 1e-5, 1e-3, 0.01} {
		got, want := segment(10, h), 2.0/3*10*h*(1+0.8*h*h/100)
		if math.Abs(got-want) > want*(1e-14+1e-2*h*h*h*h) {
			t.Errorf("height %g: %.17g, want %.17g", h, got, want)
		}
	}
	// Both ways to sum a sliver meet where one takes over.
	near(t, "sliver", sliver(0.5), (0.5-math.Sin(0.5))/2, 1e-16)
}

func TestRippleIsTheMeanOfItsPitch(t *testing.T) {
	for _, s := range [][2]float64{{12, 6}, {12, 2}, {20, 0.5}, {7, 3.5}} {
		got := must(Section{Profile: spec.Ripple, WidthMM: s[0], HeightMM: s[1], PitchMM: 9}.AreaMM2())
		// Along one pitch, by another rule and the other reckoning of a segment.
		want := quad.Fixed(func(x float64) float64 {
			return byStrips(s[0], s[1]*(0.75+0.25*math.Sin(2*math.Pi*x/9)))
		}, 0, 9, 60, nil, 0) / 9
		near(t, "ripple", got, want, 1e-8*want)
		low, high := segment(s[0], s[1]/2), segment(s[0], s[1])
		if !(got > low && got < high) {
			t.Errorf("%v: mean %g outside %g to %g", s, got, low, high)
		}
	}
}

func TestSectionsByHand(t *testing.T) {
	for profile, want := range map[spec.Profile]float64{
		spec.Ribbon: 30, spec.Brushed: 30, spec.Levelled: 30, spec.Fillet: 15, spec.Step: 15,
	} {
		near(t, string(profile), must(Section{Profile: profile, WidthMM: 10, HeightMM: 3}.AreaMM2()), want, 0)
		v := must(SeamVolumeML(profile, 10, 3, 1400, false))
		near(t, string(profile)+" volume", v, want*1.4, 1e-12)
		near(t, string(profile)+" with its bed", must(SeamVolumeML(profile, 10, 3, 1400, true)), v+14, 1e-12)
	}
	if len(spec.Profiles()) != 7 {
		t.Errorf("%d profiles, this test and the ones for round and ripple know 7", len(spec.Profiles()))
	}
	for _, p := range spec.Profiles() {
		if v, err := SeamVolumeML(p, 10, 3, 1400, false); err != nil || !(v > 0) {
			t.Errorf("%s: %v %v", p, v, err)
		}
	}
}

func TestRefusedSections(t *testing.T) {
	nan := math.NaN()
	for what, c := range map[string]struct {
		s     Section
		field string
	}{
		"no profile":        {Section{"", 10, 3, 0}, "profile"},
		"unknown profile":   {Section{"oval", 10, 3, 0}, "profile"},
		"no width":          {Section{spec.Ribbon, 0, 3, 0}, "width_mm"},
		"width not finite":  {Section{spec.Ribbon, math.Inf(1), 3, 0}, "width_mm"},
		"width not known":   {Section{spec.Ribbon, nan, 3, 0}, "width_mm"},
		"negative height":   {Section{spec.Fillet, 10, -3, 0}, "height_mm"},
		"height not known":  {Section{spec.Fillet, 10, nan, 0}, "height_mm"},
		"too high":          {Section{spec.Round, 10, 5.0001, 0}, "height_mm"},
		"ripple too high":   {Section{spec.Ripple, 10, 5.0001, 20}, "height_mm"},
		"ripple no pitch":   {Section{spec.Ripple, 10, 4, 0}, "pitch_mm"},
		"ripple bad pitch":  {Section{spec.Ripple, 10, 4, -1}, "pitch_mm"},
		"ripple long pitch": {Section{spec.Ripple, 10, 4, 1e5}, "pitch_mm"},
		"ripple odd pitch":  {Section{spec.Ripple, 10, 4, nan}, "pitch_mm"},
		"pitch elsewhere":   {Section{spec.Round, 10, 4, 20}, "pitch_mm"},
		"odd pitch":         {Section{spec.Round, 10, 4, nan}, "pitch_mm"},
	} {
		a, err := c.s.AreaMM2()
		if err == nil || fault.KindOf(err) != fault.Invalid || !strings.HasPrefix(err.Error(), c.field+": ") {
			t.Errorf("%s: %v %v", what, a, err)
		}
	}
	if a, err := (Section{Profile: spec.Round, WidthMM: 12.7, HeightMM: 6.35}).AreaMM2(); err != nil {
		t.Errorf("half-round: %v %v", a, err)
	}
	for _, length := range []float64{0, -1, nan, MaxLengthMM * 1.01} {
		if v, err := SeamVolumeML(spec.Round, 10, 4, length, false); err == nil {
			t.Errorf("length %v: %v", length, v)
		}
	}
}

func TestVolumeGrowsWithEachDimension(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SampledFrom(spec.Profiles()).Draw(t, "profile")
		w := rapid.Float64Range(2, 50).Draw(t, "width")
		h := w / 2 * rapid.Float64Range(0.01, 0.9).Draw(t, "height")
		l := rapid.Float64Range(10, 5000).Draw(t, "length")
		bed := rapid.Bool().Draw(t, "bed")
		more := rapid.Float64Range(1.001, 1.1).Draw(t, "more")
		v := must(SeamVolumeML(p, w, h, l, bed))
		for what, bigger := range map[string]float64{
			"wider":  must(SeamVolumeML(p, w*more, h, l, bed)),
			"higher": must(SeamVolumeML(p, w, h*more, l, bed)),
			"longer": must(SeamVolumeML(p, w, h, l*more, bed)),
		} {
			if !(bigger > v) {
				t.Fatalf("%s %s: %v after %v", p, what, bigger, v)
			}
		}
		if with := must(SeamVolumeML(p, w, h, l, true)); bed == (with > v) {
			t.Fatalf("with its bed %v, was %v", with, v)
		}
		twice := must(SeamVolumeML(p, w, h, 2*l, bed))
		if math.Abs(twice-2*v) > 1e-9*v {
			t.Fatalf("twice as long: %v, once %v", twice, v)
		}
	})
}

func TestRibbonWidths(t *testing.T) {
	for w, odd := range map[float64]bool{12.7: false, 25: false, 38.1: false, 12.6: true, 38.2: true} {
		if note := RibbonNote(spec.Ribbon, w); (note != "") != odd {
			t.Errorf("%g mm: %q", w, note)
		}
	}
	if note := RibbonNote(spec.Round, 6); note != "" {
		t.Errorf("a round bead: %q", note)
	}
}
