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

// chainSearch is iterated local search on a chain.
type chainSearch struct {
	c     *chain
	d     *dice
	more  func() bool
	told  func(cost float64)
	over  bool
	look  []bool // by load: it may have a better place
	queue []int32
	order []int32 // the best
	best  int64
}

func newChainSearch(c *chain, d *dice, more func() bool) *chainSearch {
	return &chainSearch{c: c, d: d, more: more, look: make([]bool, c.n), order: slices.Clone(c.loads()), best: c.value()}
}

// wake marks the loads around a position to be looked at.
func (s *chainSearch) wake(k int) {
	for x := max(1, k-1); x <= min(k+1, s.c.n); x++ {
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
		to, v := c.best(i, 0)
		if v >= 0 {
			continue
		}
		c.do(to)
		s.wake(to.i)
		s.wake(to.j - 1)
		s.wake(to.j)
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
		s.wake(k + 1)
	}
}

// shake lets two stretches of loads, side by side and chosen by chance, change
// places. The local search seldom finds back from there, though no more than
// three loads follow others than before.
func (s *chainSearch) shake() {
	c := s.c
	if c.n < 3 {
		return
	}
	i := 1 + s.d.below(c.n-1)
	j := min(c.n, i+1+s.d.below(shakeReach))
	m := i + 1 + s.d.below(j-i)
	c.do(step{i, m, j + 1})
	s.wake(i)
	s.wake(i + j + 1 - m)
	s.wake(j)
}

// note keeps the chain's order if it is the best so far.
func (s *chainSearch) note() {
	if v := s.c.value(); v < s.best {
		s.best = v
		copy(s.order, s.c.loads())
		if s.told != nil {
			s.told(float64(v) * s.c.unit)
		}
	}
}

// done reports that there is nothing more to be had or no time left.
func (s *chainSearch) done(floor int64) bool {
	s.over = s.over || !s.more()
	return s.over || s.best <= floor
}
