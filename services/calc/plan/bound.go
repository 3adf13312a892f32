package plan

import "slices"

// floor is what every plan costs at least: each load as if it were alone.
func (m *model) floor() float64 {
	c := m.base
	for _, j := range m.free {
		c += m.aloneCost(j)
	}
	return c
}

func (m *model) aloneCost(j int32) float64 {
	l := &m.loads[j]
	at := m.aloneStart(j)
	if at >= never {
		return m.none + l.miss
	}
	return l.cost(at)
}

// aloneStart is the earliest moment at which a load could start if no other
// load that is not frozen had to be sprayed: after the least setup that any
// other could leave it.
func (m *model) aloneStart(j int32) int64 {
	l := &m.loads[j]
	best := int64(never)
	for _, b := range l.booths {
		x := &m.booths[b]
		open := x.open
		if later := x.frozen[x.first.frozen:]; len(later) > 0 {
			open = cut(open, m, later)
		}
		best = min(best, fit(open, max(x.first.t+x.least[l.colour], l.release), l.length))
	}
	return best
}

// leastSetups finds for each booth the least setup into each colour.
func (m *model) leastSetups() {
	for b := range m.booths {
		x := &m.booths[b]
		there := make([]bool, len(m.setup))
		there[x.first.colour] = true
		for j := range m.loads {
			if m.loads[j].may[b] {
				there[m.loads[j].colour] = true
			}
		}
		x.least = slices.Repeat([]int64{never}, len(m.setup))
		for from, row := range m.setup {
			if there[from] {
				for to, s := range row {
					x.least[to] = min(x.least[to], s)
				}
			}
		}
	}
}
