package planner

import (
	"fmt"
	"math"
	"strings"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/calc/plan"
)

// Differences lists what a plan does otherwise than another, load by load in
// the plan's order.
func Differences(was, is *boothv1.Plan) []*boothv1.PlanChange {
	before := map[string]*boothv1.PlannedLoad{}
	for _, l := range was.GetLoads() {
		before[l.GetLoadId()] = l
	}
	now := hours{Zone(is.GetTimeZone()), is.GetNow().AsTime()}
	var out []*boothv1.PlanChange
	for _, l := range is.GetLoads() {
		o, known := before[l.GetLoadId()]
		delete(before, l.GetLoadId())
		what := difference(o, l, known, now)
		if what == "" {
			continue
		}
		out = append(out, &boothv1.PlanChange{
			LoadId: l.GetLoadId(), BoothId: l.GetBoothId(), OldBoothId: o.GetBoothId(), Start: l.GetStart(), OldStart: o.GetStart(),
			What: l.GetLoadId() + " " + what, Why: because(was, is, o, l, now),
		})
	}
	for _, o := range was.GetLoads() {
		if _, gone := before[o.GetLoadId()]; gone {
			what := " is no longer to be planned"
			if o.GetBegun() {
				what = " is out of " + o.GetBoothId()
			}
			out = append(out, &boothv1.PlanChange{LoadId: o.GetLoadId(), OldBoothId: o.GetBoothId(), OldStart: o.GetStart(), What: o.GetLoadId() + what})
		}
	}
	return out
}

func difference(o, l *boothv1.PlannedLoad, known bool, now hours) string {
	from, to := o.GetStart().AsTime(), l.GetStart().AsTime()
	place := fmt.Sprintf("%s at %s", l.GetBoothId(), now.moment(to))
	switch {
	case !known && l.GetBoothId() == "":
		return "is new and has no place"
	case !known:
		return "is new: " + place
	case l.GetBoothId() == "" && o.GetBoothId() == "":
		return ""
	case l.GetBoothId() == "":
		return fmt.Sprintf("has no place any more, it stood in %s at %s", o.GetBoothId(), now.moment(from))
	case o.GetBoothId() == "":
		return "has a place now: " + place
	}
	var parts []string
	switch {
	case l.GetBoothId() != o.GetBoothId():
		parts = append(parts, fmt.Sprintf("goes into %s, was %s at %s", place, o.GetBoothId(), now.moment(from)))
	case to.After(from):
		parts = append(parts, fmt.Sprintf("starts %s later, at %s instead of %s", plan.Minutes(math.Round(to.Sub(from).Minutes())), now.moment(to), now.moment(from)))
	case to.Before(from):
		parts = append(parts, fmt.Sprintf("starts %s earlier, at %s instead of %s", plan.Minutes(math.Round(from.Sub(to).Minutes())), now.moment(to), now.moment(from)))
	}
	if l.GetMissed() != o.GetMissed() {
		if l.GetMissed() {
			parts = append(parts, "misses its window: scuff first")
		} else {
			parts = append(parts, "keeps its window")
		}
	}
	if words := lateness(o.GetLateMin(), l.GetLateMin()); words != "" {
		parts = append(parts, words)
	}
	return strings.Join(parts, ", ")
}

// lateness is what becomes of how late a load makes its car, in minutes; empty:
// nothing to speak of.
func lateness(was, is float64) string {
	minutes := func(x float64) string { return plan.Minutes(math.Round(x)) }
	switch {
	case math.Abs(is-was) < 1, was > 0 && minutes(is) == minutes(was):
		return ""
	case is <= 0:
		return "no longer makes its car late"
	case was <= 0:
		return "makes its car " + minutes(is) + " late"
	}
	return "makes its car " + minutes(is) + " late, it was " + minutes(was)
}

// Summary puts the difference of two plans into one sentence.
func Summary(was, is *boothv1.Plan) string {
	count := func(p *boothv1.Plan) (missed, out int) {
		for _, l := range p.GetLoads() {
			if l.GetMissed() {
				missed++
			}
			if l.GetBoothId() == "" {
				out++
			}
		}
		return missed, out
	}
	var parts []string
	say := func(n int, what string) {
		switch {
		case n > 0:
			parts = append(parts, fmt.Sprintf("%d more %s", n, what))
		case n < 0:
			parts = append(parts, fmt.Sprintf("%d fewer %s", -n, what))
		}
	}
	m0, o0 := count(was)
	m1, o1 := count(is)
	say(o1-o0, "without a place")
	say(m1-m0, "with a missed window")
	switch x := is.GetCost() - was.GetCost(); {
	case x >= 0.5:
		parts = append(parts, fmt.Sprintf("it costs %.0f weighted minutes more", x))
	case x <= -0.5:
		parts = append(parts, fmt.Sprintf("it costs %.0f weighted minutes less", -x))
	}
	if len(parts) == 0 {
		if len(Differences(was, is)) == 0 {
			return "nothing changes"
		}
		return "loads move, and it costs the same"
	}
	return strings.Join(parts, ", ")
}
