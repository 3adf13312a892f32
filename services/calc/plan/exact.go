package plan

import "math/bits"

// The exact method for booths without tasks is a label dynamic programme over
// sets of loads. A label is one way to have sprayed a set: the colour left in
// the gun, when the booth is free, what it cost. Another label of the same
// set and colour that is free no later and cost no less is never needed. A
// bound that relaxes time to the earliest at which a set can be done at all
// cuts off what cannot beat the plan that local search has found.

// table is the dynamic programme of one booth.
type table struct {
	m       *model
	b       int
	loads   []int32
	colours []int32 // of the model, by the table's own number
	own     []int32 // the table's number of each load's colour
	first   int32   // the table's number of the colour at the start
	soft    [][]int64
	free    []span // open and clear of frozen loads
	least   []int64
	drop    []float64 // cost of leaving out, by load
	early   []int64   // by set and colour: no sooner is the set done
	rest    []float64 // by set and colour: what the others cost at least
	labels  []label
	head    []int32
	most    int // labels
	more    func() bool
}

type label struct {
	t            int64
	cost         float64
	set          uint32
	parent, next int32
	load         int32 // number in the table
	colour       int32 // the table's
	frozen       int32
}

const (
	tableMost = 18      // loads that a table takes
	tableRoom = 1 << 21 // sets and colours in it
)

func newTable(m *model, b int, loads []int32, most int, more func() bool) *table {
	x := &table{m: m, b: b, loads: loads, most: most, more: more}
	number := map[int32]int32{}
	add := func(c int32) int32 {
		k, ok := number[c]
		if !ok {
			k = int32(len(x.colours))
			number[c] = k
			x.colours = append(x.colours, c)
		}
		return k
	}
	x.first = add(m.booths[b].first.colour)
	for _, f := range m.booths[b].frozen {
		add(m.loads[f].colour)
	}
	for _, j := range loads {
		x.own = append(x.own, add(m.loads[j].colour))
		x.drop = append(x.drop, m.none+m.loads[j].miss)
	}
	x.relax()
	return x
}

// best finds the cheapest course that costs less than limit: its labels and
// true, or nil and true when there is none. False: not settled.
func (x *table) best(limit float64) ([]int32, bool) {
	n, nc := len(x.loads), len(x.colours)
	if !x.bounds(limit - tight(limit)) {
		return nil, false
	}
	if x.rest[x.first] >= limit-tight(limit) {
		return nil, true
	}
	x.start()
	found := int32(-1)
	for set := range uint32(1) << n {
		out := -1.0 // not reckoned yet
		for c := range nc {
			for i := x.head[int(set)*nc+c]; i >= 0; i = x.labels[i].next {
				l := &x.labels[i]
				if out < 0 {
					out = x.leftOut(set)
				}
				if end := l.cost + out; end < limit-tight(limit) {
					limit, found = end, i
				}
				cut := limit - tight(limit)
				if l.cost+x.rest[int(set)*nc+c] >= cut || l.cost+x.alone(set, l.t, cut-l.cost) >= cut {
					continue
				}
				if !x.grow(i, cut) {
					return nil, false
				}
			}
		}
	}
	if found < 0 {
		return nil, true
	}
	return x.course(found), true
}

func (x *table) start() {
	x.head = make([]int32, len(x.colours)<<len(x.loads))
	for i := range x.head {
		x.head[i] = -1
	}
	s := x.m.booths[x.b].first
	x.labels = append(x.labels[:0], label{t: s.t, parent: -1, next: -1, colour: x.first, frozen: s.frozen})
	x.head[x.first] = 0
}

// grow puts each load outside a label's set behind it.
func (x *table) grow(i int32, cut float64) bool {
	l := x.labels[i]
	from := state{l.t, x.colours[l.colour], l.frozen}
	for x.from(i, &l, from, cut); int(from.frozen) < len(x.m.booths[x.b].frozen); x.from(i, &l, from, cut) {
		x.m.pass(x.b, &from) // behind it though there may be room before
	}
	return len(x.labels) <= x.most && (i&1023 != 0 || x.more())
}

func (x *table) from(i int32, l *label, from state, cut float64) {
	nc := len(x.colours)
	for left := (uint32(1)<<len(x.loads) - 1) &^ l.set; left != 0; left &= left - 1 {
		k := int32(bits.TrailingZeros32(left))
		s := from
		at := x.m.place(x.b, &s, x.loads[k], 0)
		if at >= never {
			continue
		}
		to := label{
			t: s.t, cost: l.cost + x.m.loads[x.loads[k]].cost(at), set: l.set | 1<<k,
			parent: i, load: k, colour: x.own[k], frozen: s.frozen,
		}
		h := int(to.set)*nc + int(to.colour)
		if x.rest != nil && to.cost+x.rest[h] >= cut {
			continue
		}
		x.put(h, to)
	}
}

// put adds a label unless another makes it needless, and takes out those that
// it makes needless.
func (x *table) put(h int, to label) {
	for p := &x.head[h]; *p >= 0; {
		o := &x.labels[*p]
		if o.frozen == to.frozen {
			if o.t <= to.t && o.cost <= to.cost {
				return
			}
			if to.t <= o.t && to.cost <= o.cost {
				*p = o.next
				continue
			}
		}
		p = &o.next
	}
	to.next = x.head[h]
	x.head[h] = int32(len(x.labels))
	x.labels = append(x.labels, to)
}

// course lists the loads that led to a label, in order, with the marks of the
// frozen loads between them.
func (x *table) course(i int32) []int32 {
	frozen := x.m.booths[x.b].frozen
	var out []int32
	for k := int32(len(frozen)); i >= 0; i = x.labels[i].parent {
		l := &x.labels[i]
		for k > l.frozen {
			k--
			out = append(out, frozen[k])
		}
		if l.parent >= 0 {
			out = append(out, x.loads[l.load])
		}
	}
	for a, b := 0, len(out)-1; a < b; a, b = a+1, b-1 {
		out[a], out[b] = out[b], out[a]
	}
	return out
}
