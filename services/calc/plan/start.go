package plan

import (
	"math"
	"slices"
)

// firstOrders are orders to begin a search from: loads by several rules, each
// put behind the booth where it can start first. Tasks are not looked at.
func (m *model) firstOrders() [][]int32 {
	var best [][]int32
	least := math.Inf(1)
	for _, rule := range []func(l *load) float64{
		func(l *load) float64 { return float64(min(l.slackEnd, l.latest)) },
		func(l *load) float64 { return float64(l.release) },
		func(l *load) float64 { return float64(l.length) / (l.weight + 1e-12) },
		func(l *load) float64 { return float64(min(l.slackEnd, l.latest) + l.length) },
	} {
		seq := m.inOrder(m.sorted(rule))
		if c := newTour(m, seq).total; c < least {
			best, least = seq, c
		}
	}
	if n := len(m.free); n <= 1500 {
		for _, k := range []float64{0.5, 1, 2, 4} {
			seq := m.greedy(k)
			if c := newTour(m, seq).total; c < least {
				best, least = seq, c
			}
		}
	}
	return best
}

func (m *model) sorted(rule func(l *load) float64) []int32 {
	out := slices.Clone(m.free)
	slices.SortStableFunc(out, func(x, y int32) int {
		a, b := rule(&m.loads[x]), rule(&m.loads[y])
		switch {
		case a < b:
			return -1
		case a > b:
			return 1
		}
		return 0
	})
	return out
}

// inOrder puts loads one after the other where each can start first.
func (m *model) inOrder(loads []int32) [][]int32 {
	seq, at := m.empty()
	for _, j := range loads {
		best, when := -1, int64(math.MaxInt64)
		for _, b := range m.loads[j].booths {
			s := at[b]
			if t := m.place(int(b), &s, j, 0); t < when {
				best, when = int(b), t
			}
		}
		m.place(best, &at[best], j, 0)
		seq[best] = append(seq[best], j)
	}
	return seq
}

func (m *model) empty() ([][]int32, []state) {
	seq, at := make([][]int32, len(m.booths)), make([]state, len(m.booths))
	for b := range at {
		at[b] = m.booths[b].first
	}
	return seq, at
}

// greedy takes at each step the load with the greatest urgency: weight by
// length, less the longer it may still wait and the later it would start
// (apparent tardiness cost of Vepsalainen and Morton 1987, with the waiting
// for setups of Lee, Bhaskaran and Pinedo 1997; both from memory).
func (m *model) greedy(k float64) [][]int32 {
	seq, at := m.empty()
	mean := 1.0
	for _, j := range m.free {
		mean += float64(m.loads[j].length) / float64(len(m.free))
	}
	left := slices.Clone(m.free)
	for len(left) > 0 {
		best, bestB, top := 0, -1, math.Inf(-1)
		for x, j := range left {
			l := &m.loads[j]
			for _, b := range l.booths {
				s := at[b]
				t := m.place(int(b), &s, j, 0)
				wait := float64(min(t, never/2) - at[b].t)
				slack := float64(max(0, min(l.slackEnd, l.latest)-t))
				u := math.Log((l.weight+1e-9)/float64(l.length)) - slack/(k*mean) - wait/(0.3*mean)
				if u > top {
					best, bestB, top = x, int(b), u
				}
			}
		}
		j := left[best]
		m.place(bestB, &at[bestB], j, 0)
		seq[bestB] = append(seq[bestB], j)
		left = slices.Delete(left, best, best+1)
	}
	return seq
}
