package cure

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestAPathInOneZoneIsThatZone(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c, l := build(t, drawZone(rt), drawReadings(rt, 8)), drawLaw(rt)
		spans := []Span{{From: t0, Zones: []*Course{c}}}
		if rapid.Bool().Draw(rt, "cut") {
			// The same zone again, and then as a hull with itself.
			spans = append(spans, Span{From: minute(37), Zones: []*Course{c}}, Span{From: minute(71), Zones: []*Course{c, c}})
		}
		p := must(NewPath(spans...))
		at, from := drawTime(rt, "at"), drawTime(rt, "from")
		to := from.Add(time.Duration(rapid.IntRange(0, 3*3600).Draw(rt, "span")) * time.Second)
		same(rt, "as of", p.AsOf(at), c.AsOf(at), l, from, to)
		same(rt, "hindsight", p.Hindsight(), c.Hindsight(), l, from, to)
		a, b := p.AsOf(at), c.AsOf(at)
		if a.Fresh(to) != b.Fresh(to) {
			rt.Fatal("freshness differs")
		}
		for _, side := range []Side{Cold, Hot, Nominal} {
			target := float64(rapid.IntRange(0, 6000).Draw(rt, "target"))
			x, okx := Due(a, l, side, from, target, to, nil)
			y, oky := Due(b, l, side, from, target, to, nil)
			if okx != oky || okx && x.Sub(y).Abs() > 100*time.Microsecond {
				// A side that has all but stalled tells no moment exactly.
				if r, _ := a.Age(l, side, from, x); math.Abs(r-target) > 1e-6 || okx != oky {
					rt.Fatalf("%s due %v (%v) and %v (%v)", side, x, okx, y, oky)
				}
			}
		}
	})
}

// The hull, second by second: the least of the lower and the greatest of the
// upper edges of two zones and a heat source.
func TestHullsAgreeWithTheSecondBySecondTwin(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		za, zb := drawZone(rt), drawZone(rt)
		ra, rb := drawReadings(rt, 6), drawReadings(rt, 6)
		l := drawLaw(rt)
		heat := []Fixed{{Set{18, 45}, 30}}[:rapid.IntRange(0, 1).Draw(rt, "heat")]
		p := must(NewPath(Span{From: t0, Zones: []*Course{build(t, za, ra), build(t, zb, rb)}, Fixed: heat}))
		from := drawTime(rt, "from")
		span := rapid.IntRange(1, 2*3600).Draw(rt, "span")
		to := from.Add(time.Duration(span) * time.Second)
		sa, ja := twin{za, ra}.sets()
		sb, jb := twin{zb, rb}.sets()
		var cold, hot, coldest float64
		for s := range span {
			at := from.Add(time.Duration(s)*time.Second + time.Second/2)
			la, ha, _ := twin{za, ra}.at(at, sa, ja)
			lb, hb, _ := twin{zb, rb}.at(at, sb, jb)
			lo, hi := math.Min(la, lb), math.Max(ha, hb)
			for _, f := range heat {
				lo, hi = math.Min(lo, f.Set.Lo), math.Max(hi, f.Set.Hi)
			}
			cold, hot = cold+l.Rate(lo, Cold), hot+l.Rate(hi, Hot)
			coldest = math.Max(coldest, l.Rate(lo, Cold))
		}
		stalls := 0.0
		if _, ok := l.MinTempC(); ok {
			stalls = coldest * float64(4*(len(ra)+len(rb)+2))
		}
		got, _ := p.Hindsight().Age(l, Cold, from, to)
		if math.Abs(got-cold) > 1e-4*cold+0.1*float64(len(ra)+len(rb)+2)+stalls {
			rt.Fatalf("cold %v, by seconds %v", got, cold)
		}
		got, _ = p.Hindsight().Age(l, Hot, from, to)
		if math.Abs(got-hot) > 1e-4*hot+0.1*float64(len(ra)+len(rb)+2) {
			rt.Fatalf("hot %v, by seconds %v", got, hot)
		}
		if at, ok := p.Hindsight().Passed(l, Hot, from, got/2, to); !ok {
			rt.Fatal("half of the age is never passed")
		} else if half, _ := p.Hindsight().Age(l, Hot, from, at); math.Abs(half-got/2) > 1e-6+1e-8*got {
			rt.Fatalf("half of %v is passed at %v with %v", got, at, half)
		}
	})
}

// A seam laid in a bay at 20 °C, carried to a room at 10 °C after ten minutes;
// for half an hour it may still be as warm as the bay. Exact probes, no drift.
func TestSettlingAfterAMove(t *testing.T) {
	warm := courseOf(t, still(), [2]float64{0, 20}, [2]float64{60, 20})
	cool := courseOf(t, still(), [2]float64{0, 10}, [2]float64{60, 10})
	p := must(NewPath(
		Span{From: t0, Zones: []*Course{warm}},
		Span{From: minute(10), Zones: []*Course{cool, warm}},
		Span{From: minute(40), Zones: []*Course{cool}},
	))
	l := plainLaw()
	k := l.Rate(10, Nominal)
	v := p.Hindsight()
	age := func(side Side, to float64) float64 {
		a, ok := v.Age(l, side, t0, minute(to))
		if !ok {
			t.Fatalf("%s age not known", side)
		}
		return a / 60
	}
	near(t, "cold", age(Cold, 50), 10+40*k, 1e-9)
	near(t, "hot", age(Hot, 50), 40+10*k, 1e-9)
	near(t, "nominal", age(Nominal, 50), 10+40*k, 1e-9)
	sameSet(t, "settling", v.Edges(minute(20)), 10, 20)
	sameSet(t, "settled", v.Edges(minute(45)), 10, 10)
	// At 20 min the forecast holds the hull until 40 min, then the cool room:
	// hot 40 + (t - 40) k = 45.
	due, ok := Due(v, l, Hot, t0, 45*60, minute(20), nil)
	if !ok {
		t.Fatal("never due")
	}
	sameTime(t, "hot due", due, minute(40+5/k))
	// As of 30 min each zone was last read at 0: nothing later is settled.
	near(t, "settled as of 30 min", p.AsOf(minute(30)).Settled(l, t0, minute(30)), 0, 0)
	near(t, "settled as of 60 min", p.AsOf(minute(60)).Settled(l, t0, minute(60))/60, 40+20*k, 1e-9)
}

func TestHeatAndMeasuredSurface(t *testing.T) {
	l := plainLaw()
	c := courseOf(t, still(), [2]float64{0, 20}, [2]float64{60, 20})
	lamp := Fixed{Set{20, 60}, 50}
	p := must(NewPath(
		Span{From: t0, Zones: []*Course{c}},
		Span{From: minute(10), Zones: []*Course{c}, Fixed: []Fixed{lamp}},
		Span{From: minute(20), Fixed: []Fixed{{Set{38, 42}, 40}}},
		Span{From: minute(30), Zones: []*Course{c}},
	))
	v := p.AsOf(minute(60))
	want := map[Side]float64{
		Cold:    10 + 10 + 10*l.Rate(38, Cold) + 10,
		Hot:     10 + 10*l.Rate(60, Hot) + 10*l.Rate(42, Hot) + 10,
		Nominal: 10 + 10 + 10*l.Rate(40, Nominal) + 10,
	}
	for side, w := range want {
		age, ok := v.Age(l, side, t0, minute(40))
		if !ok {
			t.Fatalf("%s age not known", side)
		}
		near(t, side.String(), age/60, w, 1e-9)
		at, ok := v.Passed(l, side, t0, age, minute(60))
		if !ok {
			t.Fatalf("%s not passed", side)
		}
		sameTime(t, side.String()+" passed", at, minute(40))
	}
	if n, ok := v.Nominal(minute(25)); !ok || n != 40 {
		t.Errorf("nominal on the measured surface %v %v", n, ok)
	}
	// A measured surface is fresh and settled whatever the room's probe says.
	if early := p.AsOf(minute(25)); !early.Fresh(minute(25)) || early.Fresh(minute(16)) {
		t.Error("freshness over spans")
	}
	if fs := v.Warmer(39, t0, minute(60)); len(fs) != 1 || !fs[0].From.Equal(minute(20)) || !fs[0].To.Equal(minute(30)) {
		t.Errorf("warmer than 39 °C: %v", fs)
	}
}

func TestANominalThatIsNotKnown(t *testing.T) {
	blind, seen := courseOf(t, bay()), courseOf(t, bay(), [2]float64{0, 20})
	l := plainLaw()
	p := must(NewPath(Span{From: t0, Zones: []*Course{seen}}, Span{From: minute(10), Zones: []*Course{blind, seen}}))
	v := p.Hindsight()
	if _, ok := v.Age(l, Nominal, t0, minute(10)); !ok {
		t.Error("nominal in the first zone is known")
	}
	if _, ok := v.Age(l, Nominal, t0, minute(11)); ok {
		t.Error("nominal in a zone without readings is not known")
	}
	if _, ok := v.Passed(l, Nominal, t0, 10, minute(11)); ok {
		t.Error("nominal passed though it is not known")
	}
	if v.Fresh(minute(11)) {
		t.Error("a hull with a blind zone is fresh")
	}
	near(t, "settled with a blind zone", v.Settled(l, minute(10), minute(30)), 0, 0)
	if vd := Judge(p, Clock{Kind: Ready, Law: l, From: t0, Needed: time.Hour}, minute(11)); vd.NominalKnown {
		t.Error("verdict knows a nominal")
	}
}

func TestPathsAreRefused(t *testing.T) {
	c := courseOf(t, bay())
	for what, spans := range map[string][]Span{
		"empty":     nil,
		"nowhere":   {{From: t0}},
		"unsorted":  {{From: minute(5), Zones: []*Course{c}}, {From: t0, Zones: []*Course{c}}},
		"repeated":  {{From: t0, Zones: []*Course{c}}, {From: t0, Zones: []*Course{c}}},
		"set":       {{From: t0, Fixed: []Fixed{{Set{30, 20}, 25}}}},
		"nominal":   {{From: t0, Fixed: []Fixed{{Set{20, 30}, 35}}}},
		"NaN":       {{From: t0, Fixed: []Fixed{{Set{math.NaN(), 30}, 25}}}},
		"very cold": {{From: t0, Fixed: []Fixed{{Set{-100, 30}, 25}}}},
	} {
		if _, err := NewPath(spans...); err == nil {
			t.Errorf("%s: accepted", what)
		}
	}
}
