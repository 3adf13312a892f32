package plan

import "slices"

// Sizes of the pool, found by trial on the published instances.
const (
	poolMost    = 6
	poolStale   = 60  // orders made for nothing before the pool is begun anew
	poolStretch = 100 // rounds of local search from each order
	poolLong    = 400 // with very many loads the rounds are their number squared by this
	shakeReach  = 16  // positions that one shake touches
)

// pooled is a good order in the pool.
type pooled struct {
	order []int32
	cost  int64
}

// iterate goes on for a number of rounds, until More says no, or the cost is
// down to the floor, and gives the rounds made.
//
// It keeps a few good orders: the first come from shaken starts, each later
// one is a stretch of one of them with the rest in the sequence of another
// (linear order crossover, Falkenauer and Bouffouix 1991, from memory). Each
// is searched from for a while and kept if it is better than the worst. When
// none has been for long, the pool is begun anew.
func (s *chainSearch) iterate(rounds int, floor int64) int {
	var pool []pooled
	made, stale := 0, 0
	for made < rounds && !s.done(floor) {
		switch {
		case len(pool) == poolMost:
			s.cross(pool[s.d.below(poolMost)].order, pool[s.d.below(poolMost)].order)
		case made > 0:
			s.c.take(s.order)
			for range s.c.n {
				s.shake()
			}
		}
		made += s.stretch(min(max(poolStretch, s.c.n*s.c.n/poolLong), rounds-made), floor)
		var kept bool
		if pool, kept = s.keep(pool); kept {
			stale = 0
		} else if stale++; stale > poolStale {
			pool, stale = pool[:0], 0
		}
		if s.c.n < 3 {
			break
		}
	}
	return made
}

// keep takes the chain's order into the pool, and reports that, unless it is no
// better than the worst there or costs the same as another.
func (s *chainSearch) keep(pool []pooled) ([]pooled, bool) {
	cost := s.c.total
	if slices.ContainsFunc(pool, func(k pooled) bool { return k.cost == cost }) {
		return pool, false
	}
	if len(pool) < poolMost {
		return append(pool, pooled{slices.Clone(s.c.loads()), cost}), true
	}
	worst := 0
	for x := range pool {
		if pool[x].cost > pool[worst].cost {
			worst = x
		}
	}
	if cost < pool[worst].cost {
		pool[worst].cost = cost
		copy(pool[worst].order, s.c.loads())
		return pool, true
	}
	return pool, false
}

// cross puts a stretch of a where it stands and the other loads around it in
// the sequence of b.
func (s *chainSearch) cross(a, b []int32) {
	n := s.c.n
	i, j := s.d.below(n), s.d.below(n)
	i, j = min(i, j), max(i, j)+1
	in := make([]bool, n)
	for _, x := range a[i:j] {
		in[x] = true
	}
	out := make([]int32, 0, n)
	for _, x := range b {
		if len(out) == i {
			out = append(out, a[i:j]...)
		}
		if !in[x] {
			out = append(out, x)
		}
	}
	if len(out) == i {
		out = append(out, a[i:j]...)
	}
	s.c.take(out)
}

// stretch is iterated local search from the chain's order, ties accepted; it
// ends with the chain at the last order that was.
func (s *chainSearch) stretch(rounds int, floor int64) int {
	c := s.c
	s.all()
	s.descend()
	s.note()
	cur, now := c.total, slices.Clone(c.loads())
	for r := range rounds {
		if s.done(floor) {
			return r
		}
		s.shake()
		s.descend()
		s.note()
		if c.total > cur || s.over {
			c.take(now)
			continue
		}
		cur = c.total
		copy(now, c.loads())
	}
	return rounds
}
