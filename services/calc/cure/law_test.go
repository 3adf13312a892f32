package cure

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"seamwright/services/fault"
)

func TestABandTakesTheSafeEndOnEachSide(t *testing.T) {
	l := must(NewBand(45e3, 60e3, 21))
	slow, fast := must(NewLaw(45e3, 21)), must(NewLaw(60e3, 21))
	mid := must(NewLaw(52.5e3, 21))
	for _, c := range []float64{-5, 10, 20.9, 21, 21.1, 40, 80} {
		lo := math.Min(slow.Rate(c, Cold), fast.Rate(c, Cold))
		hi := math.Max(slow.Rate(c, Hot), fast.Rate(c, Hot))
		near(t, "cold", l.Rate(c, Cold), lo, 0)
		near(t, "hot", l.Rate(c, Hot), hi, 0)
		near(t, "nominal", l.Rate(c, Nominal), mid.Rate(c, Nominal), 0)
	}
	near(t, "at the reference", l.Rate(21, Cold), 1, 0)
}

func TestBelowTheLeastTemperature(t *testing.T) {
	l := must(must(NewLaw(52e3, 21)).WithMinTemp(10))
	for _, x := range []struct {
		c                  float64
		cold, hot, nominal bool
	}{{9.99, false, true, false}, {10, true, true, true}, {10.1, true, true, true}, {-40, false, true, false}} {
		for side, runs := range map[Side]bool{Cold: x.cold, Hot: x.hot, Nominal: x.nominal} {
			if got := l.Rate(x.c, side) > 0; got != runs {
				t.Errorf("%s at %g °C runs: %v, want %v", side, x.c, got, runs)
			}
		}
	}
	// 10.7 - 0.7 is not exactly 10 in binary, but it is warm enough.
	edge := 10.3 - 0.1 - 0.1 - 0.1
	if l.Rate(edge, Cold) == 0 {
		t.Errorf("%.17g °C counts as below 10", edge)
	}
}

func TestLawsAreRefusedWithTheirLimits(t *testing.T) {
	ok := must(NewLaw(52e3, 21))
	bad := func(what string, err error) {
		t.Helper()
		if err == nil || fault.KindOf(err) != fault.Invalid {
			t.Errorf("%s: error %v, want an invalid field", what, err)
		}
	}
	e := func(_ Law, err error) error { return err }
	nan := math.NaN()
	bad("no energy", e(NewLaw(0, 21)))
	bad("NaN energy", e(NewLaw(nan, 21)))
	bad("too much energy", e(NewLaw(501e3, 21)))
	bad("band turned over", e(NewBand(60e3, 45e3, 21)))
	bad("NaN reference", e(NewLaw(52e3, nan)))
	bad("reference in kelvin", e(NewLaw(52e3, 294)))
	bad("doubling in 0 K", e(NewDoubling(0, 21)))
	bad("doubling in 0.5 K", e(NewDoubling(0.5, 21)))
	bad("least temperature NaN", e(ok.WithMinTemp(nan)))
	bad("least temperature in kelvin", e(ok.WithMinTemp(283)))
	if !(Law{}).IsZero() || ok.IsZero() {
		t.Error("zero law mistaken")
	}
}

// Every straight piece is compared with 200,000 steps of Simpson's rule,
// which is exact to about 1e-12 here, broken at the same two temperatures.
func TestPiecesAreIntegratedToTheLastDigits(t *testing.T) {
	simpson := func(l Law, side Side, dt, c0, c1 float64) float64 {
		cuts, n := l.cuts(side, c0, c1)
		var sum float64
		for i := 1; i < n; i++ {
			const steps = 100_000
			u, w := cuts[i-1], cuts[i]-cuts[i-1]
			mid := c0 + (c1-c0)*(u+w/2)
			var s float64
			for k := range steps + 1 {
				f := l.smooth(side, c0+(c1-c0)*(u+w*float64(k)/steps), mid)
				switch {
				case k == 0 || k == steps:
					s += f
				case k%2 == 1:
					s += 4 * f
				default:
					s += 2 * f
				}
			}
			sum += s * dt * w / steps / 3
		}
		return sum
	}
	band := must(must(NewBand(45e3, 60e3, 21)).WithMinTemp(10))
	steep := must(NewLaw(200e3, 21))
	for _, p := range [][2]float64{{20, 20.01}, {18, 22}, {5, 35}, {35, 5}, {-20, 80}, {9, 11}, {20, 20}} {
		for _, l := range []Law{band, steep} {
			for _, side := range []Side{Cold, Hot, Nominal} {
				got, want := l.over(side, 3600, p[0], p[1]), simpson(l, side, 3600, p[0], p[1])
				near(t, side.String(), got, want, 1e-10*want)
			}
		}
	}
}

func TestReachUndoesOver(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		l := drawLaw(rt)
		side := rapid.SampledFrom([]Side{Cold, Hot, Nominal}).Draw(rt, "side")
		dt := rapid.Float64Range(1, 1e5).Draw(rt, "dt")
		c0, c1 := rapid.Float64Range(-20, 80).Draw(rt, "c0"), rapid.Float64Range(-20, 80).Draw(rt, "c1")
		whole := l.over(side, dt, c0, c1)
		amount := whole * rapid.Float64Range(0, 1).Draw(rt, "share")
		at := l.reach(side, dt, c0, c1, amount)
		if at < 0 || at > dt {
			rt.Fatalf("reached at %v of %v", at, dt)
		}
		if got := l.over(side, at, c0, c0+(c1-c0)*at/dt); math.Abs(got-amount) > 1e-9*whole+1e-9 {
			rt.Fatalf("age at %v is %v, want %v", at, got, amount)
		}
	})
}
