package cure

import (
	"testing"
	"time"
)

// The examples below were worked by hand from the rule of the set: limits 5
// to 35 °C, probe error 0.5 K, drift 0.2 K a minute.

func TestBeforeTheFirstReadingTheSetIsTheLimits(t *testing.T) {
	c := courseOf(t, bay())
	sameSet(t, "no reading", c.Hindsight().Edges(t0), 5, 35)
	if _, ok := c.Hindsight().Nominal(t0); ok {
		t.Error("a nominal is known without any reading")
	}
	c = courseOf(t, bay(), [2]float64{10, 20})
	sameSet(t, "a millisecond before", c.Hindsight().Edges(minute(10).Add(-time.Millisecond)), 5, 35)
	sameSet(t, "at the reading", c.Hindsight().Edges(minute(10)), 19.5, 20.5)
	n, ok := c.Hindsight().Nominal(t0)
	if !ok {
		t.Fatal("nominal before the first reading is not known")
	}
	near(t, "nominal before the first reading", n, 20, 0)
	// Out of the limits: level before, brought inside the limits there.
	c = courseOf(t, bay(), [2]float64{10, 3})
	n, _ = c.Hindsight().Nominal(t0)
	near(t, "nominal before a first reading of 3", n, 5, 0)
	sameSet(t, "set before a first reading outside", c.Hindsight().Edges(t0), 5, 35)
	sameSet(t, "set at a first reading outside", c.Hindsight().Edges(minute(10)), 2.5, 3.5)
}

func TestTheConeGrowsToTheLimits(t *testing.T) {
	v := courseOf(t, bay(), [2]float64{0, 20}).Hindsight()
	sameSet(t, "after 10 min", v.Edges(minute(10)), 17.5, 22.5)
	sameSet(t, "after 72.5 min", v.Edges(minute(72.5)), 5, 35)
	sameSet(t, "after a week", v.Edges(minute(10080)), 5, 35)
}

func TestAReadingOutsideTheLimitsStaysAndNarrows(t *testing.T) {
	c := courseOf(t, bay())
	// R = [2.5, 3.5] lies wholly below 5.
	fs := must(c.Append(Reading{At: t0, C: 3}))
	if len(fs) != 1 || fs[0].Kind != OutsideLimits {
		t.Fatalf("findings %v, want outside-limits", fs)
	}
	// The hull of the limits and the set is [2.5, 35].
	sameSet(t, "5 min later", c.Hindsight().Edges(minute(5)), 2.5, 4.5)
	// R = [4.5, 5.5] is half inside: no finding. Grown in 10 min: [2.5, 5.5].
	fs = must(c.Append(Reading{At: minute(10), C: 5}))
	if len(fs) != 0 {
		t.Fatalf("findings %v, want none", fs)
	}
	sameSet(t, "at the second", c.Hindsight().Edges(minute(10)), 4.5, 5.5)
	// Touching the limit from outside (R = [35, 36]) is not wholly outside.
	hot := courseOf(t, bay())
	if fs := must(hot.Append(Reading{At: t0, C: 35.5})); len(fs) != 0 {
		t.Errorf("35.5 with an error of 0.5 touches the limit of 35; findings %v", fs)
	}
}

func TestMeetingNarrowsTheSet(t *testing.T) {
	// S1 = [19.5, 20.5]. After 2 min G = [19.1, 20.9], R = [20.3, 21.3]:
	// S2 = [20.3, 20.9].
	c := courseOf(t, bay(), [2]float64{0, 20}, [2]float64{2, 20.8})
	v := c.Hindsight()
	sameSet(t, "S2", v.Edges(minute(2)), 20.3, 20.9)
	// One minute in: forwards [19.3, 20.7], backwards [20.1, 21.1].
	sameSet(t, "between", v.Edges(minute(1)), 20.1, 20.7)
	// At the instant of the first reading it is the reading's own set, though
	// just after it hindsight allows [19.9, 20.5] only.
	sameSet(t, "S1", v.Edges(t0), 19.5, 20.5)
	sameSet(t, "just after S1", v.Edges(t0.Add(time.Nanosecond)), 19.9, 20.5)
	// The straight line reads 20.4 at one minute, inside the edges.
	n, _ := v.Nominal(minute(1))
	near(t, "nominal between", n, 20.4, 1e-12)
	// After the last reading the nominal holds the reading, 20.8, inside S2.
	n, _ = v.Nominal(minute(9))
	near(t, "nominal after", n, 20.8, 1e-12)
	// As of the first minute the second reading is not there yet.
	sameSet(t, "as of 1 min", c.AsOf(minute(1)).Edges(minute(1)), 19.3, 20.7)
}

func TestTouchingIsMeeting(t *testing.T) {
	// After 10 min G = [17.5, 22.5]; a reading of 23 has R = [22.5, 23.5].
	c := courseOf(t, bay(), [2]float64{0, 20})
	if fs := must(c.Append(Reading{At: minute(10), C: 23})); len(fs) != 0 {
		t.Errorf("touching gave %v", fs)
	}
	sameSet(t, "touching", c.Hindsight().Edges(minute(10)), 22.5, 22.5)
	// The nominal is brought inside, and moves out with the edge to 23.
	n, _ := c.Hindsight().Nominal(minute(10))
	near(t, "nominal at the touch", n, 22.5, 1e-9)
	n, _ = c.Hindsight().Nominal(minute(11))
	near(t, "nominal a minute on", n, 22.7, 1e-9)
	n, _ = c.Hindsight().Nominal(minute(20))
	near(t, "nominal ten minutes on", n, 23, 1e-9)
	// Decimals that binary cannot hold: 20.1 + 0.5 + 0.2*3 = 21.7 - 0.5.
	c = courseOf(t, bay(), [2]float64{0, 20.1})
	if fs := must(c.Append(Reading{At: minute(3), C: 21.7})); len(fs) != 0 {
		t.Errorf("touching in decimals gave %v", fs)
	}
	sameSet(t, "touching in decimals", c.Hindsight().Edges(minute(3)), 21.2, 21.2)
}

func TestAnImplausibleJumpWidensTheSet(t *testing.T) {
	// After 10 min G = [17.5, 22.5]; a reading of 25 has R = [24.5, 25.5].
	c := courseOf(t, bay(), [2]float64{0, 20})
	fs := must(c.Append(Reading{At: minute(10), C: 25}))
	if len(fs) != 1 || fs[0].Kind != ImplausibleJump || !fs[0].From.Equal(t0) || !fs[0].To.Equal(minute(10)) {
		t.Fatalf("findings %v, want one implausible-jump from 8:00 to 8:10", fs)
	}
	v := c.Hindsight()
	sameSet(t, "S2", v.Edges(minute(10)), 17.5, 25.5)
	// At 4 min: S1 grown [18.7, 21.3], R2 grown back 6 min [23.3, 26.7].
	sameSet(t, "before the jump", v.Edges(minute(4)), 18.7, 26.7)
	// Just after S1 the hull reaches to R2 grown by the whole gap.
	sameSet(t, "just after S1", v.Edges(t0.Add(time.Nanosecond)), 19.5, 27.5)
	// The next reading meets the wide set again: G = [17.1, 25.9].
	if fs := must(c.Append(Reading{At: minute(12), C: 25})); len(fs) != 0 {
		t.Fatalf("findings %v, want none", fs)
	}
	sameSet(t, "S3", c.Hindsight().Edges(minute(12)), 24.5, 25.5)
}

func TestBothNeighboursMeetTheLimits(t *testing.T) {
	// Six hours between two readings of 20: each cone needs 72.5 min.
	v := courseOf(t, bay(), [2]float64{0, 20}, [2]float64{360, 20}).Hindsight()
	sameSet(t, "at 60 min", v.Edges(minute(60)), 7.5, 32.5)
	sameSet(t, "at 180 min", v.Edges(minute(180)), 5, 35)
	sameSet(t, "at 300 min", v.Edges(minute(300)), 7.5, 32.5)
}

func TestASteepNominalIsBroughtInsideTheEdges(t *testing.T) {
	// From 20 to 23 in 10 min is 0.3 K a minute with an allowed 0.2: S2 is
	// the single point 22.5, the lower edge at 5 min is 22.5 - 1 = 21.5, the
	// upper 20.5 + 1 = 21.5, and the line reads 21.5 there; at 9 min the line
	// reads 22.7 and the upper edge 22.3.
	v := courseOf(t, bay(), [2]float64{0, 20}, [2]float64{10, 23}).Hindsight()
	n, _ := v.Nominal(minute(5))
	near(t, "nominal in the middle", n, 21.5, 1e-9)
	n, _ = v.Nominal(minute(9))
	near(t, "nominal at 9 min", n, 22.3, 1e-9)
}

func TestAReadingWithAWiderError(t *testing.T) {
	c := courseOf(t, bay())
	must(c.Append(Reading{At: t0, C: 20, ExtraErrorC: 1.5}))
	sameSet(t, "hand reading", c.Hindsight().Edges(t0), 18, 22)
	if r := c.Readings()[0]; r.ExtraErrorC != 1.5 || r.C != 20 || !r.At.Equal(t0) {
		t.Errorf("reading came back as %v", r)
	}
}

func TestWarmerThanTheProductAllows(t *testing.T) {
	z := bay()
	z.Limits.Hi = 60
	z.DriftPerMin = 2
	v := courseOf(t, z, [2]float64{0, 30}, [2]float64{20, 50}, [2]float64{40, 30}).Hindsight()
	fs := v.Warmer(40, t0, minute(60))
	if len(fs) != 1 || fs[0].Kind != AboveMaxTemp {
		t.Fatalf("findings %v, want one", fs)
	}
	near(t, "from", fs[0].From.Sub(t0).Minutes(), 10, 1e-6)
	near(t, "to", fs[0].To.Sub(t0).Minutes(), 30, 1e-6)
	if fs := v.Warmer(50, t0, minute(60)); len(fs) != 0 {
		t.Errorf("50 °C is allowed and never passed, yet %v", fs)
	}
}
