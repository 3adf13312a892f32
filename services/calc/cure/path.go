package cure

import (
	"fmt"
	"sort"
	"time"

	"seamwright/services/fault"
)

// Surroundings is what a seam cures in: the [Course] of one zone, or a [Path]
// through several.
type Surroundings interface {
	// AsOf leaves out readings later than t, as they were not known then.
	AsOf(t time.Time) Seen
	// Hindsight uses every reading.
	Hindsight() Seen
}

// Seen is surroundings as known at some moment. Ages and targets are seconds
// at the reference temperature.
type Seen interface {
	// Edges is the set of temperatures (°C) at t.
	Edges(t time.Time) Set
	// Nominal is the likely temperature (°C) at t, false when not known.
	Nominal(t time.Time) (float64, bool)
	// Age along a side; past the last reading along the growing cone. False
	// when the nominal is not known.
	Age(l Law, side Side, from, to time.Time) (float64, bool)
	// Passed is the first moment in [from, to] at which the age since from
	// has reached target, or false.
	Passed(l Law, side Side, from time.Time, target float64, to time.Time) (time.Time, bool)
	// Settled is the hot age that no later reading in order takes back.
	Settled(l Law, from, to time.Time) float64
	// Ahead is the forecast that due times after at are told by.
	Ahead(at time.Time) Forecast
	// Fresh reports whether every zone that counts at t has a reading that
	// is not stale then.
	Fresh(t time.Time) bool
	// Warmer lists the stretches in which the nominal is above maxC (°C).
	Warmer(maxC float64, from, to time.Time) []Finding
}

// Fixed is a temperature that does not come from a zone: a heat source, or a
// measured surface, held over a span.
type Fixed struct {
	Set      Set     // °C
	NominalC float64 // °C, inside the set
}

// Span is a stretch of a path: its set is the hull of all that it names. The
// nominal is that of the first zone, where the seam is taken to be, else of
// the first fixed temperature.
type Span struct {
	From  time.Time // until the next span begins; the first also reaches back
	Zones []*Course
	Fixed []Fixed
}

// Path is where one seam has been, in order of time. A panel that was moved
// is in the hull of the old and the new zone until it has settled.
type Path struct{ spans []pathSpan }

type pathSpan struct {
	from  int64
	zones []*Course
	fixed []Fixed
}

// NewPath makes a path; each span must name something and begin after the
// one before. The courses are shared, not copied.
func NewPath(spans ...Span) (*Path, error) {
	if len(spans) == 0 {
		return nil, fault.Bad("path", "empty", "needs at least one span; name the zone the seam is in")
	}
	p := &Path{spans: make([]pathSpan, len(spans))}
	for i, s := range spans {
		at := fmt.Sprintf("path[%d]", i)
		p.spans[i] = pathSpan{nanos(s.From), s.Zones, s.Fixed}
		switch {
		case len(s.Zones)+len(s.Fixed) == 0:
			return nil, fault.Bad(at, "empty", "must name a zone or a temperature; with the whereabouts unknown, every zone it may be in")
		case i > 0 && p.spans[i].from <= p.spans[i-1].from:
			return nil, fault.Bad(at+".from", s.From.Format(time.RFC3339Nano), "must be after the span before; sort the spans")
		}
		for _, f := range s.Fixed {
			if !(f.Set.Lo >= minReadingC && f.Set.Hi <= 1000 && f.Set.Lo <= f.NominalC && f.NominalC <= f.Set.Hi) {
				return nil, fault.Bad(at+".fixed", fmt.Sprint(f), "needs low <= nominal <= high within -60 to 1000 °C; correct the heat or surface temperature")
			}
		}
	}
	return p, nil
}

// AsOf leaves out readings later than t.
func (p *Path) AsOf(t time.Time) Seen { return pathView{p, nanos(t)} }

// Hindsight uses every reading.
func (p *Path) Hindsight() Seen { return pathView{p, nanos(maxTime)} }

// pathView is a path with the readings up to a moment.
type pathView struct {
	p  *Path
	by int64
}

// span gives the number of the span that a moment lies in.
func (v pathView) span(ns int64) int {
	i := sort.Search(len(v.p.spans), func(i int) bool { return v.p.spans[i].from > ns })
	return max(0, i-1)
}

// each calls f for every part of [from, to] that lies in one span, in order,
// until f returns false.
func (v pathView) each(from, to int64, f func(h hull, from, to int64) bool) {
	for i := v.span(from); i < len(v.p.spans) && from < to; i++ {
		end := to
		if i+1 < len(v.p.spans) {
			end = min(to, v.p.spans[i+1].from)
		}
		if !f(v.hull(i), from, end) {
			return
		}
		from = end
	}
}

func (v pathView) hull(i int) hull {
	s := &v.p.spans[i]
	h := hull{fixed: s.fixed, views: make([]View, len(s.zones))}
	for k, c := range s.zones {
		h.views[k] = c.asOf(v.by)
	}
	return h
}

func (v pathView) Edges(t time.Time) Set {
	ns := nanos(t)
	return v.hull(v.span(ns)).edges(ns)
}

func (v pathView) Nominal(t time.Time) (float64, bool) {
	ns := nanos(t)
	return v.hull(v.span(ns)).nominal(ns)
}

func (v pathView) Age(l Law, side Side, from, to time.Time) (float64, bool) {
	var room [8]float64
	_, sum, known := v.ages(room[:0], l, side, nanos(from), nanos(to))
	return sum, known
}

// ages adds the age of each span within [from, to] to a list, and sums it up;
// false when the nominal of one is not known.
func (v pathView) ages(list []float64, l Law, side Side, from, to int64) (_ []float64, sum float64, known bool) {
	known = true
	if side == Nominal && from >= to {
		_, known = v.hull(v.span(from)).nominal(from)
	}
	v.each(from, to, func(h hull, from, to int64) bool {
		age, ok := h.age(l, side, from, to)
		sum, list, known = sum+age, append(list, age), known && ok
		return known
	})
	if !known {
		return nil, 0, false
	}
	return list, sum, true
}

func (v pathView) Passed(l Law, side Side, from time.Time, target float64, to time.Time) (time.Time, bool) {
	a, b := nanos(from), nanos(to)
	if target <= 0 {
		return moment(a), a <= b
	}
	var room [8]float64
	ages, sum, known := v.ages(room[:0], l, side, a, b)
	if !known || !enough(sum, target) {
		return time.Time{}, false
	}
	at, left := b, target
	v.each(a, b, func(h hull, from, to int64) bool {
		age := ages[0]
		if age >= left {
			at = h.reach(l, side, from, left, to)
			return false
		}
		left, ages = left-age, ages[1:]
		return true
	})
	return moment(at), true
}

func (v pathView) Settled(l Law, from, to time.Time) float64 {
	var sum float64
	end := nanos(to)
	v.each(nanos(from), end, func(h hull, from, to int64) bool {
		if last, ok := h.lastBy(end); ok && last > from {
			age, _ := h.age(l, Hot, from, min(to, last))
			sum += age
		}
		return true
	})
	return sum
}

func (v pathView) Ahead(at time.Time) Forecast {
	ns := nanos(at)
	var f Forecast
	now := v.span(ns)
	for i := now; i < len(v.p.spans); i++ {
		o := v.hull(i).ahead(ns)
		if i > now {
			o.From = moment(v.p.spans[i].from)
		}
		f = append(f, o)
	}
	return f
}

func (v pathView) Fresh(t time.Time) bool {
	for _, w := range v.hull(v.span(nanos(t))).views {
		if !w.Fresh(t) {
			return false
		}
	}
	return true
}
