package cure

import (
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"seamwright/services/fault"
)

// same fails unless two courses answer alike everywhere that is asked.
func same(t *rapid.T, what string, a, b Seen, l Law, from, to time.Time) {
	for _, side := range []Side{Cold, Hot, Nominal} {
		x, okx := a.Age(l, side, from, to)
		y, oky := b.Age(l, side, from, to)
		if okx != oky || math.Abs(x-y) > 1e-9*math.Abs(y)+1e-6 {
			t.Fatalf("%s: %s age %v (%v) and %v (%v)", what, side, x, okx, y, oky)
		}
	}
	if diff := cmp.Diff(a.Edges(to), b.Edges(to)); diff != "" {
		t.Fatalf("%s: edges at %v: %s", what, to, diff)
	}
	if x, y := a.Settled(l, from, to), b.Settled(l, from, to); math.Abs(x-y) > 1e-6 {
		t.Fatalf("%s: settled %v and %v", what, x, y)
	}
}

func TestAnyOrderOfChangesEqualsAFreshBuild(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		z, l, rs := drawZone(rt), drawLaw(rt), drawReadings(rt, 10)
		from := drawTime(rt, "from")
		to := from.Add(time.Duration(rapid.IntRange(0, 3*3600).Draw(rt, "span")) * time.Second)
		fresh := build(t, z, rs)
		c := must(NewCourse(z))
		for _, r := range rapid.Permutation(rs).Draw(rt, "order") {
			must(c.Insert(r))
			c.Hindsight().Age(l, Cold, from, to) // fills sums that the next change must cut
		}
		same(rt, "inserted", c.Hindsight(), fresh.Hindsight(), l, from, to)
		if diff := cmp.Diff(fresh.Findings(minTime, maxTime), c.Findings(minTime, maxTime)); diff != "" {
			rt.Fatal(diff)
		}
		if len(rs) == 0 {
			return
		}
		i := rapid.IntRange(0, len(rs)-1).Draw(rt, "which")
		// One is withdrawn and then reported again, but moved and changed.
		other := Reading{At: rs[i].At.Add(time.Duration(rapid.IntRange(-4000, 4000).Draw(rt, "moved")) * time.Second), C: 17}
		if j, taken := c.find(other.At); taken && j != i {
			return
		}
		must(c.Replace(rs[i].At, other))
		rest := append(append([]Reading(nil), rs[:i]...), rs[i+1:]...)
		again := must(NewCourse(z))
		for _, r := range append(rest, other) {
			must(again.Insert(r))
		}
		same(rt, "replaced", c.Hindsight(), again.Hindsight(), l, from, to)
		must(c.Remove(other.At))
		same(rt, "removed", c.Hindsight(), build(t, z, rest).Hindsight(), l, from, to)
		wider := z
		wider.ProbeErrorC += 0.25
		must(c.Redefine(wider))
		same(rt, "redefined", c.Hindsight(), build(t, wider, rest).Hindsight(), l, from, to)
		same(rt, "cloned", c.Clone().Hindsight(), c.Hindsight(), l, from, to)
	})
}

func TestAsOfIsACourseOfTheEarlyReadings(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		z, l, rs := drawZone(rt), drawLaw(rt), drawReadings(rt, 10)
		c := build(t, z, rs)
		at, from := drawTime(rt, "at"), drawTime(rt, "from")
		var early []Reading
		for _, r := range rs {
			if !r.At.After(at) {
				early = append(early, r)
			}
		}
		c.Hindsight().Age(l, Hot, minTime, maxTime) // sums of all readings are there
		same(rt, "as of", c.AsOf(at), build(t, z, early).Hindsight(), l, from, drawTime(rt, "to"))
	})
}

func TestAgesNeverFallAndAddUp(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c, l := build(t, drawZone(rt), drawReadings(rt, 10)), drawLaw(rt)
		from := drawTime(rt, "from")
		mid := from.Add(time.Duration(rapid.IntRange(0, 2*3600*1000).Draw(rt, "first")) * time.Millisecond)
		to := mid.Add(time.Duration(rapid.IntRange(0, 2*3600*1000).Draw(rt, "second")) * time.Millisecond)
		for _, side := range []Side{Cold, Hot, Nominal} {
			a, _ := c.Hindsight().Age(l, side, from, mid)
			b, _ := c.Hindsight().Age(l, side, mid, to)
			whole, _ := c.Hindsight().Age(l, side, from, to)
			if a < 0 || b < 0 {
				rt.Fatalf("%s ages fall: %v, %v", side, a, b)
			}
			if math.Abs(a+b-whole) > 1e-9*whole+1e-7 {
				rt.Fatalf("%s: %v + %v is not %v", side, a, b, whole)
			}
		}
	})
}

// plausible draws readings that never jump and stay inside the limits.
func plausible(t *rapid.T, z Zone) []Reading {
	var rs []Reading
	at, c := t0, (z.Limits.Lo+z.Limits.Hi)/2
	for range rapid.IntRange(1, 10).Draw(t, "n") {
		gap := rapid.IntRange(1, 1800).Draw(t, "gap")
		at = at.Add(time.Duration(gap) * time.Second)
		c += z.DriftPerMin * float64(gap) / 60 * rapid.Float64Range(-1, 1).Draw(t, "step")
		c = Set{z.Limits.Lo + z.ProbeErrorC, z.Limits.Hi - z.ProbeErrorC}.clamp(c)
		rs = append(rs, Reading{At: at, C: c})
	}
	return rs
}

func TestPlausibleReadingsInOrderOnlyTighten(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		z, l := drawZone(rt), drawLaw(rt)
		from := drawTime(rt, "from")
		to := from.Add(time.Duration(rapid.IntRange(0, 4*3600).Draw(rt, "span")) * time.Second)
		c := must(NewCourse(z))
		cold, _ := c.Hindsight().Age(l, Cold, from, to)
		hot, _ := c.Hindsight().Age(l, Hot, from, to)
		for _, r := range plausible(rt, z) {
			if fs := must(c.Append(r)); len(fs) > 0 {
				rt.Fatalf("not plausible: %v", fs)
			}
			before := c.View(r.At)
			if before.c.marks[before.n-1].loosens {
				rt.Fatalf("a plausible reading is held to loosen the set: %+v", before.c.marks[before.n-1])
			}
			x, _ := c.Hindsight().Age(l, Cold, from, to)
			y, _ := c.Hindsight().Age(l, Hot, from, to)
			if x < cold-1e-6 || y > hot+1e-6 {
				rt.Fatalf("after %v cold %v was %v, hot %v was %v", r, x, cold, y, hot)
			}
			cold, hot = x, y
		}
	})
}

func TestColderIsNeverSooner(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		z, l := drawZone(rt), drawLaw(rt)
		rs := plausible(rt, z)
		colder := append([]Reading(nil), rs...)
		by := rapid.Float64Range(0, 3).Draw(rt, "by")
		for i := range colder {
			colder[i].C -= by
		}
		warm, cold := build(t, z, rs), build(t, z, colder)
		from := drawTime(rt, "from")
		target := float64(rapid.IntRange(1, 5000).Draw(rt, "target"))
		at := from.Add(2 * time.Hour)
		for _, side := range []Side{Cold, Hot, Nominal} {
			x, _ := warm.Hindsight().Age(l, side, from, at)
			y, _ := cold.Hindsight().Age(l, side, from, at)
			if y > x+1e-6 {
				rt.Fatalf("%s age %v, %v K colder %v", side, x, by, y)
			}
			a, oka := Due(warm.Hindsight(), l, side, from, target, at, nil)
			b, okb := Due(cold.Hindsight(), l, side, from, target, at, nil)
			if okb && (!oka || b.Before(a.Add(-time.Millisecond))) {
				rt.Fatalf("%s due %v (%v), %v K colder %v", side, a, oka, by, b)
			}
		}
	})
}

func TestReadingsThatAreRefusedChangeNothing(t *testing.T) {
	c := courseOf(t, bay(), [2]float64{0, 20}, [2]float64{10, 21}, [2]float64{20, 22})
	before := c.Readings()
	refused := func(what string, kind fault.Kind, _ []Finding, err error) {
		t.Helper()
		if err == nil || fault.KindOf(err) != kind {
			t.Errorf("%s: error %v, want %v", what, err, kind)
		}
		if diff := cmp.Diff(before, c.Readings()); diff != "" {
			t.Errorf("%s changed the course: %s", what, diff)
		}
	}
	do := func(what string, kind fault.Kind) func([]Finding, error) {
		return func(fs []Finding, err error) { t.Helper(); refused(what, kind, fs, err) }
	}
	do("repeated at the end", fault.Invalid)(c.Append(Reading{At: minute(20), C: 9}))
	do("repeated within", fault.Invalid)(c.Insert(Reading{At: minute(10), C: 9}))
	do("late by Append", fault.Conflict)(c.Append(Reading{At: minute(5), C: 20}))
	do("moved onto another", fault.Invalid)(c.Replace(minute(0), Reading{At: minute(10), C: 20}))
	do("correction of none", fault.NotFound)(c.Replace(minute(1), Reading{At: minute(2), C: 20}))
	do("withdrawal of none", fault.NotFound)(c.Remove(minute(1)))
	do("NaN", fault.Invalid)(c.Append(Reading{At: minute(30), C: math.NaN()}))
	do("kelvin", fault.Invalid)(c.Insert(Reading{At: minute(30), C: 303}))
	do("extra error", fault.Invalid)(c.Append(Reading{At: minute(30), C: 20, ExtraErrorC: -1}))
	do("no time", fault.Invalid)(c.Append(Reading{C: 20}))
	for what, spoil := range map[string]func(*Zone){
		"limits":       func(z *Zone) { z.Limits = Set{35, 5} },
		"limits equal": func(z *Zone) { z.Limits = Set{5, 5} },
		"NaN limits":   func(z *Zone) { z.Limits.Hi = math.NaN() },
		"error":        func(z *Zone) { z.ProbeErrorC = -0.1 },
		"drift":        func(z *Zone) { z.DriftPerMin = math.Inf(1) },
		"stale":        func(z *Zone) { z.StaleAfter = 0 },
		"settling":     func(z *Zone) { z.Settling = -1 },
	} {
		z := bay()
		spoil(&z)
		if _, err := NewCourse(z); err == nil {
			t.Errorf("%s: zone accepted", what)
		}
		do("zone "+what, fault.Invalid)(c.Redefine(z))
	}
}

func TestTheLawAskedForLongestAgoMakesRoom(t *testing.T) {
	c := courseOf(t, bay(), [2]float64{0, 20}, [2]float64{10, 21}, [2]float64{20, 22})
	first := must(NewLaw(30e3, 20))
	want, _ := c.Hindsight().Age(first, Cold, t0, minute(30))
	for i := range 3 * maxLaws {
		c.Hindsight().Age(must(NewLaw(40e3+float64(i), 20)), Cold, t0, minute(30))
	}
	if n := len(c.sums.laws); n != maxLaws {
		t.Errorf("%d laws kept, want %d", n, maxLaws)
	}
	got, _ := c.Hindsight().Age(first, Cold, t0, minute(30))
	near(t, "age of a law that had made room", got, want, 0)
}

func TestQuestionsMayBeAskedSideBySide(t *testing.T) {
	c := courseOf(t, bay())
	for i := range 300 {
		must(c.Append(Reading{At: minute(float64(i)), C: 20}))
	}
	want, _ := c.Clone().Hindsight().Age(plainLaw(), Hot, t0, minute(299))
	answers := make(chan float64)
	for i := range 8 {
		go func() {
			var got float64
			for k := range 30 {
				c.AsOf(minute(float64(i*k))).Age(must(NewLaw(50e3+float64(k), 20)), Cold, t0, minute(200))
				got, _ = c.Hindsight().Age(plainLaw(), Hot, t0, minute(299))
			}
			answers <- got
		}()
	}
	for range 8 {
		near(t, "age", <-answers, want, 0)
	}
}
