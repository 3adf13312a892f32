package run

import (
	"cmp"
	"slices"
)

// How hard a run is looked for.
const (
	width       = 24      // labels of each size that are kept
	wholeWidth  = 1 << 20 // more than runs that are settled have; keeps what is contrived within memory
	polishTries = 30000   // of local search, for each run that it begins with
	mostRounds  = 600_000 // moves that are followed until the best so far has to do: a quarter of a second, half of one on a slow machine
)

// Make plans a sealing run. Errors are faults of kind Invalid, for a problem
// that is ill-formed; seams that cannot be laid are told in the run, and the
// rest is planned.
func Make(p Problem) (Run, error) {
	if err := p.Validate(); err != nil {
		return Run{}, err
	}
	m := newModel(p)
	naive := m.decode(m.asGiven(), false)
	best, least := m.solve(naive, mostRounds)
	best, others := m.others(best)
	return m.report(best, naive, least, others), nil
}

func (m *model) asGiven() []int {
	order := make([]int, len(m.seams))
	for i := range order {
		order[i] = i
	}
	return order
}

// solve finds the best run that it can within so many rounds, and what any run
// comes to at least: as much as the best, when that is proved.
func (m *model) solve(naive way, rounds int) (best way, least cost) {
	best, least = m.improve(naive, &rounds)
	if len(m.seams) > ExactSeams {
		return best, least
	}
	for _, w := range []int{10 * width, 100 * width, wholeWidth} { // the better the run begun with, the less is left to look at
		if least.less(best.cost) && rounds > 0 {
			var l cost
			best, l = m.explore(best, w, &rounds)
			least = least.most(l)
		}
	}
	return best, least
}

// improve finds a good run where the best would take too long.
func (m *model) improve(naive way, rounds *int) (best way, least cost) {
	best = m.polish(m.greedy(naive), polishTries)
	found, least := m.explore(best, width, rounds)
	if found.cost.less(best.cost) {
		best = m.polish(found, polishTries)
	}
	return best, least.most(m.bound0(best))
}

// bound0 is what any run comes to at least.
func (m *model) bound0(w way) cost {
	st, r := m.begin(), m.newRest()
	m.gather(st.done, r)
	return m.bound(&st, r, int(w.cost.left))
}

// greedy is the best of some greedy runs and the one given.
func (m *model) greedy(best way) way {
	for _, order := range m.orders() {
		for _, ahead := range []bool{false, true} {
			if w := m.decode(order, ahead); w.cost.less(best.cost) {
				best = w
			}
		}
	}
	return best
}

// orders are greedy orders to begin with: same product, same tip, narrow cuts
// first, along the panels; and the same with the thirsty seams first.
func (m *model) orders() [][]int {
	along, thirsty := m.asGiven(), m.asGiven()
	slices.SortStableFunc(along, func(i, j int) int {
		a, b := &m.seams[i], &m.seams[j]
		return cmp.Or(
			cmp.Compare(a.prod, b.prod), cmp.Compare(a.tip.kind, b.tip.kind), cmp.Compare(a.tip.cut, b.tip.cut),
			cmp.Compare(a.panel, b.panel), cmp.Compare(i, j),
		)
	})
	slices.SortStableFunc(thirsty, func(i, j int) int {
		a, b := &m.seams[i], &m.seams[j]
		return cmp.Or(
			cmp.Compare(a.prod, b.prod), cmp.Compare(a.tip.kind, b.tip.kind), cmp.Compare(b.vol, a.vol), cmp.Compare(i, j),
		)
	})
	return [][]int{m.asGiven(), along, thirsty}
}
