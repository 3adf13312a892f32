package run

import (
	"cmp"
	"slices"
)

// label is a run as far as it is laid, in the search.
type label struct {
	done  bits
	last  int32
	trail int32 // how it was reached
	hands int32 // place in its layer's hands
	next  int32 // of the same hash
	cost  cost
	bound cost
}

// step is one seam of a trail.
type step struct {
	parent      int32
	seam, entry int16
}

// layer is all labels with the same number of seams laid.
type layer struct {
	labels []label
	hands  []hand
}

func (l *layer) of(x *label, n int) []hand { return l.hands[x.hands : int(x.hands)+n] }

// search is the label programme: one layer for each number of seams laid.
type search struct {
	m      *model
	from   *layer // the labels that are gone on from
	into   *layer
	trails []step
	seen   map[uint64]int32 // of into, by hash
	rest   *rest            // of the state reached
	st     state            // the label that is looked at
	to     state            // what follows from it
	best   way
	bestAt int32 // its trail, -1: the one begun with
	least  cost  // of the labels that were thrown away unseen; at most what is best
	rounds *int  // moves that may still be followed
	rank   []int32
	kept   []label
}

// explore looks for a better run than the one given, keeping so many labels of
// each size and following so many moves at most, which it counts down. No run
// comes to less than least: that of the best one, if nothing that could have
// been better was thrown away.
func (m *model) explore(from way, width int, rounds *int) (best way, least cost) {
	q := &search{
		m: m, rest: m.newRest(), st: m.begin(), to: m.begin(), best: from, bestAt: -1, seen: map[uint64]int32{},
		from: &layer{}, into: &layer{}, least: from.cost, rounds: rounds,
	}
	q.from.hands = append(q.from.hands, q.st.hands...)
	q.from.labels = append(q.from.labels, label{last: -1, trail: -1})
	for n := 0; n < len(m.seams) && len(q.from.labels) > 0; n++ {
		clear(q.seen)
		q.into.labels, q.into.hands = q.into.labels[:0], q.into.hands[:0]
		for i := range q.from.labels {
			switch l := &q.from.labels[i]; {
			case n > 0 && !l.bound.less(q.best.cost):
			case *rounds <= 0:
				q.unseen(l.bound)
			default:
				q.expand(l)
			}
		}
		q.narrow(width)
		q.from, q.into = q.into, q.from
	}
	if q.bestAt >= 0 {
		q.best.picks = q.trail(q.bestAt)
	}
	if q.best.cost.less(q.least) {
		q.least = q.best.cost
	}
	return q.best, q.least
}

// unseen notes that labels of a bound are thrown away.
func (q *search) unseen(bound cost) {
	if bound.less(q.least) {
		q.least = bound
	}
}

// narrow keeps the most promising labels.
func (q *search) narrow(width int) {
	all := q.into.labels
	if len(all) <= width {
		return
	}
	rank := q.rank[:0]
	for i := range all {
		rank = append(rank, int32(i))
	}
	q.rank = rank
	slices.SortFunc(rank, func(a, b int32) int { return cmp.Or(all[a].bound.compare(all[b].bound), cmp.Compare(a, b)) })
	q.unseen(all[rank[width]].bound)
	q.kept = q.kept[:0]
	for _, i := range rank[:width] {
		q.kept = append(q.kept, all[i])
	}
	q.into.labels = append(all[:0], q.kept...)
}

func (q *search) trail(at int32) []pick {
	var out []pick
	for ; at >= 0; at = q.trails[at].parent {
		out = append(out, pick{int(q.trails[at].seam), int(q.trails[at].entry)})
	}
	slices.Reverse(out)
	return out
}

// load makes a label a state.
func (q *search) load(st *state, l *label) {
	st.done, st.last, st.cost = l.done, int(l.last), l.cost
	copy(st.hands, q.from.of(l, len(st.hands)))
}

// expand lays every seam that is left next.
func (q *search) expand(l *label) {
	m := q.m
	q.load(&q.st, l)
	m.gather(q.st.done, q.rest)
	var buf [64]int
	for s := range m.seams {
		if q.st.done.has(s) {
			continue
		}
		if t := m.seams[s].twin; t >= 0 && !q.st.done.has(t) {
			continue // its twin first
		}
		m.count(q.rest, s, -1)
		for _, e := range m.options(&q.st, s, buf[:]) {
			if v, ok := m.try(&q.st, s, e); ok && !q.hopeless(v) {
				q.follow(l, s, v)
			}
		}
		m.count(q.rest, s, 1)
	}
}

// hopeless spares reckoning a bound: what has been fitted and passed over is
// not undone.
func (q *search) hopeless(v move) bool {
	best := &q.best.cost
	nozzles := q.st.cost.nozzles + v.add.nozzles
	return best.left == 0 && (nozzles > best.nozzles || nozzles == best.nozzles && q.st.cost.passed+v.add.passed > best.passed)
}

// follow keeps what a move leads to, if it is worth it.
func (q *search) follow(l *label, s int, v move) {
	m := q.m
	*q.rounds--
	q.load(&q.to, l)
	m.do(&q.to, s, v)
	way := step{l.trail, int16(s), int16(v.entry)}
	left := len(m.seams) - q.to.done.len()
	c := q.to.cost
	c.left = int32(left)
	if c.less(q.best.cost) {
		q.trails = append(q.trails, way)
		q.best.cost, q.bestAt = c, int32(len(q.trails)-1)
	}
	if left == 0 {
		return
	}
	if b := m.bound(&q.to, q.rest, int(q.best.cost.left)); b.less(q.best.cost) {
		q.enter(way, b)
	}
}

// enter puts the state reached into the next layer, unless a label is there
// that is as good; one that is worse it replaces. Where a nozzle could still be
// used that is good for some time only, time counts for more than it costs.
func (q *search) enter(way step, b cost) {
	h := q.hash()
	head, ok := q.seen[h]
	if !ok {
		head = -1
	}
	timed := q.timed()
	for o := head; o >= 0; o = q.into.labels[o].next {
		l := &q.into.labels[o]
		if !q.same(l) {
			continue
		}
		if !q.to.cost.less(l.cost) && (!timed || l.cost.ms <= q.to.cost.ms) {
			return
		}
		if !l.cost.less(q.to.cost) && (!timed || q.to.cost.ms <= l.cost.ms) {
			copy(q.into.of(l, len(q.to.hands)), q.to.hands)
			q.trails[l.trail] = way
			q.fill(l, b)
			return
		}
	}
	q.trails = append(q.trails, way)
	q.into.labels = append(q.into.labels, label{trail: int32(len(q.trails) - 1), hands: int32(len(q.into.hands)), next: head})
	q.into.hands = append(q.into.hands, q.to.hands...)
	q.seen[h] = int32(len(q.into.labels) - 1)
	q.fill(&q.into.labels[q.seen[h]], b)
}

func (q *search) fill(l *label, b cost) {
	l.done, l.last, l.cost, l.bound = q.to.done, int32(q.to.last), q.to.cost, b
}

// timed reports whether a nozzle is still good that is so for some time only.
// That it was used already is not asked: it would spare next to nothing.
func (q *search) timed() bool {
	for n := range q.m.products {
		if q.rest.prods[n].n == 0 {
			continue
		}
		x := &q.m.products[n]
		for _, e := range x.lives {
			if d := x.list[e].deadline; d != never && q.to.cost.ms <= d {
				return true
			}
		}
	}
	return false
}
