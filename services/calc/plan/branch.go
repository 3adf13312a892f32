package plan

import (
	"cmp"
	"slices"
)

// The exact method with tasks is branch and bound. What a node has settled
// (orders of booths, tasks of a crew that follow each other, lags that must be
// kept) only says that one start is no earlier than a rising function of
// others. So there is a least solution, every start at its earliest at once,
// found by going round until nothing moves: it bounds the cost from below,
// and where it breaks nothing more it is the best plan of the node.

type brancher struct {
	m     *model
	ub    float64 // cost to beat, without frozen loads' places
	best  *course
	nodes int
	most  int
	more  func() bool
	stop  bool

	seq  [][]int32  // so far; frozen loads stand in it
	open int        // booth being filled; those before it are complete
	in   []bool     // by load: in an order
	gone []bool     // by load: left out; of a frozen load: its tasks are
	keep []int8     // by load: undecided, kept, missed
	arcs [][2]int32 // tasks: the first is over before the second begins
	not  [][2]int32 // that is not so: plans in which it is were looked through

	crews []crewed
}

const (
	undecided = iota
	kept
	missed
)

// times are lower bounds of all starts.
type times struct {
	load, task []int64
}

func (t times) clone() times { return times{slices.Clone(t.load), slices.Clone(t.task)} }

// branch looks for a plan that costs less than ub: it and true, nil and true
// if there is none; false: not settled.
func (m *model) branch(ub float64, most int, more func() bool) (*course, bool) {
	n := len(m.loads)
	x := &brancher{
		m: m, ub: ub, most: most, more: more, seq: make([][]int32, len(m.booths)),
		in: make([]bool, n), gone: make([]bool, n), keep: make([]int8, n), crews: m.crewSums(),
	}
	t := times{make([]int64, n), make([]int64, len(m.tasks))}
	for j := range m.loads {
		if t.load[j] = m.loads[j].release; m.loads[j].fixed >= 0 {
			t.load[j] = m.loads[j].at
		}
	}
	for b := range m.booths {
		for _, f := range m.booths[b].frozen[:m.booths[b].first.frozen] {
			x.in[f] = true
		}
	}
	for k := range m.tasks {
		t.task[k] = m.tasks[k].release
	}
	x.frozen(t, 0)
	return x.best, !x.stop
}

// frozen decides for each frozen load from j on whether its tasks can be
// done, and goes on.
func (x *brancher) frozen(t times, j int) {
	for ; j < len(x.m.loads); j++ {
		l := &x.m.loads[j]
		if l.fixed < 0 || len(l.tasks) == 0 || x.m.tasks[l.tasks[0]].past {
			continue
		}
		x.frozen(t.clone(), j+1)
		x.gone[j] = true
		x.frozen(t.clone(), j+1)
		x.gone[j] = false
		return
	}
	x.fill(t)
}

type child struct {
	load  int32 // -1: the booth is complete
	bound float64
	t     times
}

// fill puts loads into the open booth and goes on to the next one.
func (x *brancher) fill(t times) {
	if x.spent() {
		return
	}
	if x.open == len(x.m.booths) {
		x.leaf(t)
		return
	}
	var kids []child
	b := x.open
	for j := range x.m.loads {
		if x.in[j] || !x.m.loads[j].may[b] {
			continue
		}
		if c, t, ok := x.with(int32(j), t.clone()); ok {
			kids = append(kids, child{int32(j), c, t})
		}
	}
	if c, t, ok := x.closed(t.clone()); ok {
		kids = append(kids, child{-1, c, t})
	}
	slices.SortStableFunc(kids, func(a, b child) int { return cmp.Compare(a.bound, b.bound) })
	for _, k := range kids {
		if k.bound >= x.ub-tight(x.ub) || x.stop {
			return
		}
		if k.load >= 0 {
			x.seq[b] = append(x.seq[b], k.load)
			x.in[k.load] = true
			x.fill(k.t)
			x.in[k.load] = false
			x.seq[b] = x.seq[b][:len(x.seq[b])-1]
			continue
		}
		left := x.drop()
		x.open++
		x.fill(k.t)
		x.open--
		x.restore(left)
	}
}

// with bounds the node in which a load comes next in the open booth.
func (x *brancher) with(j int32, t times) (float64, times, bool) {
	b := x.open
	x.seq[b] = append(x.seq[b], j)
	x.in[j] = true
	c, ok := x.settle(t)
	x.in[j] = false
	x.seq[b] = x.seq[b][:len(x.seq[b])-1]
	return c, t, ok && c < x.ub-tight(x.ub)
}

// closed bounds the node in which the open booth is complete.
func (x *brancher) closed(t times) (float64, times, bool) {
	for _, f := range x.m.booths[x.open].frozen {
		if !x.in[f] {
			return 0, t, false
		}
	}
	left := x.drop()
	x.open++
	c, ok := x.settle(t)
	x.open--
	x.restore(left)
	return c, t, ok && c < x.ub-tight(x.ub)
}

// drop leaves out the loads that no booth behind the open one may take.
func (x *brancher) drop() []int32 {
	var left []int32
	for _, j := range x.m.free {
		if x.in[j] || x.gone[j] || slices.Contains(x.m.loads[j].may[x.open+1:], true) {
			continue
		}
		x.gone[j], x.in[j] = true, true
		left = append(left, j)
	}
	return left
}

func (x *brancher) restore(left []int32) {
	for _, j := range left {
		x.gone[j], x.in[j] = false, false
	}
}

func (x *brancher) spent() bool {
	x.nodes++
	if x.nodes > x.most || x.nodes&63 == 0 && !x.more() {
		x.stop = true
	}
	return x.stop
}

// leaf has complete orders: it settles which lags are kept, which costs the
// most, and then who of a crew works when.
func (x *brancher) leaf(t times) {
	if x.spent() {
		return
	}
	if j := x.broken(t); j >= 0 {
		for _, k := range []int8{kept, missed} {
			x.keep[j] = k
			x.again(t)
		}
		x.keep[j] = undecided
		return
	}
	if a := x.clash(t); a != nil {
		x.apart(t, a)
		return
	}
	c, _ := x.settle(t)
	if c < x.ub-tight(x.ub) {
		x.ub = c
		x.best = x.course(t)
	}
}

// apart looks through the plans in which one of the tasks is over before
// another of them begins, the most promising pair first. Each plan is looked
// through once: a pair that was is barred from then on.
func (x *brancher) apart(t times, tasks []int32) {
	type pair struct {
		arc   [2]int32
		bound float64
	}
	var pairs []pair
	for _, p := range tasks {
		for _, q := range tasks {
			if p == q || x.leads(q, p) {
				continue
			}
			x.arcs = append(x.arcs, [2]int32{p, q})
			t := t.clone()
			if c, ok := x.settle(t); ok && c < x.ub-tight(x.ub) {
				pairs = append(pairs, pair{[2]int32{p, q}, c})
			}
			x.arcs = x.arcs[:len(x.arcs)-1]
		}
	}
	slices.SortStableFunc(pairs, func(a, b pair) int { return cmp.Compare(a.bound, b.bound) })
	n := len(x.not)
	for _, p := range pairs {
		x.arcs = append(x.arcs, p.arc)
		if !x.barred() {
			x.again(t)
		}
		x.arcs = x.arcs[:len(x.arcs)-1]
		x.not = append(x.not, p.arc)
	}
	x.not = x.not[:n]
}

// leads reports whether p must be over before q begins.
func (x *brancher) leads(p, q int32) bool {
	for _, a := range x.arcs {
		if a[0] == p && (a[1] == q || x.leads(a[1], q)) {
			return true
		}
	}
	return slices.ContainsFunc(x.m.tasks[p].before, func(b int32) bool { return b == q || x.leads(b, q) })
}

// barred reports whether what is settled says of a pair what was looked
// through.
func (x *brancher) barred() bool {
	return slices.ContainsFunc(x.not, func(n [2]int32) bool { return x.leads(n[0], n[1]) })
}

// again settles a node anew after a decision and goes on with it.
func (x *brancher) again(t times) {
	t = t.clone()
	if c, ok := x.settle(t); ok && c < x.ub-tight(x.ub) && !x.stop {
		x.leaf(t)
	}
}

func (x *brancher) course(t times) *course {
	c := x.m.blank(clone(x.seq))
	for b, q := range x.seq {
		for _, j := range q {
			c.booth[j], c.start[j] = int32(b), t.load[j]
		}
	}
	for k := range x.m.tasks {
		if w := &x.m.tasks[k]; !w.past && !x.gone[w.load] {
			c.task[k] = t.task[k]
		}
	}
	c.seq = x.m.withRest(c.seq)
	x.m.price(c)
	return c
}
