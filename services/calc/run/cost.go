package run

import (
	"cmp"
	mbits "math/bits"
)

// cost is what a run comes to, in the order of what is best. It adds up over
// steps, and adding keeps the order.
type cost struct {
	left    int32 // seams left out; known at the end only
	nozzles int32
	passed  int32
	waste   int64 // µl, of nozzles and equalising
	opened  int32
	dead    int64 // µl, rests that are thrown away
	swaps   int32 // changes to another product
	ms      int64
	steps   int32 // along the panels as given
}

func (a cost) compare(b cost) int {
	return cmp.Or(
		cmp.Compare(a.left, b.left), cmp.Compare(a.nozzles, b.nozzles), cmp.Compare(a.passed, b.passed),
		cmp.Compare(a.waste, b.waste), cmp.Compare(a.opened, b.opened), cmp.Compare(a.dead, b.dead), cmp.Compare(a.swaps, b.swaps),
		cmp.Compare(a.ms, b.ms), cmp.Compare(a.steps, b.steps),
	)
}

func (a cost) less(b cost) bool { return a.compare(b) < 0 }

// most is the greater of the two.
func (a cost) most(b cost) cost {
	if a.less(b) {
		return b
	}
	return a
}

func (a cost) plus(b cost) cost {
	return cost{
		a.left + b.left, a.nozzles + b.nozzles, a.passed + b.passed,
		a.waste + b.waste, a.opened + b.opened, a.dead + b.dead, a.swaps + b.swaps, a.ms + b.ms, a.steps + b.steps,
	}
}

// bits is a set of seams.
type bits [2]uint64

func (b bits) has(i int) bool { return b[i>>6]>>(i&63)&1 != 0 }

func (b *bits) add(i int) { b[i>>6] |= 1 << (i & 63) }

func (b bits) len() int { return mbits.OnesCount64(b[0]) + mbits.OnesCount64(b[1]) }
