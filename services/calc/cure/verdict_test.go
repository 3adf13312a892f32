package cure

import (
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// thirty is a stage of 30 minutes at 20 °C with a tolerance of 10 percent.
func thirty(k Kind) Clock {
	return Clock{Kind: k, Law: plainLaw(), From: t0, Needed: 30 * time.Minute, Tolerance: 0.1}
}

func sameTime(t testing.TB, what string, got time.Time, want time.Time) {
	t.Helper()
	if got.Sub(want).Abs() > time.Microsecond {
		t.Errorf("%s = %v, want %v", what, got, want)
	}
}

// In a room that is exactly at the reference temperature ages are minutes.
func TestVerdictAtTheReferenceTemperature(t *testing.T) {
	c := courseOf(t, still(), [2]float64{-10, 20}, [2]float64{40, 20})
	for _, x := range []struct {
		at      float64
		ready   Reached
		settled Reached // expiry, as of then: the last reading is at -10 min
	}{{10, No, No}, {26.9, No, No}, {27, Maybe, Maybe}, {32.9, Maybe, Maybe}, {33, Yes, Maybe}, {40, Yes, Yes}} {
		v := Judge(c, thirty(Ready), minute(x.at))
		if v.Reached != x.ready {
			t.Errorf("ready at %g min: %v, want %v", x.at, v.Reached, x.ready)
		}
		sameTime(t, "due hot", v.DueHot, minute(27))
		sameTime(t, "due nominal", v.DueNominal, minute(30))
		sameTime(t, "due cold", v.DueCold, minute(33))
		near(t, "age cold", v.AgeColdS, x.at*60, 1e-9)
		near(t, "age hot", v.AgeHotS, x.at*60, 1e-9)
		near(t, "age nominal", v.AgeNominalS, x.at*60, 1e-9)
		near(t, "progress", v.Progress(), math.Min(1, x.at/33), 1e-12)
		if v := Judge(c, thirty(Expiry), minute(x.at)); v.Reached != x.settled {
			t.Errorf("expiry at %g min: %v, want %v", x.at, v.Reached, x.settled)
		}
	}
	// With hindsight the later reading changes nothing about the ages, and
	// the last reading not after 30 min is still the one at -10.
	if v := JudgeHindsight(c, thirty(Expiry), minute(30)); v.Reached != Maybe {
		t.Errorf("expiry with hindsight: %v, want maybe", v.Reached)
	}
}

// The forecast moves the edges out by drift times half the longest gap of the
// last hour. By hand: readings of 20 °C, error 0.5 K, drift 0.2 K a minute.
func TestForecastEdges(t *testing.T) {
	edge := func(c *Course, at, lo, hi float64) {
		t.Helper()
		f := c.AsOf(minute(at)).Ahead(minute(at))
		if len(f) != 1 {
			t.Fatalf("forecast %v", f)
		}
		sameSet(t, "forecast", f[0].Set, lo, hi)
	}
	// Gaps of 10 and 6 min: g = 10, moved out by 1 K.
	c := courseOf(t, bay(), [2]float64{0, 20}, [2]float64{10, 20}, [2]float64{16, 20})
	edge(c, 16, 18.5, 21.5)
	// Two minutes later the cone has grown by 0.4 K as well.
	edge(c, 18, 18.1, 21.9)
	// One reading, or one only within the hour: g = 15, moved out by 1.5 K.
	edge(c, 5, 17, 23) // 19.5 - 0.2*5 - 1.5
	edge(c, 71, 7, 33) // 19.5 - 0.2*55 - 1.5
	// A gap of 40 min counts as 15.
	c = courseOf(t, bay(), [2]float64{0, 20}, [2]float64{40, 20})
	edge(c, 40, 18, 22)
	// Exactly an hour ago is still within the hour; a minute later it is not.
	c = courseOf(t, bay(), [2]float64{0, 20}, [2]float64{4, 20}, [2]float64{6, 20})
	edge(c, 60, 8.3, 31.7) // 19.5 - 0.2*54 - 0.2*4/2
	edge(c, 62, 8.1, 31.9) // gap of 2 min: 19.5 - 0.2*56 - 0.2
	// The limits stop it, but never pull an edge in.
	c = courseOf(t, bay(), [2]float64{0, 5.5})
	edge(c, 0, 5, 7.5)
	c = courseOf(t, bay(), [2]float64{0, 2})
	edge(c, 0, 1.5, 4)
	// No reading at all.
	edge(courseOf(t, bay()), 0, 5, 35)
}

func TestAStageOfNoMinutes(t *testing.T) {
	l := must(plainLaw().WithMinTemp(15))
	for _, c := range []*Course{courseOf(t, bay()), courseOf(t, bay(), [2]float64{-5, 8})} {
		for _, kind := range []Kind{Ready, Expiry} {
			v := Judge(c, Clock{Kind: kind, Law: l, From: t0}, minute(3))
			if v.Reached != Yes || v.Progress() != 1 {
				t.Errorf("%v: %v, progress %v", kind, v.Reached, v.Progress())
			}
			for _, due := range []time.Time{v.DueCold, v.DueHot, v.DueNominal} {
				sameTime(t, "due", due, t0)
			}
		}
	}
}

func TestNeverAndUnknown(t *testing.T) {
	l := must(plainLaw().WithMinTemp(15))
	clock := Clock{Kind: Ready, Law: l, From: t0, Needed: 30 * time.Minute}
	v := Judge(courseOf(t, still(), [2]float64{0, 12}), clock, minute(5))
	if !v.DueCold.IsZero() || !v.DueNominal.IsZero() || v.DueHot.IsZero() {
		t.Errorf("too cold: due cold %v, nominal %v, hot %v", v.DueCold, v.DueNominal, v.DueHot)
	}
	if v.AgeColdS != 0 || v.AgeNominalS != 0 || !v.NominalKnown || !slices.Equal(v.Why, []string{WhyTooCold}) {
		t.Errorf("too cold: %+v", v)
	}
	v = Judge(courseOf(t, bay()), clock, minute(5))
	if v.NominalKnown || !v.DueNominal.IsZero() || !slices.Equal(v.Why, []string{WhyNoReading, WhyTooCold}) {
		t.Errorf("no reading: %+v", v)
	}
	// Before the first reading the hot age runs at the upper limit.
	near(t, "hot age", v.AgeHotS, 300*l.Rate(35, Hot), 1e-9)
	// Only what was known then counts.
	c := courseOf(t, still(), [2]float64{0, 20}, [2]float64{20, 20})
	if v := Judge(c, clock, minute(16)); !slices.Equal(v.Why, []string{WhyStale}) {
		t.Errorf("stale: %v", v.Why)
	}
	if v := JudgeHindsight(c, clock, minute(16)); !slices.Equal(v.Why, []string{WhyStale}) {
		t.Errorf("stale with hindsight: %v", v.Why)
	}
}

func TestAClockThatIsNotValidHolds(t *testing.T) {
	c := courseOf(t, still(), [2]float64{0, 20})
	good := thirty(Expiry)
	if err := good.Validate(); err != nil {
		t.Fatal(err)
	}
	if !SurelyOpenUntil(c, good, minute(1), minute(20)) || SurelyOpenUntil(c, good, minute(1), minute(27)) {
		t.Error("a valid clock is open up to 27 minutes")
	}
	for what, spoil := range map[string]func(*Clock){
		"kind":      func(c *Clock) { c.Kind = 0 },
		"law":       func(c *Clock) { c.Law = Law{} },
		"needed":    func(c *Clock) { c.Needed = -1 },
		"tolerance": func(c *Clock) { c.Tolerance = 1 },
		"NaN":       func(c *Clock) { c.Tolerance = math.NaN() },
		"from":      func(c *Clock) { c.From = time.Time{} },
	} {
		bad := good
		spoil(&bad)
		if bad.Validate() == nil {
			t.Errorf("%s: valid", what)
		}
		if v := Judge(c, bad, minute(1)); v.Reached != Maybe || !slices.Equal(v.Why, []string{WhyBadClock}) {
			t.Errorf("%s: %v %v", what, v.Reached, v.Why)
		}
		if SurelyOpenUntil(c, bad, minute(1), minute(2)) {
			t.Errorf("%s: surely open", what)
		}
	}
	if SurelyOpenUntil(c, thirty(Ready), minute(1), minute(2)) {
		t.Error("a ready clock is no window that closes")
	}
}

func TestThePlannedBakeBringsTheEndForward(t *testing.T) {
	c := courseOf(t, still(), [2]float64{0, 20})
	clock := thirty(Ready)
	clock.Tolerance = 0
	bake := Outlook{From: minute(10), Set: Set{58, 62}, NominalC: 60, NominalKnown: true}
	ahead := c.AsOf(minute(5)).Ahead(minute(5)).Follow(bake)
	v := JudgeAhead(c, clock, minute(5), ahead)
	l := clock.Law
	sameTime(t, "due cold", v.DueCold, minute(10+20/l.Rate(58, Cold)))
	sameTime(t, "due hot", v.DueHot, minute(10+20/l.Rate(62, Hot)))
	sameTime(t, "due nominal", v.DueNominal, minute(10+20/l.Rate(60, Nominal)))
	if plain := Judge(c, clock, minute(5)); !v.DueCold.Before(plain.DueCold) {
		t.Errorf("bake %v, no bake %v", v.DueCold, plain.DueCold)
	}
}

// If the same reading keeps coming, at gaps no longer than the longest of the
// last hour, what was told at a reading still holds: the promise of a screen.
func TestTheToldTimeHolds(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		z := bay()
		z.DriftPerMin = float64(rapid.IntRange(0, 10).Draw(rt, "d")) / 10
		gap := rapid.IntRange(1, 15).Draw(rt, "gap")
		c := must(NewCourse(z))
		clock := Clock{Kind: Ready, Law: drawLaw(rt), From: t0, Needed: time.Duration(rapid.IntRange(1, 200).Draw(rt, "needed")) * time.Minute}
		temp := float64(rapid.IntRange(6, 34).Draw(rt, "temp"))
		var told time.Time
		for m := -2 * gap; m <= 300; m += gap {
			must(c.Append(Reading{At: minute(float64(m)), C: temp}))
			if m < 0 {
				continue
			}
			v := Judge(c, clock, minute(float64(m)))
			if told.IsZero() {
				if told = v.DueCold; told.IsZero() {
					return // never, at these edges
				}
			}
			if v.DueCold.After(told.Add(time.Millisecond)) || !told.After(minute(float64(m))) && v.Reached != Yes {
				rt.Fatalf("told %v, at %d min it is %v and %v", told, m, v.DueCold, v.Reached)
			}
		}
	})
}

func TestVerdictsAreOfOnePiece(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c := build(t, drawZone(rt), drawReadings(rt, 8))
		clock := Clock{
			Kind: rapid.SampledFrom([]Kind{Ready, Expiry}).Draw(rt, "kind"), Law: drawLaw(rt), From: drawTime(rt, "from"),
			Needed:    time.Duration(rapid.IntRange(0, 200).Draw(rt, "needed")) * time.Minute,
			Tolerance: float64(rapid.IntRange(0, 99).Draw(rt, "tolerance")) / 100,
		}
		at := clock.From.Add(time.Duration(rapid.IntRange(0, 4*3600).Draw(rt, "at")) * time.Second)
		v := Judge(c, clock, at)
		if got := Answer(c, clock, at); got != v.Reached {
			rt.Fatalf("the answer alone is %v, with its grounds it is %v", got, v.Reached)
		}
		if v.AgeColdS > v.AgeHotS+1e-6 || v.NominalKnown && (v.AgeNominalS > v.AgeHotS+1e-6) {
			rt.Fatalf("ages out of order: %+v", v)
		}
		if !v.DueCold.IsZero() && v.DueHot.After(v.DueCold.Add(time.Microsecond)) {
			rt.Fatalf("hot due %v after cold due %v", v.DueHot, v.DueCold)
		}
		// The answer and the due times say the same.
		past := func(due time.Time) bool { return !due.IsZero() && !due.After(at) }
		if (v.Reached == No) == past(v.DueHot) || clock.Kind == Ready && (v.Reached == Yes) != past(v.DueCold) {
			rt.Fatalf("%v at %v: due hot %v, cold %v", v.Reached, at, v.DueHot, v.DueCold)
		}
		if past(v.DueCold) {
			age, _ := c.AsOf(at).Age(clock.Law, Cold, clock.From, v.DueCold)
			if math.Abs(age-clock.Target(Cold)) > 1e-6+2e-9*age {
				rt.Fatalf("age %v at the due time, want %v", age, clock.Target(Cold))
			}
		}
	})
}

func TestPrintedTimesKeepToTheSafeSide(t *testing.T) {
	c := courseOf(t, bay(), [2]float64{-7, 19.3}, [2]float64{0, 19.3})
	told := Judge(c, thirty(Ready), minute(1)).Milli()
	exact := Judge(c, thirty(Ready), minute(1))
	for what, d := range map[string]time.Duration{
		"cold": told.DueCold.Sub(exact.DueCold), "hot": exact.DueHot.Sub(told.DueHot),
	} {
		if d < 0 || d >= time.Millisecond {
			t.Errorf("%s rounded by %v to the safe side", what, d)
		}
	}
	if told.DueCold.Nanosecond()%1e6 != 0 || told.DueHot.Nanosecond()%1e6 != 0 || told.DueNominal.Nanosecond()%1e6 != 0 {
		t.Errorf("not in milliseconds: %v %v %v", told.DueCold, told.DueHot, told.DueNominal)
	}
	if v := (Verdict{}).Milli(); !v.DueCold.IsZero() || !v.DueHot.IsZero() || !v.DueNominal.IsZero() {
		t.Errorf("never became %+v", v)
	}
}
