package cure

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// Whatever passes validation gets an answer that is a number.
func TestNothingValidBreaksTheReckoning(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		lo := rapid.Float64Range(minReadingC, maxReadingC-1).Draw(rt, "lo")
		z := Zone{
			Limits:      Set{lo, rapid.Float64Range(lo+1e-6, maxReadingC).Draw(rt, "hi")},
			ProbeErrorC: rapid.Float64Range(0, 50).Draw(rt, "e"),
			DriftPerMin: rapid.Float64Range(0, 100).Draw(rt, "d"),
			StaleAfter:  time.Duration(rapid.Int64Range(1, int64(7*24*time.Hour)).Draw(rt, "stale")),
		}
		c := must(NewCourse(z))
		at := minTime.Add(time.Duration(rapid.Int64Range(0, int64(200*365*24*time.Hour)).Draw(rt, "start")))
		for range rapid.IntRange(0, 6).Draw(rt, "n") {
			at = at.Add(time.Duration(rapid.Int64Range(1, int64(72*time.Hour)).Draw(rt, "gap")))
			must(c.Append(Reading{
				At: at, C: rapid.Float64Range(minReadingC, maxReadingC).Draw(rt, "c"),
				ExtraErrorC: rapid.Float64Range(0, 50).Draw(rt, "extra"),
			}))
		}
		low := rapid.Float64Range(minStatedJ, maxStatedJ).Draw(rt, "low")
		law := must(NewBand(low, rapid.Float64Range(low, maxStatedJ).Draw(rt, "high"), rapid.Float64Range(minLawC, maxLawC).Draw(rt, "ref")))
		if rapid.Bool().Draw(rt, "hasMin") {
			law = must(law.WithMinTemp(rapid.Float64Range(minLawC, maxLawC).Draw(rt, "min")))
		}
		clock := Clock{
			Kind: rapid.SampledFrom([]Kind{Ready, Expiry}).Draw(rt, "kind"), Law: law,
			From:      at.Add(-time.Duration(rapid.Int64Range(0, int64(100*time.Hour)).Draw(rt, "ago"))),
			Needed:    time.Duration(rapid.Int64Range(0, int64(1000*time.Hour)).Draw(rt, "needed")),
			Tolerance: rapid.Float64Range(0, 0.999).Draw(rt, "tolerance"),
		}
		if clock.Validate() != nil {
			return // begun before 1970
		}
		now := at.Add(time.Duration(rapid.Int64Range(0, int64(50*time.Hour)).Draw(rt, "now")))
		v := Judge(c, clock, now)
		for what, x := range map[string]float64{"cold": v.AgeColdS, "hot": v.AgeHotS, "nominal": v.AgeNominalS} {
			if !(x >= 0) || math.IsInf(x, 0) {
				rt.Fatalf("%s age %v", what, x)
			}
		}
		if v.AgeColdS > v.AgeHotS*(1+1e-9)+1e-6 {
			rt.Fatalf("cold age %v above hot age %v", v.AgeColdS, v.AgeHotS)
		}
		for what, due := range map[string]time.Time{"cold": v.DueCold, "hot": v.DueHot, "nominal": v.DueNominal} {
			if !due.IsZero() && (due.Before(clock.From) || due.After(maxTime)) {
				rt.Fatalf("%s due %v", what, due)
			}
		}
		k := NewKeeper[int](c)
		if err := k.Begin(1, law, Cold, clock.From, clock.Target(Cold)); err != nil {
			rt.Fatal(err)
		}
		// A steep law after a hot bake swamps small amounts in the sums; even
		// then nothing is told early.
		if fell := len(k.Advance(now).Fallen) == 1; fell && !enough(v.AgeColdS, clock.Target(Cold)) {
			rt.Fatalf("keeper is early: age %v of %v", v.AgeColdS, clock.Target(Cold))
		}
	})
}
