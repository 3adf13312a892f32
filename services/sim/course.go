package sim

import (
	"math"
	"slices"
	"time"
)

// The Arrhenius law in the equivalent-age form of ASTM C1074, written out
// here once more: the account shares no code with the shop's cure model.
const (
	gasConstant = 8.314462618 // J/(mol K), CODATA 2018
	zeroC       = 273.15
)

// law is how fast a product cures at a temperature, relative to the
// temperature that its times are given at.
type law struct {
	refC     float64
	low, top float64 // activation energy, kJ/mol; equal when one is given
	minC     float64 // below it nothing is surely reached
}

// exponent is the logarithm of the rate at a temperature with an energy.
func (l *law) exponent(c, energy float64) float64 {
	return -energy * 1000 / gasConstant * (1/(c+zeroC) - 1/(l.refC+zeroC))
}

// cold is the least rate in a step whose middle is at a temperature, and in
// which it goes up or down by sway: below the product's least temperature
// nothing counts, and of a step that crosses it only the part above.
func (l *law) cold(c, sway float64) float64 {
	above := 1.0
	switch {
	case c < l.minC-sway/2:
		return 0
	case c < l.minC+sway/2:
		above = 0.5 + (c-l.minC)/sway
	}
	c = math.Max(c, l.minC)
	return above * math.Exp(math.Min(l.exponent(c, l.low), l.exponent(c, l.top)))
}

func (l *law) hot(c float64) float64 {
	return math.Exp(math.Max(l.exponent(c, l.low), l.exponent(c, l.top)))
}

// ages are seconds at the reference temperature: what has surely been
// reached and what may have been.
type ages struct{ cold, hot float64 }

func (a ages) plus(b ages) ages { return ages{a.cold + b.cold, a.hot + b.hot} }

// move is a tap that took a car to a zone.
type move struct {
	at   time.Time
	zone *air
}

// warmth is heat that was held to a seam: until its panel has settled again,
// the set holds it as well.
type warmth struct {
	from, to time.Time
	set      span
}

func (w warmth) at(t time.Time) bool { return !t.Before(w.from) && t.Before(w.to) }

// warmed widens a set by the heat that counts at a moment.
func warmed(set span, heats []warmth, at time.Time) span {
	for _, w := range heats {
		if w.at(at) {
			set = set.hull(w.set)
		}
	}
	return set
}

// course is where a car has been, in order: what its beads cured in.
type course struct {
	bays  []*air // while nobody knows
	moves []move
}

// to notes that the car is in a zone from a moment on.
func (c *course) to(at time.Time, z *air) {
	if n := len(c.moves); n > 0 && c.moves[n-1].zone == z {
		return
	}
	c.moves = append(c.moves, move{at, z})
}

// zones are those that count at a moment, the current one first: while the
// panel settles to a new zone, the one that it came from counts as well.
func (c *course) zones(at time.Time) []*air {
	out := c.bays
	for i, m := range c.moves {
		if m.at.After(at) {
			break
		}
		out = []*air{m.zone}
		for j := i; j >= 0; j-- {
			from := c.bays
			if j > 0 {
				from = []*air{c.moves[j-1].zone}
			}
			if at.Before(c.moves[j].at.Add(c.moves[j].zone.settling)) {
				out = with(out, append([]*air{c.moves[j].zone}, from...))
			}
		}
	}
	return out
}

// between are the zones that count at any time between two moments.
func (c *course) between(from, to time.Time) []*air {
	var out []*air
	for _, at := range c.breaks(from, to, nil) {
		out = with(out, c.zones(at))
	}
	return out
}

func with(a, b []*air) []*air {
	out := append([]*air(nil), a...)
next:
	for _, z := range b {
		for _, o := range out {
			if o == z {
				continue next
			}
		}
		out = append(out, z)
	}
	return out
}

// edges is the set that a panel lies in at a moment.
func (c *course) edges(at time.Time) span {
	var out span
	for i, z := range c.zones(at) {
		if i == 0 {
			out = z.edges(at)
		} else {
			out = out.hull(z.edges(at))
		}
	}
	return out
}

// breaks are the moments between two at which the zones that count change.
func (c *course) breaks(from, to time.Time, heats []warmth) []time.Time {
	out := []time.Time{from}
	at := from
	for {
		next := to
		for _, m := range c.moves {
			for _, b := range []time.Time{m.at, m.at.Add(m.zone.settling)} {
				if b.After(at) && b.Before(next) {
					next = b
				}
			}
		}
		for _, w := range heats {
			for _, b := range []time.Time{w.from, w.to} {
				if b.After(at) && b.Before(next) {
					next = b
				}
			}
		}
		out = append(out, next)
		if !next.Before(to) {
			return out
		}
		at = next
	}
}

// age adds up a law's rates between two moments. What lies after the last
// reading is stepped through in the growing cone.
func (c *course) age(l *law, from, to time.Time, heats ...warmth) ages {
	var sum ages
	if !to.After(from) {
		return sum
	}
	bs := c.breaks(from, to, heats)
	for i := 1; i < len(bs); i++ {
		zones := c.zones(bs[i-1])
		hot := slices.ContainsFunc(heats, func(w warmth) bool { return w.at(bs[i-1]) })
		if len(zones) == 1 && !hot {
			sum = sum.plus(zones[0].age(l, bs[i-1], bs[i]))
			continue
		}
		sum = sum.plus(stepped(zones[0].step, bs[i-1], bs[i], func(at time.Time) ages {
			set, sway := zones[0].edges(at), zones[0].sway()
			for _, z := range zones[1:] {
				other := z.edges(at)
				if other.lo < set.lo {
					sway = z.sway() // the cold edge goes as fast as the air that it is of
				}
				set = set.hull(other)
			}
			set = warmed(set, heats, at)
			return ages{l.cold(set.lo, sway), l.hot(set.hi)}
		}))
	}
	return sum
}

// settled is the hot part of age that no further reading can change: where a
// zone that counts was not read since, it ends with that zone's last reading.
func (c *course) settled(l *law, from, to time.Time, heats ...warmth) float64 {
	var hot float64
	if !to.After(from) {
		return hot
	}
	bs := c.breaks(from, to, heats)
	for i := 1; i < len(bs); i++ {
		end := bs[i]
		for _, z := range c.zones(bs[i-1]) {
			if r, ok := z.last(); !ok {
				end = bs[i-1]
			} else if r.at.Before(end) {
				end = r.at
			}
		}
		hot += c.age(l, bs[i-1], end, heats...).hot
	}
	return hot
}

// stepped integrates rates from a moment to another in whole and broken
// steps.
func stepped(step time.Duration, from, to time.Time, rate func(time.Time) ages) ages {
	var sum ages
	for at := from; at.Before(to); {
		next := at.Truncate(step).Add(step)
		if next.After(to) {
			next = to
		}
		w := next.Sub(at).Seconds()
		r := rate(at.Add(next.Sub(at) / 2))
		sum = sum.plus(ages{r.cold * w, r.hot * w})
		at = next
	}
	return sum
}

// age is the same for one zone, with running totals over the settled steps.
func (a *air) age(l *law, from, to time.Time) ages {
	rate := func(at time.Time) ages {
		e := a.edges(at)
		return ages{l.cold(e.lo, a.sway()), l.hot(e.hi)}
	}
	i, j := a.index(from.Add(a.step-1)), a.index(to)
	if j > len(a.settled) {
		j = len(a.settled)
	}
	if from.Before(a.from) && a.from.Before(to) {
		key := since{l, from}
		old, ok := a.old[key]
		if !ok {
			old = stepped(a.step, from, a.from, rate)
			a.old[key] = old
		}
		return old.plus(a.age(l, a.from, to))
	}
	if i < 0 || i >= j {
		return stepped(a.step, from, to, rate)
	}
	s := a.sums(l)
	sum := ages{s.cold[j] - s.cold[i], s.hot[j] - s.hot[i]}
	sum = sum.plus(stepped(a.step, from, a.moment(i), rate))
	return sum.plus(stepped(a.step, a.moment(j), to, rate))
}

func (a *air) index(at time.Time) int {
	if at.Before(a.from) {
		return -1
	}
	return int(at.Sub(a.from) / a.step)
}

func (a *air) moment(i int) time.Time { return a.from.Add(time.Duration(i) * a.step) }

// sums brings a law's running totals up to the last settled step.
func (a *air) sums(l *law) *sums {
	s := a.rates[l]
	if s == nil {
		s = &sums{cold: []float64{0}, hot: []float64{0}}
		a.rates[l] = s
	}
	from := len(s.cold) - 1
	s.cold, s.hot = slices.Grow(s.cold, len(a.settled)-from), slices.Grow(s.hot, len(a.settled)-from)
	for i := from; i < len(a.settled); i++ {
		s.cold = append(s.cold, s.cold[i]+l.cold(a.settled[i].lo, a.sway())*a.step.Seconds())
		s.hot = append(s.hot, s.hot[i]+l.hot(a.settled[i].hi)*a.step.Seconds())
	}
	return s
}
