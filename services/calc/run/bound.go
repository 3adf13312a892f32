package run

import (
	"cmp"
	"slices"
)

// room is what the cartridges of a product from a place on hold at most.
type room struct {
	nets   []int64 // added up, the fullest first; those with a good nozzle always among them
	opened int64   // of those that are open
	best   int64   // the fullest on the shelf
}

// measure reckons the room from every place on; pos -1 is room 0.
func (x *product) measure() {
	x.room = make([]room, len(x.list)+1)
	for pos := range x.room {
		r := &x.room[pos]
		var nets []int64
		for k, e := range x.list {
			if k < pos && !e.live {
				continue
			}
			net := e.net(x.each)
			if e.live {
				net = max(net, e.left-e.purge)
			}
			net = max(net, 0)
			nets = append(nets, net)
			if e.shelf {
				r.best = max(r.best, net)
			} else {
				r.opened += net
			}
		}
		slices.SortFunc(nets, func(a, b int64) int { return cmp.Compare(b, a) })
		for i := 1; i < len(nets); i++ {
			nets[i] += nets[i-1]
		}
		r.nets = nets
	}
}

// count is how many cartridges a volume takes at least; one more than there
// are when it does not fit.
func (r *room) count(vol int64) int {
	if vol <= 0 {
		return 0
	}
	for i, sum := range r.nets {
		if sum >= vol {
			return i + 1
		}
	}
	return len(r.nets) + 1
}

func (r *room) total() int64 {
	if len(r.nets) == 0 {
		return 0
	}
	return r.nets[len(r.nets)-1]
}

// rest is what a label still has to lay.
type rest struct {
	prods []restOf
	panel []int // seams
	car   []int
	few   []int64 // for sorting
}

type restOf struct {
	n     int
	vol   int64
	lay   int64
	short int      // seams that surely cannot be laid any more
	kind  [4]int64 // volume by kind of tip, unknown last
}

func (m *model) newRest() *rest {
	return &rest{prods: make([]restOf, len(m.products)), panel: make([]int, m.panels), car: make([]int, m.cars)}
}

// place is where a kind of tip stands in a list by kind.
func (t tip) place() int {
	if t.kind < 0 {
		return 3
	}
	return int(t.kind)
}

// gather adds up what is not laid yet.
func (m *model) gather(done bits, r *rest) {
	clear(r.prods)
	clear(r.panel)
	clear(r.car)
	for i := range m.seams {
		if !done.has(i) {
			m.count(r, i, 1)
		}
	}
}

// count puts a seam into what is left to lay, or takes it out.
func (m *model) count(r *rest, seam, sign int) {
	s := &m.seams[seam]
	o := &r.prods[s.prod]
	o.n += sign
	o.vol += int64(sign) * s.vol
	o.lay += int64(sign) * s.lay
	o.kind[s.tip.place()] += int64(sign) * s.vol
	r.panel[s.panel] += sign
	r.car[s.car] += sign
}

// bound is what a run that begins so comes to at least, r being what it has
// left to lay. budget is how many seams the best run known leaves out.
func (m *model) bound(st *state, r *rest, budget int) cost {
	short := 0
	for n := range r.prods {
		if o := &r.prods[n]; o.n > 0 {
			o.short = m.short(st, n, r)
			short += o.short
		}
	}
	b := st.cost
	b.left = int32(short)
	if short > budget {
		return b
	}
	for n := range r.prods {
		o := &r.prods[n]
		switch {
		case o.n == 0:
		case budget-short+o.short > 0: // nothing is sure of this product
			b.dead -= m.products[n].dead(st.hands[n].left)
		default:
			m.boundProduct(st, n, o, &b)
		}
	}
	if st.last < 0 && b.swaps > 0 {
		b.swaps-- // it begins with one of them
	}
	if budget == 0 {
		m.boundWalk(st, r, &b)
	}
	return b
}

// short is how many of a product's seams its cartridges surely do not hold.
func (m *model) short(st *state, n int, r *rest) int {
	h, o := st.hands[n], &r.prods[n]
	have := m.products[n].room[h.pos+1].total()
	if h.cur >= 0 {
		have += h.left
	}
	if o.vol <= have {
		return 0
	}
	r.few = r.few[:0]
	for _, i := range m.products[n].seams {
		if !st.done.has(i) {
			r.few = append(r.few, m.seams[i].vol)
		}
	}
	slices.Sort(r.few)
	for i, v := range r.few {
		if have -= v; have < 0 {
			return o.n - i
		}
	}
	return 0
}

// narrow is the volume of what a nozzle in hand is cut too wide for.
func (m *model) narrow(st *state, prod int) int64 {
	t, sum := m.seams[st.last].tip, int64(0)
	for _, i := range m.products[prod].seams {
		if s := &m.seams[i]; s.tip.kind == t.kind && s.tip.cut < t.cut && !st.done.has(i) {
			sum += s.vol
		}
	}
	return sum
}

// boundProduct adds what laying all of a product's seams takes at least.
func (m *model) boundProduct(st *state, n int, o *restOf, b *cost) {
	x, h := &m.products[n], st.hands[n]
	rm := &x.room[h.pos+1]
	hand := -1 // kind of tip in hand
	if st.last >= 0 && m.seams[st.last].prod == n {
		hand = m.seams[st.last].tip.place()
	}
	nozzles := 0
	for kind, vol := range o.kind {
		if kind == hand {
			vol -= min(h.left, vol-m.narrow(st, n))
		}
		if vol <= 0 {
			continue
		}
		k := rm.count(vol)
		if h.cur >= 0 && k > 1 { // the one in use, with another nozzle
			k = min(k, 1+rm.count(vol-max(0, h.left-x.each)))
		}
		nozzles += k
	}
	for i, e := range x.lives {
		if h.used>>i&1 == 0 && st.cost.ms <= x.list[e].deadline {
			nozzles--
		}
	}
	nozzles = max(0, nozzles)
	left := int64(0)
	if h.cur >= 0 {
		left = h.left
		b.dead -= x.dead(left)
	}
	opened := int64(0)
	if over := o.vol - left - rm.opened; over > 0 && rm.best > 0 {
		opened = (over + rm.best - 1) / rm.best
	}
	if hand < 0 {
		b.swaps++
	}
	b.nozzles += int32(nozzles)
	b.waste += int64(nozzles) * x.each
	b.opened += int32(opened)
	b.ms += o.lay + int64(nozzles)*m.fit + opened*m.open
	if hand < 0 {
		b.ms += m.take
	}
}

// boundWalk adds the walk that is left at least: every panel and every car
// once.
func (m *model) boundWalk(st *state, r *rest, b *cost) {
	at, car := -1, -1
	if st.last >= 0 {
		at, car = m.seams[st.last].panel, m.seams[st.last].car
	}
	legs, cars, lo, hi := int64(0), int64(0), -1, -1
	for p, n := range r.panel {
		if n == 0 {
			continue
		}
		if p != at {
			legs++
		}
		if lo < 0 {
			lo = p
		}
		hi = p
	}
	for c, n := range r.car {
		if n > 0 && c != car {
			cars++
		}
	}
	switch {
	case lo < 0:
		return
	case at < 0: // it begins at one of them
		legs, cars = legs-1, max(0, cars-1)
		b.steps += int32(hi - lo)
	default:
		b.steps += int32(hi - lo + min(max(lo-at, at-lo), max(hi-at, at-hi)))
	}
	b.ms += legs*m.walkPanel + cars*(m.walkCar-m.walkPanel)
}
