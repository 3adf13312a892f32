package plan

import (
	"math"
	"math/bits"
	"slices"
)

// relax works out setups and a calendar that no real course of the booth
// beats: a setup may come out of the colour of any frozen load instead.
func (x *table) relax() {
	m, b := x.m, &x.m.booths[x.b]
	later := b.frozen[b.first.frozen:]
	x.free = cut(b.open, m, later)
	x.least = make([]int64, len(x.loads))
	x.soft = make([][]int64, len(x.colours))
	for k := range x.loads {
		x.least[k] = never
	}
	for c := range x.colours {
		x.soft[c] = make([]int64, len(x.loads))
		for k, j := range x.loads {
			to := m.loads[j].colour
			s := m.setup[x.colours[c]][to]
			for _, f := range later {
				s = min(s, m.setup[m.loads[f].colour][to])
			}
			x.soft[c][k] = s
			x.least[k] = min(x.least[k], s)
		}
	}
}

// cut takes the time of frozen loads out of a calendar.
func cut(open []span, m *model, frozen []int32) []span {
	out := make([]span, 0, len(open)+len(frozen))
	for _, o := range open {
		from := o.from
		for _, f := range frozen {
			l := &m.loads[f]
			if l.at >= o.to || l.at+l.length <= from {
				continue
			}
			if l.at > from {
				out = append(out, span{from, l.at})
			}
			from = l.at + l.length
		}
		if from < o.to {
			out = append(out, span{from, o.to})
		}
	}
	return out
}

// bounds fills early and rest, relaxations by set and colour of the gun. What
// no course below the limit passes through is early never and has infinite
// rest. False: time ran out.
func (x *table) bounds(limit float64) bool {
	return x.forward(limit) && x.backward()
}

// forward works out how early each set can be done and what that costs at
// least, and goes no further where that and the rest pass the limit.
func (x *table) forward(limit float64) bool {
	n, nc := len(x.loads), len(x.colours)
	x.early = slices.Repeat([]int64{never}, nc<<n)
	x.rest = slices.Repeat([]float64{math.Inf(1)}, nc<<n) // until backward: what it costs to get there
	x.early[x.first], x.rest[x.first] = x.m.booths[x.b].first.t, 0
	all := uint32(1)<<n - 1
	for set := range all {
		if set&2047 == 0 && !x.more() {
			return false
		}
		for c := range nc {
			h := int(set)*nc + c
			t, cost := x.early[h], x.rest[h]
			if t >= never {
				continue
			}
			if cost+x.alone(set, t, limit-cost) >= limit {
				x.early[h] = never
				continue
			}
			for left := all &^ set; left != 0; left &= left - 1 {
				k := bits.TrailingZeros32(left)
				l := &x.m.loads[x.loads[k]]
				if s := fit(x.free, max(t+x.soft[c][k], l.release), l.length); s < never {
					to := int(set|1<<k)*nc + int(x.own[k])
					x.early[to] = min(x.early[to], s+l.length)
					x.rest[to] = min(x.rest[to], cost+l.cost(s))
				}
			}
		}
	}
	return true
}

// backward works out what the loads outside each set cost at least.
func (x *table) backward() bool {
	n, nc := len(x.loads), len(x.colours)
	all := uint32(1)<<n - 1
	for set := int(all); set >= 0; set-- {
		if set&2047 == 0 && !x.more() {
			return false
		}
		out := -1.0 // not reckoned yet
		for c := range nc {
			h := set*nc + c
			t := x.early[h]
			if x.rest[h] = math.Inf(1); t >= never {
				continue
			}
			if out < 0 {
				out = x.leftOut(uint32(set))
			}
			low := out
			for left := all &^ uint32(set); left != 0; left &= left - 1 {
				k := bits.TrailingZeros32(left)
				l := &x.m.loads[x.loads[k]]
				to := (set|1<<k)*nc + int(x.own[k])
				if x.rest[to] >= low {
					continue
				}
				if s := fit(x.free, max(t+x.soft[c][k], l.release), l.length); s < never {
					low = min(low, l.cost(s)+x.rest[to])
				}
			}
			x.rest[h] = low
		}
	}
	return true
}

// leftOut is the cost of leaving out all that is not in a set.
func (x *table) leftOut(set uint32) float64 {
	c := 0.0
	for k := range x.loads {
		if set>>k&1 == 0 {
			c += x.drop[k]
		}
	}
	return c
}

// alone is what the loads outside a set cost at least when the booth is free
// at t; above the limit it may stop.
func (x *table) alone(set uint32, t int64, limit float64) float64 {
	c := 0.0
	for left := (uint32(1)<<len(x.loads) - 1) &^ set; left != 0; left &= left - 1 {
		k := bits.TrailingZeros32(left)
		l := &x.m.loads[x.loads[k]]
		c += min(l.cost(max(l.release, t+x.least[k])), x.drop[k])
		if c > limit {
			break
		}
	}
	return c
}
