package cure

import (
	"math"
	"sort"
	"time"
)

// View is a course as it was known at some moment: its first readings only.
// It holds until the course is changed other than by Append.
type View struct {
	c *Course
	n int
}

// AsOf leaves out the readings later than t: what was known then.
func (c *Course) AsOf(t time.Time) Seen { return c.asOf(nanos(t)) }

// Hindsight uses every reading.
func (c *Course) Hindsight() Seen { return View{c, len(c.marks)} }

// View is AsOf as the concrete type, which also knows its last reading.
func (c *Course) View(t time.Time) View { return c.asOf(nanos(t)) }

func (c *Course) asOf(at int64) View {
	n := len(c.marks)
	// Most questions are about now: look at the end first.
	if n > 0 && c.marks[n-1].at > at {
		n = sort.Search(n, func(i int) bool { return c.marks[i].at > at })
	}
	return View{c, n}
}

// at gives the number of the segment that a moment lies in; a reading's
// instant belongs to the segment that it begins.
func (v View) at(ns int64) int {
	if v.n > 0 && v.c.marks[v.n-1].at <= ns {
		return v.n - 1
	}
	return sort.Search(v.n, func(i int) bool { return v.c.marks[i].at > ns }) - 1
}

// segment is the view's segment i. The one before the first reading has no
// start of its own and gets one, lest seconds since 1970 lose digits.
func (v View) segment(i int, start int64) segment {
	s := v.c.segment(i, v.n)
	if i < 0 {
		s.start = start
	}
	return s
}

// Edges is the set of temperatures that the zone may have at t: at a
// reading's instant the reading's own set.
func (v View) Edges(t time.Time) Set { return v.edges(nanos(t)) }

func (v View) edges(ns int64) Set {
	i := v.at(ns)
	if i >= 0 && v.c.marks[i].at == ns {
		return v.c.marks[i].set
	}
	s := v.c.segment(i, v.n)
	tau := seconds(s.start, ns)
	// Where both neighbours only just touch, rounding may turn the edges over.
	lo, hi := s.lower(tau), s.upper(tau)
	return Set{math.Min(lo, hi), math.Max(lo, hi)}
}

// Nominal is the temperature at t in °C by straight lines between readings,
// level outside them, brought inside the edges; false without any reading.
func (v View) Nominal(t time.Time) (float64, bool) { return v.nominal(nanos(t)) }

func (v View) nominal(ns int64) (float64, bool) {
	if v.n == 0 {
		return 0, false
	}
	s := v.c.segment(v.at(ns), v.n)
	return v.edges(ns).clamp(s.line(seconds(s.start, ns))), true
}

// Age is the law's age in seconds along a side from one moment to another;
// beyond the last reading along the growing cone. It is zero when to is not
// after from, and false only for the nominal side without any reading.
func (v View) Age(l Law, side Side, from, to time.Time) (float64, bool) {
	return v.age(l, side, nanos(from), nanos(to))
}

func (v View) age(l Law, side Side, from, to int64) (float64, bool) {
	if side == Nominal && v.n == 0 {
		return 0, false
	}
	if to <= from {
		return 0, true
	}
	i, j := v.at(from), v.at(to)
	if i == j {
		s := v.segment(i, from)
		return s.age(l, side, seconds(s.start, from), seconds(s.start, to)), true
	}
	sums := v.c.upTo(l, side, v.n)
	end := v.total(sums, j, l, side, to)
	age := math.Max(0, end-v.total(sums, i, l, side, from)) // rounding must not make it fall
	if swamped(end, age) {
		age, _ = v.plod(l, side, from, to, math.Inf(1))
	}
	return age, true
}

// swamped reports whether a sum is so much greater than the age taken out of
// it that rounding would show: a steep law after a long hot bake.
func swamped(sum, age float64) bool { return sum > 1e8 && sum > 1e6*age }

// plod adds up the age segment by segment until it reaches target, and tells
// what it came to and when it stopped.
func (v View) plod(l Law, side Side, from, to int64, target float64) (sum float64, at int64) {
	for i, j := v.at(from), v.at(to); i <= j; i++ {
		end := to
		if i < j {
			end = v.c.marks[i+1].at
		}
		s := v.segment(i, from)
		t0, t1 := seconds(s.start, from), seconds(s.start, end)
		age := s.age(l, side, t0, t1)
		if sum+age >= target {
			return target, clip(from, s.reach(l, side, t0, t1, target-sum)-t0, to)
		}
		sum, from = sum+age, end
	}
	return sum, to
}

// total is the cumulative age at a moment of segment i, zero at the first
// reading and negative before it.
func (v View) total(sums []float64, i int, l Law, side Side, ns int64) float64 {
	s := v.c.segment(i, v.n)
	if i < 0 {
		return -s.age(l, side, seconds(s.start, ns), 0)
	}
	return sums[i] + s.age(l, side, 0, seconds(s.start, ns))
}

// Passed is the first moment from `from` on, not after `to`, at which the age
// since from has reached target (s), or false.
func (v View) Passed(l Law, side Side, from time.Time, target float64, to time.Time) (time.Time, bool) {
	ns, ok := v.passed(l, side, nanos(from), target, nanos(to))
	return moment(ns), ok
}

func (v View) passed(l Law, side Side, from int64, target float64, to int64) (int64, bool) {
	if target <= 0 {
		return from, from <= to
	}
	age, ok := v.age(l, side, from, to)
	if !ok || !enough(age, target) {
		return 0, false
	}
	i, j := v.at(from), v.at(to)
	if i == j {
		s := v.segment(i, from)
		t0 := seconds(s.start, from)
		return clip(from, s.reach(l, side, t0, seconds(s.start, to), target)-t0, to), true
	}
	sums := v.c.upTo(l, side, v.n)
	if swamped(sums[j], age) {
		_, at := v.plod(l, side, from, to, target)
		return at, true
	}
	return v.cross(sums, l, side, v.total(sums, i, l, side, from)+target, from, to), true
}

// cross finds the moment within [from, to] at which the cumulative age equals
// goal; the caller has made sure that it gets there.
func (v View) cross(sums []float64, l Law, side Side, goal float64, from, to int64) int64 {
	i, j := v.at(from), v.at(to)
	// The first reading in (i, j] at which the sum has got there ends the
	// segment of the crossing.
	k := i + sort.Search(j-i, func(k int) bool { return sums[i+1+k] >= goal })
	s := v.c.segment(k, v.n)
	// Before the first reading there is no sum to begin with.
	begin := from
	if k >= 0 {
		begin, goal = s.start, goal-sums[k]
	} else {
		goal -= v.total(sums, k, l, side, from)
	}
	end := to
	if k < j {
		end = v.c.marks[k+1].at
	}
	t0 := seconds(s.start, begin)
	return max(from, clip(begin, s.reach(l, side, t0, seconds(s.start, end), goal)-t0, to))
}

// Settled is the hot age (s) counted up to the last reading not after `to`:
// what no later reading in order takes back.
func (v View) Settled(l Law, from, to time.Time) float64 {
	return v.settled(l, nanos(from), nanos(to))
}

func (v View) settled(l Law, from, to int64) float64 {
	last, ok := v.lastBy(to)
	if !ok {
		return 0
	}
	age, _ := v.age(l, Hot, from, last)
	return age
}

// lastBy is the instant of the last reading not after ns.
func (v View) lastBy(ns int64) (int64, bool) {
	i := v.at(ns)
	if i < 0 {
		return 0, false
	}
	return v.c.marks[i].at, true
}

// LastReading is the newest reading of the view not after t, if any.
func (v View) LastReading(t time.Time) (Reading, bool) {
	i := v.at(nanos(t))
	if i < 0 {
		return Reading{}, false
	}
	return v.c.marks[i].reading(), true
}

// Fresh reports whether there is a reading not after t that is not stale at t.
func (v View) Fresh(t time.Time) bool {
	r, ok := v.LastReading(t)
	return ok && t.Sub(r.At) <= v.c.zone.StaleAfter
}

// slack is the relative exactness to which ages are integrated.
const slack = 1e-9

// enough compares an age with its target no more exactly than ages are
// integrated, so that the very instant which is due counts as due.
func enough(age, target float64) bool { return age >= target-slack*target }

// clip is s seconds after ns, not later than end.
func clip(ns int64, s float64, end int64) int64 {
	t, ok := after(ns, s)
	if !ok || t > end {
		return end
	}
	return t
}
