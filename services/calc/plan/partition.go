package plan

import (
	"math"
	"math/bits"
)

// Several booths without tasks do not touch each other once it is settled
// which booth takes which loads: the dynamic programme of each booth gives
// the least cost of every set, and the best division is found set by set.

// division finds the best division of the free loads over the booths that
// costs less than limit: orders by booth and true, nil and true if there is
// none; false: not settled.
func (m *model) division(limit float64, most int, more func() bool) ([][]int32, bool) {
	n := len(m.free)
	all := uint32(1)<<n - 1
	out := func(set uint32) float64 { // cost of the loads in a set when they have no place
		c := 0.0
		for ; set != 0; set &= set - 1 {
			c += m.none + m.loads[m.free[bits.TrailingZeros32(set)]].miss
		}
		return c
	}
	value := make([]float64, all+1)
	for set := range value {
		value[set] = out(uint32(set))
	}
	tables := make([]*table, len(m.booths))
	from := make([][]uint32, len(m.booths)) // what of a set the booth takes
	for b := range m.booths {
		x, costs, ok := m.ofBooth(b, limit, most, more)
		if !ok {
			return nil, false
		}
		tables[b] = x
		next := make([]float64, all+1)
		from[b] = make([]uint32, all+1)
		low := uint32(0)
		if b == len(m.booths)-1 {
			low = all // only the whole is asked for
		}
		for set := low; ; set++ {
			next[set] = math.Inf(1)
			for part := set; ; part = (part - 1) & set {
				if c := costs[part] + value[set&^part]; c < next[set] {
					next[set], from[b][set] = c, part
				}
				if part == 0 {
					break
				}
			}
			if set == all {
				break
			}
			if set&1023 == 0 && !more() {
				return nil, false
			}
		}
		value = next
	}
	if value[all] >= limit-tight(limit) {
		return nil, true
	}
	seq := make([][]int32, len(m.booths))
	for b, set := len(m.booths)-1, all; b >= 0; b-- {
		part := from[b][set]
		seq[b] = tables[b].courseOf(m, part)
		set &^= part
	}
	return seq, true
}

// ofBooth gives the least cost for a booth to take exactly each set of the
// free loads; infinite where it cannot or where limit would be passed.
func (m *model) ofBooth(b int, limit float64, most int, more func() bool) (*table, []float64, bool) {
	var mine []int32
	var bit []uint32
	for k, j := range m.free {
		if m.loads[j].may[b] {
			mine = append(mine, j)
			bit = append(bit, 1<<k)
		}
	}
	x := newTable(m, b, mine, most, more)
	x.start()
	nc := len(x.colours)
	costs := make([]float64, 1<<len(m.free))
	for set := range costs {
		costs[set] = math.Inf(1)
	}
	for set := range uint32(1) << len(mine) {
		wide := uint32(0)
		for k := range mine {
			if set>>k&1 != 0 {
				wide |= bit[k]
			}
		}
		for c := range nc {
			for i := x.head[int(set)*nc+c]; i >= 0; i = x.labels[i].next {
				if l := &x.labels[i]; l.cost < costs[wide] {
					costs[wide] = l.cost
				}
				if x.labels[i].cost < limit && !x.grow(i, limit) {
					return nil, nil, false
				}
			}
		}
	}
	return x, costs, true
}

// courseOf is the cheapest order of exactly a set of the model's free loads.
func (x *table) courseOf(m *model, wide uint32) []int32 {
	set := uint32(0)
	for k, j := range x.loads {
		for p, f := range m.free {
			if f == j && wide>>p&1 != 0 {
				set |= 1 << k
			}
		}
	}
	best := int32(-1)
	nc := len(x.colours)
	for c := range nc {
		for i := x.head[int(set)*nc+c]; i >= 0; i = x.labels[i].next {
			if best < 0 || x.labels[i].cost < x.labels[best].cost {
				best = i
			}
		}
	}
	return x.course(best)
}
