package sim

import (
	"math"
	"slices"
	"sort"
	"time"
)

// step is how finely the account steps through time, unless the shop's habits
// say how.
const step = 10 * time.Second

// remembered is for how long settled steps are kept at least; what is older is
// stepped through again when it is asked for.
const remembered = 40 * 24 * time.Hour

// deadBandC is added to the error of every probe's reading, handErrorC to
// that of a reading taken by hand, both as the shop's contract says.
const (
	deadBandC  = 0.2
	handErrorC = 1.0
)

// span is a set of temperatures in °C.
type span struct{ lo, hi float64 }

func (s span) hull(o span) span      { return span{math.Min(s.lo, o.lo), math.Max(s.hi, o.hi)} }
func (s span) meet(o span) span      { return span{math.Max(s.lo, o.lo), math.Min(s.hi, o.hi)} }
func (s span) empty() bool           { return s.lo > s.hi }
func (s span) wider(by float64) span { return span{s.lo - by, s.hi + by} }
func (s span) cut(bounds span) span  { return s.meet(bounds) }
func around(c, half float64) span    { return span{c - half, c + half} }

// told is one reading as it was told to the shop.
type told struct {
	at   time.Time
	read span // right within its error
	set  span // what the air's set was at that instant
	jump bool // it lay outside what the air can do
	late bool // it was told after one that was read later
	c    float64
	rh   float64 // relative humidity in per cent; 0: not told
}

// air is the account's own knowledge of one zone: the set that its
// temperature lies in, by the rule of the shop's contract, stepped through.
type air struct {
	zone     string
	limits   span
	errorC   float64 // half-width right at a reading
	drift    float64 // K per minute
	stale    time.Duration
	settling time.Duration
	works    bool // a bay that a car of unknown whereabouts may be in

	step    time.Duration
	from    time.Time // first step
	settled []span    // one set a step, up to the last reading
	told    []told
	rates   map[*law]*sums
	old     map[since]ages // up to the first step that is kept
}

// since is a law's age from a moment on: a car that stands for months asks for
// it at every look.
type since struct {
	law  *law
	from time.Time
}

// sums are running totals of one law's rates over the settled steps.
type sums struct{ cold, hot []float64 }

// sway is how far an edge of the set goes in one step.
func (a *air) sway() float64 { return a.drift * a.step.Minutes() }

func newAir(zone string, from time.Time, step time.Duration) *air {
	return &air{zone: zone, step: step, from: from, rates: map[*law]*sums{}, old: map[since]ages{}}
}

// read takes in a reading at a moment and reports whether it jumped further
// than the air can, and whether it lies outside the zone's limits.
func (a *air) read(at time.Time, c, extra, rh float64) (jump, outside bool) {
	r := told{at: at, read: around(c, a.errorC+extra), c: c, rh: rh}
	outside = r.read.hi < a.limits.lo || r.read.lo > a.limits.hi
	grown := a.limits.hull(r.read)
	if n := len(a.told); n > 0 {
		last := a.told[n-1]
		grown = last.set.wider(a.drift * at.Sub(last.at).Minutes()).cut(a.limits.hull(last.set).hull(r.read))
	}
	r.set = grown.meet(r.read)
	if r.set.empty() {
		r.set, r.jump = grown.hull(r.read), true
	}
	a.told = append(a.told, r)
	a.fill()
	return r.jump, outside
}

// jumps reports whether a reading would jump further than the air can, or
// lie beyond the limits.
func (a *air) jumps(at time.Time, c, extra float64) bool {
	r, ok := a.last()
	read := around(c, a.errorC+extra)
	if !ok {
		return false
	}
	grown := r.set.wider(a.drift * at.Sub(r.at).Minutes()).cut(a.limits.hull(r.set).hull(read))
	return grown.meet(read).empty() || read.lo < a.limits.lo || read.hi > a.limits.hi
}

// fill settles the steps up to the newest reading.
func (a *air) fill() {
	n := len(a.told) - 1
	defer a.forget()
	for {
		mid := a.moment(len(a.settled)).Add(a.step / 2)
		if !mid.Before(a.told[n].at) {
			return
		}
		a.settled = append(a.settled, a.between(mid, n))
	}
}

// forget drops settled steps that nothing in work goes back to.
func (a *air) forget() {
	keep := int(remembered / a.step)
	if len(a.settled) < 2*keep {
		return
	}
	drop := len(a.settled) - keep
	for l, s := range a.rates {
		if len(s.cold) <= drop { // nobody has asked for it since
			delete(a.rates, l)
			continue
		}
		s.cold, s.hot = slices.Delete(s.cold, 0, drop), slices.Delete(s.hot, 0, drop)
	}
	a.from, a.settled = a.moment(drop), slices.Delete(a.settled, 0, drop)
	clear(a.old)
}

// between is the set at a moment before the reading of that index, and after
// the one before it.
func (a *air) between(at time.Time, i int) span {
	if i == 0 {
		return a.limits
	}
	last, next := a.told[i-1], a.told[i]
	bounds := a.limits.hull(last.set).hull(next.set)
	fore := last.set.wider(a.drift * at.Sub(last.at).Minutes())
	if next.jump {
		return fore.hull(next.read.wider(a.drift * next.at.Sub(at).Minutes())).cut(bounds)
	}
	return fore.meet(next.set.wider(a.drift * next.at.Sub(at).Minutes())).cut(bounds)
}

// withdraw takes the reading of a moment out and settles again what came
// after the one before it.
func (a *air) withdraw(at time.Time) {
	i := a.place(at)
	if i == len(a.told) || !a.told[i].at.Equal(at) {
		return
	}
	later := slices.Clone(a.told[i+1:])
	a.told = a.told[:i]
	a.unsettle()
	a.readAgain(later)
}

// readAgain takes in readings that were taken in before.
func (a *air) readAgain(rs []told) {
	for _, r := range rs {
		a.read(r.at, r.c, (r.read.hi-r.read.lo)/2-a.errorC, r.rh)
		a.told[len(a.told)-1].late = r.late
	}
}

// readBetween reports whether a reading from between two moments was told in
// order.
func (a *air) readBetween(from, to time.Time) bool {
	return slices.ContainsFunc(a.told, func(r told) bool { return !r.late && !r.at.Before(from) && !r.at.After(to) })
}

// unsettle takes back the steps that lie behind the newest reading.
func (a *air) unsettle() {
	n := 0
	if r, ok := a.last(); ok {
		n = max(0, min(len(a.settled), int((r.at.Sub(a.from)+a.step/2-1)/a.step)))
	}
	a.settled = a.settled[:n]
	clear(a.old)
	for _, s := range a.rates {
		if len(s.cold) > n+1 {
			s.cold, s.hot = s.cold[:n+1], s.hot[:n+1]
		}
	}
}

// place is that of the first reading that is not before a moment.
func (a *air) place(at time.Time) int {
	return sort.Search(len(a.told), func(i int) bool { return !a.told[i].at.Before(at) })
}

// last is the newest reading; false before the first.
func (a *air) last() (told, bool) {
	if len(a.told) == 0 {
		return told{}, false
	}
	return a.told[len(a.told)-1], true
}

// fresh reports whether the newest reading is young enough for the gate.
func (a *air) fresh(at time.Time) bool {
	r, ok := a.last()
	return ok && at.Sub(r.at) <= a.stale
}

// freshAt reports whether a reading was young enough at a moment.
func (a *air) freshAt(at time.Time) bool {
	for i := len(a.told) - 1; i >= 0; i-- {
		if r := a.told[i]; !r.at.After(at) {
			return at.Sub(r.at) <= a.stale
		}
	}
	return false
}

// edges is the set at a moment, from what is known now.
func (a *air) edges(at time.Time) span {
	r, ok := a.last()
	if !ok {
		return a.limits
	}
	if at.Before(r.at) {
		i := a.place(at)
		if a.told[i].at.Equal(at) {
			return a.told[i].set
		}
		return a.between(at, i)
	}
	return r.set.wider(a.drift * at.Sub(r.at).Minutes()).cut(a.limits.hull(r.set))
}

// humidity is that of the newest reading at a moment that told it, if it was
// taken within the zone's stale time.
func (a *air) humidity(at time.Time) (c, rh float64, ok bool) {
	for i := len(a.told) - 1; i >= 0; i-- {
		if r := a.told[i]; !r.at.After(at) && r.rh > 0 {
			return r.c, r.rh, at.Sub(r.at) <= a.stale
		}
	}
	return 0, 0, false
}
