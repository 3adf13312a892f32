package plan

import "slices"

// Local search in general problems: calendars, windows, frozen loads, several
// booths, tasks. A board reckons moves; the search goes over them in random
// order and takes the first that is better, until none is; then shakes a
// little and goes on from there unless that came out worse.

// board is a plan that moves can be tried on.
type board interface {
	orders() [][]int32 // not to be changed
	value() float64
	try(v move, most float64) float64 // change of value, exact below most
	do(v move)
	load(seq [][]int32)
}

func (t *tour) orders() [][]int32 { return t.seq }
func (t *tour) value() float64    { return t.total }

const blockMost = 4 // loads that move together

// searcher is a local search on a board.
type searcher struct {
	m            *model
	b            board
	d            *dice
	more         func() bool
	tick         int
	reach, block int  // how far and how many loads move
	slow         bool // a move takes long to try: ask for time at each
	over         bool
	best         float64
	seq          [][]int32 // the best orders
	all          []int32   // loads and marks in the orders
	loop         []int32   // the same in the order in which they are looked at
	pos          []place
}

type place struct{ booth, i int32 }

func newSearcher(m *model, b board, d *dice, more func() bool) *searcher {
	s := &searcher{m: m, b: b, d: d, more: more, best: b.value(), seq: clone(b.orders())}
	s.loop = slices.Concat(m.free, m.marks)
	s.all = slices.Clone(s.loop)
	s.pos = make([]place, len(m.loads))
	s.slow = len(m.tasks) > 0 || len(m.loads) > 500
	return s
}

func clone(seq [][]int32) [][]int32 {
	out := make([][]int32, len(seq))
	for b := range seq {
		out[b] = append(make([]int32, 0, len(seq[b])+blockMost), seq[b]...)
	}
	return out
}

// tight is the least gain that counts: what is smaller may be rounding.
func tight(x float64) float64 {
	if x < 0 {
		x = -x
	}
	return 1e-9 * (1 + x)
}

func (s *searcher) stop() bool {
	if s.tick++; (s.slow || s.tick&15 == 0) && !s.over && !s.more() {
		s.over = true
	}
	return s.over
}

func (s *searcher) where() {
	for b, q := range s.b.orders() {
		for i, j := range q {
			s.pos[j] = place{int32(b), int32(i)}
		}
	}
}

// descend makes better moves until there is none. Where a move takes long to
// try, near ones come first: most of what is to be had is there.
func (s *searcher) descend() {
	const near = 6
	if s.slow {
		s.reach, s.block = near, 1
		s.sweep()
	}
	s.reach, s.block = len(s.all), blockMost
	s.sweep()
}

func (s *searcher) sweep() {
	s.where()
	s.d.shuffle(s.loop)
	for still, k := 0, 0; still < len(s.loop) && !s.over; k++ {
		if k == len(s.loop) {
			k = 0
		}
		if s.improve(s.loop[k]) {
			s.where()
			still = 0
		} else {
			still++
		}
	}
}

// improve looks for a better place for a load, alone or with those behind
// it, or for a load to change places with.
func (s *searcher) improve(j int32) bool {
	a, i := int(s.pos[j].booth), int(s.pos[j].i)
	most := -tight(s.b.value())
	take := func(v move) bool {
		if s.stop() || !(s.b.try(v, most) < most) {
			return false
		}
		s.b.do(v)
		return true
	}
	seq := s.b.orders()
	for b := range seq {
		if !s.m.loads[j].may[b] {
			continue
		}
		off := 0
		if n := len(seq[b]); n > 0 {
			off = s.d.below(n + 1)
		}
		for x := 0; x <= len(seq[b]); x++ {
			k := x + off
			if k > len(seq[b]) {
				k -= len(seq[b]) + 1
			}
			if k < i-s.reach || k > i+s.reach {
				continue
			}
			for n := 1; n <= s.block && i+n <= len(seq[a]); n++ {
				if b == a && k >= i && k <= i+n {
					continue
				}
				if take(move{a: a, i: i, n: n, b: b, j: k}) {
					return true
				}
			}
			if k < len(seq[b]) && (b > a || b == a && k > i+1) {
				if take(move{a: a, i: i, n: 1, b: b, j: k, swap: true}) {
					return true
				}
			}
		}
	}
	return false
}

// random is a move that can be made, good or bad.
func (s *searcher) random() (move, bool) {
	seq := s.b.orders()
	if len(s.all) == 0 {
		return move{}, false
	}
	for range 8 {
		s.where()
		j := s.all[s.d.below(len(s.all))]
		l := &s.m.loads[j]
		v := move{a: int(s.pos[j].booth), i: int(s.pos[j].i), n: 1, b: int(l.booths[s.d.below(len(l.booths))])}
		if s.d.below(2) == 0 && len(seq[v.b]) > 0 {
			v.swap = true
			v.j = s.d.below(len(seq[v.b]))
			if other := seq[v.b][v.j]; other == j || !s.m.loads[other].may[v.a] {
				continue
			}
			return v, true
		}
		v.j = s.d.below(len(seq[v.b]) + 1)
		if v.a == v.b && (v.j == v.i || v.j == v.i+1) {
			continue
		}
		return v, true
	}
	return move{}, false
}

// note keeps the board's orders if they are the best so far.
func (s *searcher) note() {
	if v := s.b.value(); v < s.best-tight(s.best) {
		s.best = v
		s.seq = clone(s.b.orders())
	}
}

// iterate goes on for a number of rounds, or until time is over or the cost
// has come down to the floor, and gives the number of rounds made.
func (s *searcher) iterate(rounds int, floor float64) int {
	s.descend()
	s.note()
	cur, now := s.b.value(), clone(s.b.orders())
	for r := range rounds {
		if s.over || s.best <= floor+tight(floor) || !s.more() {
			return r
		}
		for range 2 + s.d.below(3) {
			if v, ok := s.random(); ok {
				s.b.do(v)
			}
		}
		s.descend()
		s.note()
		v := s.b.value()
		if v <= cur+tight(cur) {
			cur, now = v, clone(s.b.orders())
			continue
		}
		if r%100 == 99 {
			cur, now = s.best, clone(s.seq)
		}
		s.b.load(now)
	}
	return rounds
}
