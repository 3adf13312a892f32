package plan

import "slices"

// step is a change of a chain: positions m to j-1 go before i to m-1, or
// with m = 0 positions i and j change places.
type step struct{ i, m, j int }

func (c *chain) do(s step) {
	if s.m == 0 {
		c.job[s.i], c.job[s.j] = c.job[s.j], c.job[s.i]
	} else {
		q := c.job[s.i:s.j]
		slices.Reverse(q[:s.m-s.i])
		slices.Reverse(q[s.m-s.i:])
		slices.Reverse(q)
	}
	c.refresh(s.i)
}

// best is the best step for the load at position i, with the change it
// brings, which is below most; no step changes nothing. The loops hold the
// bounds of exchange and swap with all that stays the same taken out, since
// nearly every move ends there.
func (c *chain) best(i int, most float64) (step, float64) {
	var to step
	for k := 1; k <= blockMost && i+k <= c.n; k++ {
		most = c.onward(i, i+k, most, &to)
		most = c.back(i, i+k, most, &to)
	}
	for j := i + 2; j < c.n; j++ {
		if v := c.swap(i, j, most); v < most {
			most, to = v, step{i, 0, j}
		}
	}
	for j := i - 2; j >= 0; j-- {
		if v := c.swap(j, i, most); v < most {
			most, to = v, step{j, 0, i}
		}
	}
	return to, most
}

// pick gives the sums of weights that bound a shift.
func (c *chain) pick(shift float64) []float64 {
	if shift < 0 {
		return c.late
	}
	return c.edge
}

// onward tries positions i to m-1 behind each later load.
func (c *chain) onward(i, m int, most float64, to *step) float64 {
	n := c.n
	if m >= n {
		return most
	}
	before, free := n, c.first
	if i > 0 {
		before, free = c.job[i-1], c.end[i-1]
	}
	x1, xn := c.job[i], c.job[m-1]
	dy := free + c.s[before*n+c.job[m]] - c.start[m]
	wy := c.pick(dy)
	lateX, edgeX := c.late[m]-c.late[i], c.edge[m]-c.edge[i]
	lateN, edgeN := c.late[n], c.edge[n]
	out := c.s[xn*n : xn*n+n]
	for j := m + 1; j <= n; j++ {
		dx := c.end[j-1] + dy + c.s[c.job[j-1]*n+x1] - c.start[i]
		low := dy * (wy[j] - wy[m])
		if dx < 0 {
			low += dx * lateX
		} else {
			low += dx * edgeX
		}
		dt := c.end[m-1] + dx - c.end[n-1]
		if j < n {
			dt = c.end[m-1] + dx + out[c.job[j]] - c.start[j]
		}
		if dt < 0 {
			low += dt * (lateN - c.late[j] + c.pull)
		} else {
			low += dt * (edgeN - c.edge[j] + c.pull)
		}
		if low >= most {
			continue
		}
		if v := c.exchange(i, m, j, most); v < most {
			most, *to = v, step{i, m, j}
		}
	}
	return most
}

// back tries positions i to m-1 before each earlier load.
func (c *chain) back(i, m int, most float64, to *step) float64 {
	n := c.n
	if i == 0 {
		return most
	}
	y1, xn := c.job[i], c.job[i-1]
	lateY, edgeY := c.late[m]-c.late[i], c.edge[m]-c.edge[i]
	lateT, edgeT := c.late[n]-c.late[m], c.edge[n]-c.edge[m]
	rest := c.end[i-1] - c.end[n-1]
	if m < n {
		rest = c.end[i-1] + c.s[xn*n+c.job[m]] - c.start[m]
	}
	out := c.s[c.job[m-1]*n : c.job[m-1]*n+n]
	for j := i - 1; j >= 0; j-- {
		before, free := n, c.first
		if j > 0 {
			before, free = c.job[j-1], c.end[j-1]
		}
		dy := free + c.s[before*n+y1] - c.start[i]
		dx := c.end[m-1] + dy + out[c.job[j]] - c.start[j]
		low := 0.0
		if dy < 0 {
			low = dy * lateY
		} else {
			low = dy * edgeY
		}
		if dx < 0 {
			low += dx * (c.late[i] - c.late[j])
		} else {
			low += dx * (c.edge[i] - c.edge[j])
		}
		if dt := dx + rest; dt < 0 {
			low += dt * (lateT + c.pull)
		} else {
			low += dt * (edgeT + c.pull)
		}
		if low >= most {
			continue
		}
		if v := c.exchange(j, i, m, most); v < most {
			most, *to = v, step{j, i, m}
		}
	}
	return most
}

// chainSearch is iterated local search on a chain.
type chainSearch struct {
	c     *chain
	d     *dice
	more  func() bool
	told  func(cost float64)
	over  bool
	look  []bool // by load: it may have a better place
	queue []int
	order []int // the best
	best  float64
}

func newChainSearch(c *chain, d *dice, more func() bool) *chainSearch {
	return &chainSearch{c: c, d: d, more: more, look: make([]bool, c.n), order: slices.Clone(c.job), best: c.cost[c.n]}
}

// wake marks the loads around a position to be looked at.
func (s *chainSearch) wake(k int) {
	for x := max(0, k-1); x <= min(k+1, s.c.n-1); x++ {
		if j := s.c.job[x]; !s.look[j] {
			s.look[j] = true
			s.queue = append(s.queue, j)
		}
	}
}

// descend makes the best step of each load that may have one until none has.
func (s *chainSearch) descend() {
	c := s.c
	for len(s.queue) > 0 {
		k := s.d.below(len(s.queue))
		j := s.queue[k]
		s.queue[k] = s.queue[len(s.queue)-1]
		s.queue = s.queue[:len(s.queue)-1]
		s.look[j] = false
		i := slices.Index(c.job, j)
		to, v := c.best(i, -tight(c.total))
		if v >= -tight(c.total) {
			continue
		}
		c.do(to)
		s.wake(to.i)
		s.wake(to.j - 1)
		s.wake(min(to.j, c.n-1))
		if to.m > 0 {
			s.wake(to.i + to.j - to.m)
		}
		if s.over = s.over || !s.more(); s.over {
			s.queue = s.queue[:0]
			clear(s.look)
		}
	}
}

func (s *chainSearch) all() {
	for k := range s.c.n {
		s.wake(k)
	}
}

// shake makes a few random steps close together.
func (s *chainSearch) shake() {
	const near = 20
	n := s.c.n
	if n < 3 {
		return
	}
	for range 2 + s.d.below(3) {
		i := s.d.below(n)
		j := max(0, min(n-1, i-near+s.d.below(2*near+1)))
		if i == j {
			continue
		}
		i, j = min(i, j), max(i, j)
		if s.d.below(2) == 0 && j > i+1 {
			s.c.do(step{i, 0, j})
		} else {
			s.c.do(step{i, i + 1, j + 1})
		}
		s.wake(i)
		s.wake(j)
	}
}

// note keeps the chain's order if it is the best so far.
func (s *chainSearch) note() {
	if v := s.c.cost[s.c.n]; v < s.best {
		s.best = v
		copy(s.order, s.c.job)
		if s.told != nil {
			s.told(v)
		}
	}
}

// done reports that there is nothing more to be had or no time left.
func (s *chainSearch) done(floor float64) bool {
	s.over = s.over || !s.more()
	return s.over || s.best <= floor+tight(floor)
}
