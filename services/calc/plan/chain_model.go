package plan

import "slices"

// chainOf gives the chain that a model amounts to, or nil: one booth that
// stays open for as long as all loads can take, nothing frozen, no later
// releases, no windows that cost, no waits that do, no tasks.
func (m *model) chainOf() *chain {
	n := len(m.free)
	if len(m.booths) != 1 || len(m.tasks) > 0 || len(m.marks) > 0 || n < 2 || n > 2000 {
		return nil
	}
	b := &m.booths[0]
	end := b.first.t
	for _, j := range m.free {
		l := &m.loads[j]
		if l.release > b.first.t || l.latest < never && l.miss > 0 || l.wait > 0 {
			return nil
		}
		most := m.setup[b.first.colour][l.colour]
		for _, i := range m.free {
			if i != j {
				most = max(most, m.setup[m.loads[i].colour][l.colour])
			}
		}
		if most > setupMost {
			return nil
		}
		end += l.length + most
	}
	if end > 1<<50 || !slices.ContainsFunc(b.open, func(o span) bool { return o.from <= b.first.t && end <= o.to }) {
		return nil
	}
	c := newChain(n, b.first.t)
	weights := make([]float64, n)
	for x, j := range m.free {
		l := &m.loads[j]
		c.p[x], c.d[x], weights[x] = l.length, l.slackEnd, l.weight
		for y, i := range m.free {
			if i != j {
				c.setup(y, x, int32(m.setup[m.loads[i].colour][l.colour]))
			}
		}
		c.setup(n, x, int32(m.setup[b.first.colour][l.colour]))
	}
	c.weigh(weights)
	return c
}

// runChain searches for the best order of a chain from orders given.
func (s *solver) runChain(c *chain, seq [][]int32, rounds int) [][]int32 {
	number := make([]int32, len(s.m.loads))
	for x, j := range s.m.free {
		number[j] = int32(x)
	}
	order := make([]int32, 0, c.n)
	for _, j := range seq[0] {
		order = append(order, number[j])
	}
	c.take(order)
	x := newChainSearch(c, s.d, s.more)
	s.done += x.iterate(rounds, c.floor())
	out := make([]int32, 0, c.n)
	for _, k := range x.order {
		out = append(out, s.m.free[k])
	}
	return [][]int32{out}
}
