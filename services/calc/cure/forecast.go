package cure

import (
	"math"
	"time"
)

// Outlook is one set held from a moment on: part of a forecast.
type Outlook struct {
	From         time.Time
	Set          Set
	NominalC     float64
	NominalKnown bool
}

func (o Outlook) rate(l Law, side Side) float64 {
	switch side {
	case Cold:
		return l.Rate(o.Set.Lo, Cold)
	case Hot:
		return l.Rate(o.Set.Hi, Hot)
	default:
		if !o.NominalKnown {
			return 0
		}
		return l.Rate(o.NominalC, Nominal)
	}
}

// Forecast is the course of temperature that due times in the future are
// told by: outlooks in order of time, the last one held for ever.
type Forecast []Outlook

// Follow replaces the forecast from the first step of a plan on: a bake or a
// night setback that the zone is known to follow. The steps are in order.
func (f Forecast) Follow(plan ...Outlook) Forecast {
	if len(plan) == 0 {
		return f
	}
	var out Forecast
	for _, o := range f {
		if o.From.Before(plan[0].From) {
			out = append(out, o)
		}
	}
	return append(out, plan...)
}

// due is when, from a moment on, amount more seconds have passed; false if
// the forecast never gets there before the year 2201.
func (f Forecast) due(l Law, side Side, from int64, amount float64) (int64, bool) {
	for i := range f {
		begin := max(from, nanos(f[i].From))
		r := f[i].rate(l, side)
		if i+1 < len(f) {
			span := seconds(begin, nanos(f[i+1].From))
			if span <= 0 {
				continue
			}
			if r*span < amount {
				amount -= r * span
				continue
			}
		}
		if r <= 0 {
			return 0, false
		}
		return after(begin, amount/r)
	}
	return 0, false
}

// Ahead holds what is known at a moment: the nominal as it is, and the edges
// moved out by drift times half of the longest gap between neighbouring
// readings in the hour before (at most stale-after; that value with fewer
// than two), inside the limits. If the same reading keeps coming at such
// gaps, the cold due time told now still holds then.
func (v View) Ahead(at time.Time) Forecast { return Forecast{v.ahead(nanos(at))} }

func (v View) ahead(at int64) Outlook {
	o := Outlook{From: moment(at)}
	s := v.edges(at)
	o.Set = s.grown(v.c.zone.DriftPerMin*v.gap(at).Minutes()/2, v.c.zone.Limits.Hull(s))
	o.NominalC, o.NominalKnown = v.nominal(at)
	return o
}

// gap is the longest gap between neighbouring readings in the hour up to at.
func (v View) gap(at int64) time.Duration {
	stale := v.c.zone.StaleAfter
	i := v.at(at)
	oldest := at - int64(time.Hour)
	if i < 1 || v.c.marks[i-1].at < oldest {
		return stale
	}
	var longest int64
	for ; i > 0 && v.c.marks[i-1].at >= oldest; i-- {
		longest = max(longest, v.c.marks[i].at-v.c.marks[i-1].at)
	}
	return min(stale, time.Duration(longest))
}

// Due is when the age since `from` passes target (s), as seen at a moment:
// the instant itself if that is past, else by the forecast (nil: the one that
// [Seen.Ahead] gives). False: never, or the nominal is not known.
func Due(s Seen, l Law, side Side, from time.Time, target float64, at time.Time, ahead Forecast) (time.Time, bool) {
	age, known := s.Age(l, side, from, at)
	if ahead == nil {
		ahead = s.Ahead(at)
	}
	return dueAfter(s, l, side, from, target, at, ahead, age, known)
}

// dueAfter is Due when the age up to the moment is already reckoned.
func dueAfter(s Seen, l Law, side Side, from time.Time, target float64, at time.Time, ahead Forecast, age float64, known bool) (time.Time, bool) {
	if target <= 0 {
		return from, true
	}
	if !known {
		return time.Time{}, false
	}
	if enough(age, target) {
		return s.Passed(l, side, from, target, at)
	}
	ns, ok := ahead.due(l, side, max(nanos(from), nanos(at)), math.Max(0, target-age))
	if !ok {
		return time.Time{}, false
	}
	return moment(ns), true
}

// coneDue is when amount more seconds have passed from a moment on, not
// before the last reading, along the growing cone; false: never.
func (c *Course) coneDue(l Law, side Side, from int64, amount float64) (int64, bool) {
	n := len(c.marks)
	s := c.segment(n-1, n)
	var t, flat float64
	if s.shape == cone {
		t = seconds(s.start, from)
		if s.drift > 0 {
			// From here on both edges lie at their bounds.
			flat = math.Max((s.a.Lo-s.bounds.Lo)/s.drift, (s.bounds.Hi-s.a.Hi)/s.drift)
		}
	}
	if t < flat {
		got := s.age(l, side, t, flat)
		if got >= amount {
			return after(from, s.reach(l, side, t, flat, amount)-t)
		}
		amount -= got
	}
	r := l.Rate(s.value(side, math.Max(t, flat)), side)
	if r <= 0 {
		return 0, false
	}
	return after(from, math.Max(0, flat-t)+amount/r)
}
