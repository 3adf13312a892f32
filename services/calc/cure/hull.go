package cure

import (
	"math"
	"slices"
)

// hull is the set of a span: all of its views and fixed temperatures.
type hull struct {
	views []View
	fixed []Fixed
}

// single is the view of a span that is just one zone, which has sums.
func (h hull) single() (View, bool) {
	if len(h.views) == 1 && len(h.fixed) == 0 {
		return h.views[0], true
	}
	return View{}, false
}

func (h hull) edges(ns int64) Set {
	s := Set{math.Inf(1), math.Inf(-1)}
	for _, v := range h.views {
		s = s.Hull(v.edges(ns))
	}
	for _, f := range h.fixed {
		s = s.Hull(f.Set)
	}
	return s
}

func (h hull) nominal(ns int64) (float64, bool) {
	if len(h.views) > 0 {
		return h.views[0].nominal(ns)
	}
	return h.fixed[0].NominalC, true
}

func (h hull) ahead(at int64) Outlook {
	o := Outlook{From: moment(at), Set: Set{math.Inf(1), math.Inf(-1)}}
	for _, v := range h.views {
		o.Set = o.Set.Hull(v.ahead(at).Set)
	}
	for _, f := range h.fixed {
		o.Set = o.Set.Hull(f.Set)
	}
	o.NominalC, o.NominalKnown = h.nominal(at)
	return o
}

// lastBy is up to when the hull is settled: the earliest of its zones' last
// readings not after ns. Fixed temperatures are settled throughout.
func (h hull) lastBy(ns int64) (int64, bool) {
	least := ns
	for _, v := range h.views {
		last, ok := v.lastBy(ns)
		if !ok {
			return 0, false
		}
		least = min(least, last)
	}
	return least, true
}

func (h hull) age(l Law, side Side, from, to int64) (float64, bool) {
	if v, ok := h.single(); ok {
		return v.age(l, side, from, to)
	}
	if side == Nominal && len(h.views) > 0 {
		return h.views[0].age(l, side, from, to)
	}
	var sum float64
	for _, p := range h.pieces(side, from, to) {
		sum += l.over(side, p.t1-p.t0, p.c0, p.c1)
	}
	return sum, true
}

// reach is the first moment from `from` on at which the age equals amount,
// at most to.
func (h hull) reach(l Law, side Side, from int64, amount float64, to int64) int64 {
	one, ok := h.single()
	if !ok && side == Nominal && len(h.views) > 0 {
		one, ok = h.views[0], true
	}
	if ok {
		if at, passed := one.passed(l, side, from, amount, to); passed {
			return at
		}
		return to
	}
	for _, p := range h.pieces(side, from, to) {
		got := l.over(side, p.t1-p.t0, p.c0, p.c1)
		if got >= amount {
			return clip(from, p.t0+l.reach(side, p.t1-p.t0, p.c0, p.c1, amount), to)
		}
		amount -= got
	}
	return to
}

// piece is a straight bit of an edge: seconds since some base and °C.
type piece struct{ t0, t1, c0, c1 float64 }

// at is the temperature at a moment of the piece.
func (p piece) at(t float64) float64 {
	if t <= p.t0 || p.c0 == p.c1 {
		return p.c0
	}
	if t >= p.t1 {
		return p.c1
	}
	return p.c0 + (p.c1-p.c0)*(t-p.t0)/(p.t1-p.t0)
}

// pieces adds the straight pieces of one side within [from, to], in seconds
// since from.
func (v View) pieces(ps []piece, side Side, from, to int64) []piece {
	i, j := v.at(from), v.at(to)
	for ps = slices.Grow(ps, 2*(j-i+1)); i <= j; i++ {
		s := v.segment(i, from)
		end := to
		if i < j {
			end = v.c.marks[i+1].at
		}
		t0, t1 := seconds(s.start, max(from, s.start)), seconds(s.start, end)
		if t1 <= t0 {
			continue
		}
		var buf cutBuf
		cs := s.cuts(side, t0, t1, &buf)
		c, shift := s.value(side, t0), seconds(from, s.start)
		for k := 1; k < len(cs); k++ {
			next := s.value(side, cs[k])
			ps = append(ps, piece{cs[k-1] + shift, cs[k] + shift, c, next})
			c = next
		}
	}
	return ps
}

// pieces of the hull: the least of the lower edges, or the greatest of the
// upper ones, with breaks also where edges cross.
func (h hull) pieces(side Side, from, to int64) []piece {
	if side == Nominal {
		return h.nominals(from, to)
	}
	var all, one, next []piece // whose room is used again for each that is joined
	join := func() {
		if all == nil {
			all, one = one, nil
		} else {
			next = envelope(next[:0], all, one, side)
			all, next = next, all
		}
	}
	for _, v := range h.views {
		one = v.pieces(one[:0], side, from, to)
		join()
	}
	for _, f := range h.fixed {
		c := f.Set.Lo
		if side == Hot {
			c = f.Set.Hi
		}
		one = append(one[:0], piece{0, seconds(from, to), c, c})
		join()
	}
	return all
}

// nominals are the pieces of the first zone, else of the first fixed
// temperature; none when it is not known.
func (h hull) nominals(from, to int64) []piece {
	if len(h.views) > 0 {
		return h.views[0].nominals(from, to)
	}
	c := h.fixed[0].NominalC
	return []piece{{0, seconds(from, to), c, c}}
}

// envelope adds the lower (cold) or upper (hot) of two lines of pieces that
// cover the same span.
func envelope(out, as, bs []piece, side Side) []piece {
	out = slices.Grow(out, len(as)+len(bs))
	sign := 1.0
	if side == Hot {
		sign = -1
	}
	for i, j, t := 0, 0, 0.0; i < len(as) && j < len(bs); {
		a, b := as[i], bs[j]
		u, v := t, math.Min(a.t1, b.t1)
		if a.t1 <= v {
			i++
		}
		if b.t1 <= v {
			j++
		}
		t = v
		if v > u {
			out = lesser(out, a, b, u, v, sign)
		}
	}
	return out
}

// lesser adds the lesser (sign 1) or greater (sign -1) of two straight pieces
// over [u, v].
func lesser(out []piece, a, b piece, u, v, sign float64) []piece {
	au, av, bu, bv := a.at(u), a.at(v), b.at(u), b.at(v)
	du, dv := sign*(au-bu), sign*(av-bv)
	switch {
	case du <= 0 && dv <= 0:
		return append(out, piece{u, v, au, av})
	case du >= 0 && dv >= 0:
		return append(out, piece{u, v, bu, bv})
	}
	m := u + (v-u)*du/(du-dv)
	am, bm := a.at(m), b.at(m)
	if du < 0 {
		return append(out, piece{u, m, au, am}, piece{m, v, bm, bv})
	}
	return append(out, piece{u, m, bu, bm}, piece{m, v, am, av})
}
