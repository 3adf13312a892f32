package plan

import "slices"

// tour is one order of loads for each booth with what follows from it at
// every position, so that a change is reckoned from where it begins to where
// the booth stands as it did before.
type tour struct {
	m     *model
	seq   [][]int32
	at    [][]state   // at[b][i]: booth b before its i-th load
	cost  [][]float64 // cost[b][i]: of the loads of b before its i-th
	total float64     // of all booths
}

func newTour(m *model, seq [][]int32) *tour {
	t := &tour{m: m, at: make([][]state, len(seq)), cost: make([][]float64, len(seq))}
	t.load(seq)
	return t
}

// load takes over a copy of other orders.
func (t *tour) load(seq [][]int32) {
	if t.seq == nil {
		t.seq = make([][]int32, len(seq))
	}
	for b := range seq {
		t.seq[b] = append(t.seq[b][:0], seq[b]...)
		t.refresh(b, 0)
	}
	t.sum()
}

// refresh reckons booth b anew from its i-th load on.
func (t *tour) refresh(b, i int) {
	n := len(t.seq[b]) + 1
	t.at[b] = slices.Grow(t.at[b][:0], n)[:n]
	t.cost[b] = slices.Grow(t.cost[b][:0], n)[:n]
	if i == 0 {
		t.at[b][0], t.cost[b][0] = t.m.booths[b].first, 0
	}
	s, c := t.at[b][i], t.cost[b][i]
	for ; i < n-1; i++ {
		c += t.m.placeCost(b, &s, t.seq[b][i])
		t.at[b][i+1], t.cost[b][i+1] = s, c
	}
}

func (t *tour) sum() {
	t.total = 0
	for b := range t.seq {
		t.total += t.cost[b][len(t.seq[b])]
	}
}

// end is what booth b costs.
func (t *tour) end(b int) float64 { return t.cost[b][len(t.seq[b])] }

// run reckons what booth b costs when the pieces stand behind its first i
// loads and its own loads from k on behind those. It stops with a value above
// the limit as soon as the limit is passed, and where the booth stands as it
// did before.
func (t *tour) run(b, i int, limit float64, k int, pieces ...[]int32) float64 {
	s, c := t.at[b][i], t.cost[b][i]
	for _, piece := range pieces {
		for _, j := range piece {
			if c += t.m.placeCost(b, &s, j); c > limit {
				return c
			}
		}
	}
	at, cost := t.at[b], t.cost[b]
	for n := len(t.seq[b]); k < n; k++ {
		if s == at[k] {
			return c + cost[n] - cost[k]
		}
		if c += t.m.placeCost(b, &s, t.seq[b][k]); c > limit {
			return c
		}
	}
	return c
}

// move is a change of the orders: the n loads from position i of booth a on
// go in front of position j of booth b; or, when swap is set, the loads at
// those two positions change places.
type move struct {
	a, i, n, b, j int
	swap          bool
}

// try reckons the change of cost that a move would bring; a value that is
// not below most may be anything not below most.
func (t *tour) try(v move, most float64) float64 {
	switch {
	case v.a == v.b && v.swap:
		lo, hi := min(v.i, v.j), max(v.i, v.j)
		q := t.seq[v.a]
		return t.run(v.a, lo, t.end(v.a)+most, hi+1, q[hi:hi+1], q[lo+1:hi], q[lo:lo+1]) - t.end(v.a)
	case v.a == v.b && v.j > v.i:
		q := t.seq[v.a]
		return t.run(v.a, v.i, t.end(v.a)+most, v.j, q[v.i+v.n:v.j], q[v.i:v.i+v.n]) - t.end(v.a)
	case v.a == v.b:
		q := t.seq[v.a]
		return t.run(v.a, v.j, t.end(v.a)+most, v.i+v.n, q[v.i:v.i+v.n], q[v.j:v.i]) - t.end(v.a)
	}
	x, y := t.seq[v.a][v.i:v.i+v.n], t.seq[v.b][v.j:v.j]
	if v.swap {
		y = t.seq[v.b][v.j : v.j+1]
	}
	for _, l := range x {
		if !t.m.loads[l].may[v.b] {
			return most
		}
	}
	for _, l := range y {
		if !t.m.loads[l].may[v.a] {
			return most
		}
	}
	// What the booth that gives gains is at most all that comes behind; what
	// the other one loses is known soon to be too much.
	gain := t.run(v.a, v.i, never, v.i+v.n, y) - t.end(v.a)
	if gain >= most && !v.swap {
		return most
	}
	return gain + t.run(v.b, v.j, t.end(v.b)+most-gain, v.j+len(y), x) - t.end(v.b)
}

// do makes a move.
func (t *tour) do(v move) {
	reorder(t.seq, v)
	if v.a == v.b {
		t.refresh(v.a, min(v.i, v.j))
	} else {
		t.refresh(v.a, v.i)
		t.refresh(v.b, v.j)
	}
	t.sum()
}

// reorder makes a move in bare orders.
func reorder(seq [][]int32, v move) {
	switch {
	case v.swap:
		seq[v.a][v.i], seq[v.b][v.j] = seq[v.b][v.j], seq[v.a][v.i]
	case v.a != v.b:
		seq[v.b] = slices.Insert(seq[v.b], v.j, seq[v.a][v.i:v.i+v.n]...)
		seq[v.a] = slices.Delete(seq[v.a], v.i, v.i+v.n)
	case v.j > v.i:
		rotate(seq[v.a][v.i:v.j], v.n)
	default:
		rotate(seq[v.a][v.j:v.i+v.n], v.i-v.j)
	}
}

// rotate brings the loads from k on to the front.
func rotate(q []int32, k int) {
	slices.Reverse(q[:k])
	slices.Reverse(q[k:])
	slices.Reverse(q)
}
