package plan

import "sort"

// state is where a booth stands between two loads: free from t on with a
// colour in the gun and a number of its frozen loads behind it.
type state struct {
	t      int64
	colour int32
	frozen int32
}

// fit is the earliest start from t on of something of a length inside one
// span; never if there is none. Later t never gives an earlier start.
func fit(open []span, t, length int64) int64 {
	i, end := 0, t+length
	if len(open) > 8 {
		i = sort.Search(len(open), func(k int) bool { return open[k].to >= end })
	}
	for ; i < len(open); i++ {
		if s := max(t, open[i].from); s+length <= open[i].to {
			return s
		}
	}
	return never
}

// fitLate is the latest start of something of a length inside one span that
// ends by `by`; -never if there is none.
func fitLate(open []span, by, length int64) int64 {
	for i := len(open) - 1; i >= 0; i-- {
		if s := min(by, open[i].to) - length; s >= open[i].from {
			return s
		}
	}
	return -never
}

// pass lets the next frozen load of a booth go first. A booth is free from
// the start in its own colour, so one that had ended by then changes nothing.
func (m *model) pass(b int, s *state) {
	f := &m.loads[m.booths[b].frozen[s.frozen]]
	s.frozen++
	if end := f.at + f.length; end > 0 {
		s.t, s.colour = max(s.t, end), f.colour
	}
}

// place puts a load behind a state, as early as it can stand: after its setup,
// from ready on, inside an open interval and clear of frozen loads, which are
// let pass when it does not fit before them. It gives the start and moves the
// state on; without a place it gives never and leaves the state as it was.
func (m *model) place(b int, s *state, j int32, ready int64) int64 {
	l, x := &m.loads[j], &m.booths[b]
	ready = max(ready, l.release)
	now := *s
	for {
		at := fit(x.open, max(now.t+m.setup[now.colour][l.colour], ready), l.length)
		if int(now.frozen) < len(x.frozen) {
			f := &m.loads[x.frozen[now.frozen]]
			if at >= never || at+l.length+m.setup[l.colour][f.colour] > f.at {
				m.pass(b, &now)
				continue
			}
		}
		if at >= never {
			return never
		}
		now.t, now.colour = at+l.length, l.colour
		*s = now
		return at
	}
}

// placeCost puts a load behind a state and gives its cost; without a place
// the state stays and the cost is that of a load left out.
//
// A frozen load in an order is a mark: what comes behind it in the order comes
// behind it in the booth too. Where setups are longer than a detour over a
// third colour that can be cheaper than going before it.
func (m *model) placeCost(b int, s *state, j int32) float64 {
	if m.loads[j].fixed >= 0 {
		m.mark(b, s, j)
		return 0
	}
	at := m.place(b, s, j, 0)
	if at >= never {
		return m.none + m.loads[j].miss
	}
	return m.loads[j].cost(at)
}

// mark lets a frozen load pass, and those before it.
func (m *model) mark(b int, s *state, j int32) {
	for s.frozen <= m.loads[j].nth {
		m.pass(b, s)
	}
}
