package cure

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// twin does by brute force what the package does cleverly: it reckons the set
// afresh at every second from the words of the rule and adds up rates.
type twin struct {
	z  Zone
	rs []Reading
}

// sets walks the readings and returns the set at each, and which jumped.
func (w twin) sets() (sets []Set, jumped []bool) {
	for i, r := range w.rs {
		e := w.z.ProbeErrorC + r.ExtraErrorC
		read := Set{r.C - e, r.C + e}
		g := w.z.Limits.Hull(read)
		if i > 0 {
			last, inside := sets[i-1], w.z.Limits.Hull(sets[i-1]).Hull(read)
			k := w.z.DriftPerMin * r.At.Sub(w.rs[i-1].At).Minutes()
			g = Set{math.Max(last.Lo-k, inside.Lo), math.Min(last.Hi+k, inside.Hi)}
		}
		if g.Lo <= read.Hi+1e-9 && read.Lo <= g.Hi+1e-9 {
			sets, jumped = append(sets, Set{math.Max(g.Lo, read.Lo), math.Min(g.Hi, read.Hi)}), append(jumped, false)
		} else {
			sets, jumped = append(sets, g.Hull(read)), append(jumped, true)
		}
	}
	return sets, jumped
}

// at gives both edges and the nominal strictly between readings.
func (w twin) at(t time.Time, sets []Set, jumped []bool) (lo, hi, nominal float64) {
	i := -1
	for i+1 < len(w.rs) && !w.rs[i+1].At.After(t) {
		i++
	}
	grow := func(s Set, k float64, in Set) Set { return Set{math.Max(s.Lo-k, in.Lo), math.Min(s.Hi+k, in.Hi)} }
	s := w.z.Limits
	switch {
	case i < 0:
		if len(w.rs) > 0 {
			nominal = w.rs[0].C
		}
	case i == len(w.rs)-1:
		s = grow(sets[i], w.z.DriftPerMin*t.Sub(w.rs[i].At).Minutes(), w.z.Limits.Hull(sets[i]))
		nominal = w.rs[i].C
	default:
		a, b := w.rs[i], w.rs[i+1]
		in := w.z.Limits.Hull(sets[i]).Hull(sets[i+1])
		fore := grow(sets[i], w.z.DriftPerMin*t.Sub(a.At).Minutes(), in)
		back := w.z.DriftPerMin * b.At.Sub(t).Minutes()
		if jumped[i+1] {
			e := w.z.ProbeErrorC + b.ExtraErrorC
			s = fore.Hull(grow(Set{b.C - e, b.C + e}, back, in))
		} else {
			aft := grow(sets[i+1], back, in)
			s = Set{math.Max(fore.Lo, aft.Lo), math.Min(fore.Hi, aft.Hi)}
		}
		nominal = a.C + (b.C-a.C)*float64(t.Sub(a.At))/float64(b.At.Sub(a.At))
	}
	return s.Lo, s.Hi, math.Min(math.Max(nominal, s.Lo), s.Hi)
}

// age adds up the rates at the middle of every second.
func (w twin) age(low, high, ref, least float64, side Side, from, to time.Time) float64 {
	sets, jumped := w.sets()
	k := func(ea, c float64) float64 { return math.Exp(-ea / 8.314462618 * (1/(c+273.15) - 1/(ref+273.15))) }
	var sum float64
	for t := from; t.Before(to); t = t.Add(time.Second) {
		lo, hi, nominal := w.at(t.Add(time.Second/2), sets, jumped)
		switch {
		case side == Hot:
			sum += math.Max(k(low, hi), k(high, hi))
		case side == Cold && lo >= least-1e-9:
			sum += math.Min(k(low, lo), k(high, lo))
		case side == Nominal && nominal >= least-1e-9:
			sum += k((low+high)/2, nominal)
		}
	}
	return sum
}

func TestAgesAgreeWithTheSecondBySecondTwin(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		z, l, rs := drawZone(rt), drawLaw(rt), drawReadings(rt, 8)
		c := build(t, z, rs)
		from := drawTime(rt, "from")
		to := from.Add(time.Duration(rapid.IntRange(0, 3*3600).Draw(rt, "span")) * time.Second)
		low, _, high := l.EnergyJ()
		least, ok := l.MinTempC()
		if !ok {
			least = -300
		}
		for _, side := range []Side{Cold, Hot, Nominal} {
			got, ok := c.Hindsight().Age(l, side, from, to)
			if !ok {
				if side != Nominal || len(rs) > 0 {
					rt.Fatalf("%s age not known with %d readings", side, len(rs))
				}
				continue
			}
			want := twin{z, rs}.age(low, high, l.ReferenceC(), least, side, from, to)
			// A bend or a stall inside a second costs the twin up to one
			// second's rate; there are a few of them between two readings.
			slack := 1e-5*want + 8*float64(len(rs)+2)
			if least == -300 {
				slack = 1e-4*want + 0.05*float64(len(rs)+2)
			}
			if math.Abs(got-want) > slack {
				rt.Fatalf("%s age %v to %v: %.9g, by seconds %.9g", side, from, to, got, want)
			}
		}
	})
}

func TestEdgesAgreeWithTheTwin(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		z, rs := drawZone(rt), drawReadings(rt, 8)
		c := build(t, z, rs)
		sets, jumped := twin{z, rs}.sets()
		for i, r := range rs {
			got := c.Hindsight().Edges(r.At)
			if math.Abs(got.Lo-sets[i].Lo) > 1e-8 || math.Abs(got.Hi-sets[i].Hi) > 1e-8 {
				rt.Fatalf("set at reading %d: %v, by the rule %v", i, got, sets[i])
			}
		}
		at := drawTime(rt, "at").Add(time.Second / 3)
		lo, hi, nominal := twin{z, rs}.at(at, sets, jumped)
		got := c.Hindsight().Edges(at)
		if math.Abs(got.Lo-lo) > 1e-8 || math.Abs(got.Hi-hi) > 1e-8 {
			rt.Fatalf("edges at %v: %v, by the rule %v to %v", at, got, lo, hi)
		}
		if n, ok := c.Hindsight().Nominal(at); ok && math.Abs(n-nominal) > 1e-8 {
			rt.Fatalf("nominal at %v: %v, by the rule %v", at, n, nominal)
		}
	})
}
