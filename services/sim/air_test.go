package sim

import (
	"math"
	"testing"
	"time"
)

var began = time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)

func after(m float64) time.Time { return began.Add(time.Duration(m * float64(time.Minute))) }

// bay is a zone of 5 to 35 °C with an error of 0.5 K and a drift of 0.2 K a
// minute.
func bay(name string) *air {
	a := newAir(name, began, step)
	a.limits, a.errorC, a.drift = span{5, 35}, 0.5, 0.2
	a.stale, a.settling = 15*time.Minute, 30*time.Minute
	return a
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if math.Abs(got-want) > within {
		t.Errorf("%s is %g, want %g", what, got, want)
	}
}

// The rule of the set, worked by hand from its definition: between two
// readings both cones, after the last one a growing cone, a jump takes the
// hull.
func TestTheSetOfAZone(t *testing.T) {
	a := bay("bay-1")
	near(t, "lower limit before any reading", a.edges(after(3)).lo, 5, 0)
	if jump, outside := a.read(after(10), 20, 0, 50); jump || outside {
		t.Error("the first reading jumped")
	}
	near(t, "upper edge at a reading", a.edges(after(10)).hi, 20.5, 1e-12)
	near(t, "upper edge 5 min later", a.edges(after(15)).hi, 21.5, 1e-12)
	a.read(after(20), 21, 0, 50)
	// From 20.5 rising and to 21.5 falling backwards: 22.5 and 23.5 at 20 min, 21.5 at 15 min.
	near(t, "upper edge between", a.edges(after(15)).hi, 21.5, 1e-12)
	near(t, "lower edge between", a.edges(after(15)).lo, 19.5, 1e-12)
	near(t, "lower edge near the second", a.edges(after(19)).lo, 20.3, 1e-12)
	jump, outside := a.read(after(21), 46, 0, 50)
	if !jump || !outside {
		t.Errorf("46 °C a minute after 21 °C: jump %t, outside %t", jump, outside)
	}
	near(t, "upper edge after a jump", a.edges(after(21)).hi, 46.5, 1e-12)
	near(t, "lower edge after a jump", a.edges(after(21)).lo, 20.3, 1e-12)
	a.withdraw(after(21))
	near(t, "upper edge once it is withdrawn", a.edges(after(21)).hi, 21.7, 1e-12)
}

// Equivalent ages at constant temperatures are rate times time: at the
// reference temperature the hot age runs at least as fast as the clock, the
// rate at 10 K above the reference is that of the law.
func TestAgesStepThroughTheSet(t *testing.T) {
	a := bay("bay-1")
	a.errorC, a.drift = 0, 0
	for m := 0.0; m <= 120; m += 2 {
		a.read(after(m), 31, 0, 50)
	}
	l := &law{refC: 21, low: 52, top: 52, minC: 10}
	want := math.Exp(-52000 / 8.314462618 * (1/304.15 - 1/294.15)) // ASTM C1074, equivalent age
	c := course{}
	c.to(began, a)
	a.settling = 0
	got := c.age(l, after(7.3), after(101.9))
	near(t, "cold age", got.cold, want*94.6*60, 1e-6*want*94.6*60)
	near(t, "hot age", got.hot, got.cold, 1e-9*got.cold)
	near(t, "ages add up", c.age(l, after(7.3), after(50)).cold+c.age(l, after(50), after(101.9)).cold, got.cold, 1e-9*got.cold)
	if r := l.cold(9.99, 0); r != 0 {
		t.Errorf("below its least temperature it cures at %g", r)
	}
}

// A car that was moved cures in the hull of both zones until it has settled.
func TestAMovedCarSettles(t *testing.T) {
	cold, warm := bay("outdoors"), bay("bay-3")
	for m := 0.0; m <= 120; m += 2 {
		cold.read(after(m), 12, 0, 50)
		warm.read(after(m), 21, 0, 50)
	}
	var c course
	c.to(began, cold)
	c.to(after(60), warm)
	near(t, "lower edge before it has settled", c.edges(after(80)).lo, 11.5, 1e-9)
	near(t, "upper edge before it has settled", c.edges(after(80)).hi, 21.5, 1e-9)
	near(t, "lower edge once it has", c.edges(after(92)).lo, 20.5, 1e-9)
	if n := len(c.zones(after(89))); n != 2 {
		t.Errorf("%d zones count while it settles, want 2", n)
	}
}

// What has passed for sure ends, in each zone, with what that zone was read
// last: of a bay that was read up to minute 50 and left at minute 60, ten
// minutes are never sure, however often the next zone is read.
func TestWhatIsSettled(t *testing.T) {
	left, next := bay("bay-1"), bay("bay-2")
	for _, a := range []*air{left, next} {
		a.errorC, a.drift, a.settling = 0, 0, 0
	}
	for m := 0.0; m <= 120; m += 2 {
		if m <= 50 {
			left.read(after(m), 21, 0, 50)
		}
		if m >= 60 {
			next.read(after(m), 21, 0, 50)
		}
	}
	l := &law{refC: 21, low: 52, top: 52, minC: 10} // at its reference temperature, so that ages are times
	var c course
	c.to(began, left)
	c.to(after(60), next)
	near(t, "settled", c.settled(l, after(10), after(125)), (50-10+120-60)*60, 1e-6)
	near(t, "the hot age", c.age(l, after(10), after(125)).hot, (125-10)*60, 1e-6)
}

// Dew point of 20 °C at 50 %: 9.27 °C by Magnus with the constants of WMO-No.
// 8, from memory.
func TestDewPoint(t *testing.T) { near(t, "dew point", dewPoint(20, 50), 9.27, 0.02) }

// The check digit that 49 CFR 565 shows for 1M8GDM9AXKP042788, from memory,
// comes from the same values and weights.
func TestCheckDigit(t *testing.T) {
	weights := []int{8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2}
	sum := 0
	for i, c := range []byte("1M8GDM9AXKP042788") {
		sum += weights[i] * vinValue(c)
	}
	if d := "0123456789X"[sum%11]; d != 'X' {
		t.Errorf("check digit %c, want X", d)
	}
	if vin := vinFor("3001"); len(vin) != 17 {
		t.Errorf("%q has %d characters", vin, len(vin))
	}
}

// Heat that ends in the middle of a step counts up to its end: what is ahead
// of a window in a booth is the sum of both parts, at the rates of the law.
func TestHeatEndsWithinAStep(t *testing.T) {
	a := bay("bay-1")
	a.errorC, a.drift, a.settling = 0, 0, 0
	a.read(after(0), 21, 0, 50)
	l := &law{refC: 21, low: 52, top: 52, minC: 10}
	m := &seam{job: &job{}, bead: &bead{product: &product{law: l}}}
	m.job.course.to(began, a)
	m.heats = []warmth{{began, after(1.6), around(80, 0)}}
	s := &sim{now: began, airs: map[string]*air{"bay-1": a}}
	hot := math.Exp(-52000 / 8.314462618 * (1/353.15 - 1/294.15)) // ASTM C1074, equivalent age
	near(t, "age ahead", s.inBoothAge(&load{booth: &booth{zone: "bay-1"}}, m, after(15)), hot*1.6*60+13.4*60, 1e-6)
}

// What is older than the steps that are kept is added up once, and comes to the
// same, whether a law was asked for up to then, before or never: a reading of
// then that is withdrawn counts no more.
func TestAgesOfACarThatStandsForMonths(t *testing.T) {
	a := newAir("bay-1", began, 2*time.Minute)
	a.limits, a.errorC, a.drift = span{5, 35}, 0.5, 0.2
	l := law{refC: 21, low: 52, top: 52, minC: 10}
	never, early, late := l, l, l
	whole := func(from, to time.Time) ages {
		return stepped(a.step, from, to, func(at time.Time) ages {
			e := a.edges(at)
			return ages{l.cold(e.lo, a.sway()), l.hot(e.hi)}
		})
	}
	day := func(d float64) time.Time { return after(d * 24 * 60) }
	for d := 0.0; d <= 90; d += 0.25 {
		a.read(day(d), 20+3*math.Sin(d), 0, 50)
		switch d {
		case 10: // of which nothing is kept
			a.age(&early, began, day(d))
		case 60: // and of which some
			a.age(&late, began, day(d))
		}
	}
	if !a.from.After(day(1)) {
		t.Fatalf("it keeps all its steps, from %s on", a.from)
	}
	for _, what := range []string{"at first", "once more", "without a reading of the third day"} {
		if what != "at first" && what != "once more" {
			a.withdraw(day(3))
		}
		for _, from := range []time.Time{day(2).Add(37 * time.Second), a.from.Add(-time.Second), a.from, a.from.Add(time.Minute)} {
			want := whole(from, day(90.1))
			for _, l := range []*law{&never, &early, &late} {
				got := a.age(l, from, day(90.1))
				near(t, what+": cold age", got.cold, want.cold, 1e-9*want.cold)
				near(t, what+": hot age", got.hot, want.hot, 1e-9*want.hot)
			}
		}
	}
}
