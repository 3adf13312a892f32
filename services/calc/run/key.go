package run

// Two labels are the same when nothing that can follow tells them apart: the
// same seams laid, the same place, the same tip in hand if its product goes
// on, and the same cartridges of the products that go on. Of a cartridge that
// holds all that may come it does not matter how much more it holds.

// inHand is the product and tip in hand as far as they count.
func (q *search) inHand(last int) (prod int, t tip) {
	s := &q.m.seams[last]
	if q.rest.prods[s.prod].n == 0 {
		return -1, tip{}
	}
	return s.prod, s.tip
}

// leftOf is what a cartridge holds, as far as it counts.
func (q *search) leftOf(n int, h *hand) int64 {
	x, o := &q.m.products[n], &q.rest.prods[n]
	return min(h.left, o.vol+int64(o.n+1)*x.each+1)
}

func (q *search) hash() uint64 {
	h := mix(mix(0x9e3779b97f4a7c15, q.to.done[0]), q.to.done[1])
	prod, t := q.inHand(q.to.last)
	h = mix(h, uint64(q.m.seams[q.to.last].panel)<<32|uint64(prod+1)<<8|uint64(uint8(t.kind)))
	h = mix(h, uint64(t.cut))
	for n := range q.to.hands {
		if q.rest.prods[n].n > 0 {
			a := &q.to.hands[n]
			h = mix(h, uint64(uint16(a.pos))<<32|uint64(uint16(a.cur))<<16|uint64(a.used))
			h = mix(h, uint64(q.leftOf(n, a)))
		}
	}
	return h
}

// mix is the finaliser of SplitMix64 (Steele, Lea and Flood 2014).
func mix(h, x uint64) uint64 {
	z := h ^ x*0x9e3779b97f4a7c15
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// same compares a label with the state that was just reached.
func (q *search) same(l *label) bool {
	if l.done != q.to.done || q.m.seams[l.last].panel != q.m.seams[q.to.last].panel {
		return false
	}
	pa, ta := q.inHand(int(l.last))
	pb, tb := q.inHand(q.to.last)
	if pa != pb || ta != tb {
		return false
	}
	for n := range q.to.hands {
		if q.rest.prods[n].n == 0 {
			continue
		}
		a, b := &q.into.hands[int(l.hands)+n], &q.to.hands[n]
		if a.pos != b.pos || a.cur != b.cur || a.used != b.used || q.leftOf(n, a) != q.leftOf(n, b) {
			return false
		}
	}
	return true
}
