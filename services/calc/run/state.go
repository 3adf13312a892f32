package run

// hand is how far a run is with the cartridges of one product.
type hand struct {
	pos  int16  // last place taken in its turn, -1 none
	cur  int16  // the cartridge in use, -1 none yet
	used uint16 // cartridges taken that had a good nozzle on at the start, by their place in lives
	left int64  // in the one in use
}

// state is a run as far as it is laid.
type state struct {
	done  bits
	count int
	last  int // seam, -1 none
	hands []hand
	cost  cost
}

func (m *model) begin() state {
	st := state{last: -1, hands: make([]hand, len(m.products))}
	m.reset(&st)
	return st
}

func (m *model) reset(st *state) {
	*st = state{last: -1, hands: st.hands}
	for i := range st.hands {
		st.hands[i] = hand{pos: -1, cur: -1}
	}
}

// how a seam comes to its cartridge and nozzle.
type how uint8

const (
	goOn     how = iota + 1 // the nozzle in hand
	ready                   // another cartridge, whose nozzle is still good
	refit                   // the cartridge in use, another nozzle
	takeNext                // another cartridge, another nozzle
	takeMany                // several of one lot, a nozzle each
)

// move is laying one seam, worked out but not yet done.
type move struct {
	how   how
	entry int
	many  int   // cartridges of takeMany
	left  int64 // afterwards, in the cartridge in use
	add   cost
	walk  int64
	begin int64 // when material flows, ms after the start
}

// try works out laying a seam from a cartridge; false when it cannot be. A
// nozzle that can be used is used: fitting another one is never better.
func (m *model) try(st *state, s, e int) (move, bool) {
	k := &m.seams[s]
	x := &m.products[k.prod]
	h := &st.hands[k.prod]
	v := move{entry: e}
	v.walk, v.add.steps = m.walk(st.last, s)
	if st.last >= 0 && m.seams[st.last].prod != k.prod {
		v.add.swaps = 1
	}
	inHand := st.last >= 0 && m.seams[st.last].prod == k.prod && int(h.cur) == e
	ok := false
	switch c := &x.list[e]; {
	case inHand && !k.join && m.seams[st.last].tip.serves(k.tip) && m.pause(st.last, s) <= x.gel:
		v.how, v.left, v.begin, ok = goOn, h.left-k.vol, m.pause(st.last, s), h.left >= k.vol
	case int(h.cur) == e:
		ok = !k.join && m.again(&v, x, h, k, inHand)
	case c.live && h.used>>x.liveAt(e)&1 != 0:
		// it was put aside
	case c.live && !k.join && c.tip.serves(k.tip) && st.cost.ms+v.walk+m.take+m.widen(c.tip, k.tip) <= c.deadline:
		v.how, v.begin = ready, v.walk+m.take+m.widen(c.tip, k.tip)
		v.left, v.add.waste = c.left-c.purge-k.vol, c.purge
		ok = v.left >= 0
	case e > int(h.pos):
		ok = m.next(&v, x, h, k)
	}
	if !ok {
		return v, false
	}
	v.add.ms = v.begin + k.lay
	if v.how == takeMany {
		v.add.ms += int64(v.many-1) * (m.take + m.open + m.fit)
	}
	v.begin += st.cost.ms
	v.add.dead = x.dead(v.left)
	if v.how == goOn || v.how == refit {
		v.add.dead -= x.dead(h.left)
	}
	return v, true
}

// pause is how long the nozzle in hand rests between two seams: the way, and
// cutting its tip wider.
func (m *model) pause(from, to int) int64 {
	walk, _ := m.walk(from, to)
	return walk + m.widen(m.seams[from].tip, m.seams[to].tip)
}

// again fits another nozzle to the cartridge in use.
func (m *model) again(v *move, x *product, h *hand, k *seam, inHand bool) bool {
	v.how, v.begin = refit, v.walk+m.fit
	if !inHand {
		v.begin += m.take
	}
	v.left, v.add.nozzles, v.add.waste = h.left-x.each-k.vol, 1, x.each
	return v.left >= 0
}

// next takes the next cartridge, or several.
func (m *model) next(v *move, x *product, h *hand, k *seam) bool {
	e := &x.list[v.entry]
	if before := v.entry - 1; e.shelf && before > int(h.pos) && x.list[before].group == e.group {
		return false // one lot's cartridges are alike: the lower number first
	}
	v.how, v.many, v.begin = takeNext, 1, v.walk+m.take+m.fit
	v.left = e.net(x.each) - k.vol
	if k.join {
		if v.how = takeMany; !e.shelf {
			return false
		}
		if v.many, v.left = x.several(v.entry, k.vol); v.many == 0 {
			return false
		}
	}
	if v.left < 0 {
		return false
	}
	if e.shelf {
		v.begin += m.open
		v.add.opened = int32(v.many)
	}
	v.add.nozzles = int32(v.many)
	v.add.waste = int64(v.many) * (x.each + e.equalise)
	v.add.passed = x.passed(h, v.entry)
	if h.cur >= 0 && !k.join && x.list[h.cur].useBy < e.useBy && h.left >= x.each+k.vol {
		v.add.passed++ // the one in use would have held it
	}
	return true
}

// do lays a seam as worked out.
func (m *model) do(st *state, s int, v move) {
	k := &m.seams[s]
	x := &m.products[k.prod]
	h := &st.hands[k.prod]
	st.done.add(s)
	st.count++
	st.last = s
	st.cost = st.cost.plus(v.add)
	h.left = v.left
	switch v.how {
	case ready:
		h.cur = int16(v.entry)
		h.used |= 1 << x.liveAt(v.entry)
	case takeNext, takeMany:
		h.cur = int16(v.entry + v.many - 1)
		h.pos = h.cur
		h.used |= 1 << x.liveAt(v.entry) // whatever nozzle was on it is off
	}
}

// dead is what is lost of a rest: all of it when the next nozzle would take
// it whole.
func (x *product) dead(left int64) int64 {
	if left <= x.each {
		return left
	}
	return 0
}

// liveAt is the place of an entry among those with a good nozzle.
func (x *product) liveAt(e int) int {
	for i, k := range x.lives {
		if k == e {
			return i
		}
	}
	return maxLive // shifts everything out
}

// passed counts the lots and opened cartridges between the last one taken and
// another that had to be used sooner than it. One whose nozzle was used has
// gone before its turn.
func (x *product) passed(h *hand, e int) int32 {
	n, group := int32(0), 0
	for k := int(h.pos) + 1; k < e; k++ {
		c := &x.list[k]
		if c.useBy >= x.list[e].useBy {
			break
		}
		if c.live && h.used>>x.liveAt(k)&1 != 0 {
			continue
		}
		if n == 0 || c.group != group {
			n, group = n+1, c.group
		}
	}
	return n
}

// options gives the places that a seam may be laid from, the one in use
// first, of each lot only the next.
func (m *model) options(st *state, s int, out []int) []int {
	k := &m.seams[s]
	x := &m.products[k.prod]
	h := &st.hands[k.prod]
	out = out[:0]
	if h.cur >= 0 && !k.join {
		out = append(out, int(h.cur))
	}
	for _, e := range x.lives {
		if e <= int(h.pos) && e != int(h.cur) && h.used>>x.liveAt(e)&1 == 0 {
			out = append(out, e)
		}
	}
	group, seen := 0, false
	for e := int(h.pos) + 1; e < len(x.list); e++ {
		if c := &x.list[e]; e != int(h.cur) && (!seen || c.group != group) {
			out = append(out, e)
			group, seen = c.group, true
		}
	}
	return out
}
