package plan

import (
	"math"
	"math/bits"
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

// bounds fills early and rest, relaxations by set and colour of the gun.
// False: time ran out.
func (x *table) bounds() bool {
	n, nc := len(x.loads), len(x.colours)
	sets := 1 << n
	x.early = make([]int64, sets*nc)
	x.rest = make([]float64, sets*nc)
	for i := range x.early {
		x.early[i] = never
	}
	x.early[x.first] = x.m.booths[x.b].first.t
	for set := range sets {
		if set&2047 == 0 && !x.more() {
			return false
		}
		for c := range nc {
			t := x.early[set*nc+c]
			if t >= never {
				continue
			}
			for left := uint(sets-1) &^ uint(set); left != 0; left &= left - 1 {
				k := bits.TrailingZeros(left)
				l := &x.m.loads[x.loads[k]]
				if s := fit(x.free, max(t+x.soft[c][k], l.release), l.length); s < never {
					e := &x.early[(set|1<<k)*nc+int(x.own[k])]
					*e = min(*e, s+l.length)
				}
			}
		}
	}
	for set := sets - 1; set >= 0; set-- {
		if set&2047 == 0 && !x.more() {
			return false
		}
		for c := range nc {
			t := x.early[set*nc+c]
			if t >= never {
				x.rest[set*nc+c] = math.Inf(1)
				continue
			}
			low := x.leftOut(uint32(set))
			for left := uint(sets-1) &^ uint(set); left != 0; left &= left - 1 {
				k := bits.TrailingZeros(left)
				l := &x.m.loads[x.loads[k]]
				if s := fit(x.free, max(t+x.soft[c][k], l.release), l.length); s < never {
					low = min(low, l.cost(s)+x.rest[(set|1<<k)*nc+int(x.own[k])])
				}
			}
			x.rest[set*nc+c] = low
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
