package planner

import (
	"slices"
	"strings"
	"time"

	"seamwright/services/calc/plan"
	"seamwright/services/floor"
)

// worded is a plan whose reasons are in the shop's words.
func (s speech) worded(p plan.Plan) plan.Plan {
	if s.asTold || len(p.Loads) == 0 {
		return p
	}
	p.Loads = slices.Clone(p.Loads)
	problem := s.Problem
	problem.Loads, problem.Booths = slices.Clone(problem.Loads), slices.Clone(problem.Booths)
	for i := range problem.Booths {
		if b := &s.booths[i]; !b.busy.IsZero() {
			own := append(slices.Clone(problem.Booths[i].Open), plan.Interval{From: s.Problem.Start, To: b.busy})
			problem.Booths[i].Open = joined(own) // a phase that runs is no hours
		}
	}
	at := map[int]plan.PlannedLoad{}
	for i, l := range p.Loads {
		at[l.Index] = l
		if s.Loads[l.Index].Due.IsZero() { // what is only wanted soon is not late
			problem.Loads[l.Index].Due, p.Loads[i].LateMin = time.Time{}, 0
		}
	}
	plan.Explain(&problem, &p, plan.Telling{
		Clock: s.moment, Begin: true,
		Task:  func(k int) string { return lower(s.Works[k].Name) },
		Since: func(j int) []plan.Since { return s.since(j, at) },
		Until: func(j int) (time.Time, string) { return s.until(j, at) },
	})
	for i := range p.Loads {
		p.Loads[i].LateMin = at[p.Loads[i].Index].LateMin
	}
	return p
}

// since is what a load waits for beside its booth and the work on its car.
func (s speech) since(j int, at map[int]plan.PlannedLoad) (out []plan.Since) {
	l := &s.Loads[j]
	until, others := time.Time{}, false
	add := func(t time.Time, words string) {
		if !t.IsZero() {
			out, until = append(out, plan.Since{At: t, Words: words}), latest(until, t)
		}
	}
	for k := range s.Loads {
		o := at[k]
		if k == j || s.Loads[k].RO != l.RO || !o.Placed() {
			continue
		}
		others = true
		if slices.Contains(l.after, k) || o.Start.Before(at[j].Start) {
			add(o.End, string(s.Loads[k].ID)+" of the same car is out of "+o.Booth)
		}
	}
	for _, b := range s.booths {
		if string(b.id) == at[j].Booth {
			add(b.busy, b.ending())
		}
	}
	add(l.Opens, "its beads are surely open")
	add(l.settled, "its panels have settled, for the air where it was is not known,")
	add(l.held, "what holds it is answered, reckoned")
	if l.Keep == floor.KeepStart && s.Problem.Loads[j].Frozen == nil {
		add(l.Start, "the start that it was put at by hand,")
	}
	if l.release.After(until) {
		add(l.release, "the coat before it can be on")
	}
	if r := s.Problem.Loads[j].Release; others && r.After(until) {
		add(r, "the other loads of its car leave it room")
	}
	return out
}

// ending is what a booth waits for by itself.
func (b *booth) ending() string {
	if b.next != "" {
		return "the gun of " + string(b.id) + " is set up to " + b.next
	}
	return string(b.id) + " has ended what it is doing"
}

// until is when the next load of the same car starts.
func (s speech) until(j int, at map[int]plan.PlannedLoad) (by time.Time, load string) {
	for k := range s.Loads {
		o := at[k]
		if k == j || s.Loads[k].RO != s.Loads[j].RO || !o.Placed() || o.Start.Before(at[j].End) {
			continue
		}
		if by.IsZero() || o.Start.Before(by) {
			by, load = o.Start, string(s.Loads[k].ID)+" of the same car"
		}
	}
	return by, load
}

// stands says why a load is where no search has put it.
func (s speech) stands(p plan.PlannedLoad, words string) string {
	q := &s.Problem.Loads[p.Index]
	l := &s.Loads[p.Index]
	switch {
	case l.Begun, s.asTold: // also in hours that have gone by
		for _, b := range s.booths {
			if string(b.id) != p.Booth || len(b.hours) == 0 {
				continue
			}
			if x := plan.Closed(p.Booth, b.hours, p.Start, p.End, s.moment); x != "" {
				words += ", " + x
			}
		}
		if l.Begun {
			return words
		}
		if l.Opens.After(p.Start) {
			words += ", before its beads are surely open at " + s.moment(l.Opens)
		}
		return words
	case q.Frozen == nil:
		return p.Why
	}
	head, rest, _ := strings.Cut(p.Why, "; ")
	if _, odd, ok := strings.Cut(head, ", "); ok {
		words += ", " + odd
	}
	if strings.HasPrefix(rest, "missed") {
		missed, _, _ := strings.Cut(rest, "; ")
		words += "; " + missed
	}
	return words
}

// noPlace says why a load has no place: its booths are out of use, or have no
// hours left.
func (s speech) noPlace(q *plan.Load, why string) string {
	var ended []string
	last := time.Time{}
	for i, b := range s.booths {
		if !slices.Contains(q.Booths, string(b.id)) {
			continue
		}
		if b.fault != "" {
			return "no place: " + string(b.id) + " is out of use (" + b.fault + ")"
		}
		if len(b.hours) == 0 || !slices.Equal(b.open, s.Problem.Booths[i].Open) {
			return why // open round the clock, or otherwise than it was told
		}
		ended, last = append(ended, string(b.id)), latest(last, b.hours[len(b.hours)-1].To)
	}
	if len(ended) == 0 {
		return why
	}
	when := "after " + s.day(last)
	if s.day(last) == s.day(s.At) {
		when = "after " + s.moment(last)
	}
	return "no place: " + plan.NoHours(ended, when) + " (seamwright import --booths DIR)"
}
