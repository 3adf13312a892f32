package planner

import (
	"cmp"
	"math"
	"slices"
	"time"

	"seamwright/services/calc/plan"
)

// Search says how a plan is looked for.
type Search struct {
	Seed   uint64
	Rounds int         // of local search, 0: as long as More says
	More   func() bool // nil: always
	Rest   func() bool // there is time for what follows the search; nil: always
	Share  float64     // of the standing plan's cost that another one must gain
	Least  float64     // weighted minutes that it must gain at least

	// Solve is the solver; nil: plan.Solve.
	Solve func(plan.Problem, plan.Options) (plan.Plan, error)
}

// asksARound is how often a search may ask whether it may go on, for each of
// its rounds: a search that is bounded by rounds ends soon where each of them
// takes long, and always at the same point.
const asksARound = 20

// within is what ends a search: More, or so many rounds' worth of asking.
func (s Search) within() func() bool {
	if s.More != nil || s.Rounds == 0 {
		return s.More
	}
	left := asksARound * s.Rounds
	return func() bool { left--; return left >= 0 }
}

// DefaultSearch leaves out the budget.
func DefaultSearch() Search { return Search{Seed: 1, Share: 0.05, Least: 15} }

// repairs is how often a plan is made again for loads of one car that met.
const repairs = 4

// Solve makes the plan. The plan that stands, which is where the loads were
// put before, is kept unless another one gains enough. The draft's problem is
// changed: loads of a car get the releases that keep them apart.
func (d *Draft) Solve(s Search) (plan.Plan, error) {
	if s.Solve == nil {
		s.Solve = plan.Solve
	}
	if len(d.Problem.Loads) == 0 || len(d.Problem.Booths) == 0 {
		return plan.Plan{Optimal: true}, nil
	}
	from := d.standing()
	for i := range d.Loads {
		d.Loads[i].release = d.Problem.Loads[i].Release
	}
	got, err := d.best(s, from)
	for n := 0; err == nil && d.apart(&got); n++ {
		if n >= repairs { // they would go on meeting
			return d.again(s, d.serial(&got))
		}
		got, err = d.best(s, from)
	}
	if err != nil {
		return plan.Plan{}, err
	}
	return d.forward(s, got)
}

// rest reports whether there is time left.
func (s Search) rest() bool { return s.Rest == nil || s.Rest() }

// standing is the plan that stands, as far as loads have a place in it.
func (d *Draft) standing() *plan.Plan {
	p := &plan.Plan{}
	for i := range d.Loads {
		if l := &d.Loads[i]; !l.Start.IsZero() {
			p.Loads = append(p.Loads, plan.PlannedLoad{ID: string(l.ID), Booth: string(l.Booth), Start: l.Start, Index: i})
		}
	}
	if len(p.Loads) == 0 {
		return nil
	}
	return p
}

// best is the best plan that the budget finds, unless what stands is about as
// good.
func (d *Draft) best(s Search, from *plan.Plan) (plan.Plan, error) {
	got, err := s.Solve(d.Problem, plan.Options{Seed: s.Seed, Rounds: s.Rounds, More: s.within(), From: from})
	if err != nil || from == nil {
		return got, err
	}
	old, err := d.again(s, from)
	switch {
	case err != nil:
		return got, err
	case d.worth(s, &old, &got):
		return d.least(s, &old, &got), nil
	}
	return old, nil
}

// again is the plan that keeps the orders of another.
func (d *Draft) again(s Search, from *plan.Plan) (plan.Plan, error) {
	return s.Solve(d.Problem, plan.Options{Seed: s.Seed, Rounds: 1, More: func() bool { return false }, From: from, Keep: math.MaxFloat64})
}

// onlyWaits is how many times the least gain a plan must gain by which no car is
// earlier in time and no window is kept: people are not told another order for
// what waiting is reckoned at.
const onlyWaits = 4

// worth reports whether loads are moved for a plan.
func (d *Draft) worth(s Search, old, got *plan.Plan) bool {
	if a, b := unplaced(old), unplaced(got); a != b {
		return b < a
	}
	stood := d.cost(old)
	if d.cost(got) > stood+1e-6 {
		return false // dearer, as people see it: what waiting is worth is a guess
	}
	gain, least := old.Objective-got.Objective, s.Least
	if d.cost(got) > stood-1 {
		least *= onlyWaits
	}
	return gain > 0 && gain >= max(s.Share*stood, least)
}

func unplaced(p *plan.Plan) (n int) {
	for _, l := range p.Loads {
		if !l.Placed() {
			n++
		}
	}
	return n
}

// apart lets loads of one car wait for each other where they meet: those that
// follow others, and what stands in two booths at a time. It reports whether
// the problem has changed.
func (d *Draft) apart(got *plan.Plan) (changed bool) {
	at := make([]plan.PlannedLoad, len(d.Loads))
	for _, l := range got.Loads {
		at[l.Index] = l
	}
	wait := func(i int, until time.Time) {
		if p := &d.Problem.Loads[i]; p.Frozen == nil && until.After(latest(p.Release, d.Problem.Start)) {
			p.Release, changed = until, true
		}
	}
	for i := range d.Loads {
		for _, k := range d.Loads[i].after {
			if at[i].Placed() && at[k].Placed() && at[i].Start.Before(at[k].End) {
				wait(i, at[k].End)
			}
		}
	}
	for i := range d.Loads {
		for k := range i {
			x, y := at[k], at[i]
			if d.Loads[i].RO != d.Loads[k].RO || !x.Placed() || !y.Placed() || x.Booth == y.Booth || !x.Start.Before(y.End) || !y.Start.Before(x.End) {
				continue
			}
			if slices.Contains(d.Loads[i].after, k) || slices.Contains(d.Loads[k].after, i) {
				continue // their order is known, and seen to above
			}
			if y.Start.Before(x.Start) || d.Problem.Loads[i].Frozen != nil {
				x, y = y, x
			}
			wait(y.Index, x.End)
		}
	}
	return changed
}

// forward brings loads forward into time in which their booth would stand
// idle, where no other load is moved by it: a plan that costs the same may
// leave a load that is ready standing behind one that is not.
func (d *Draft) forward(s Search, got plan.Plan) (plan.Plan, error) {
	for range d.Loads {
		moved, ok := d.gap(&got)
		if !ok || !s.rest() {
			break
		}
		next, err := d.again(s, moved)
		if err != nil || unplaced(&next) > unplaced(&got) || next.Objective > got.Objective+1e-6 || d.met(&next) {
			return got, err
		}
		next.Optimal, next.LowerBound = got.Optimal, min(got.LowerBound, next.Objective)
		got = next
	}
	return got, nil
}

// gap finds a load that fits into idle time before another one.
func (d *Draft) gap(got *plan.Plan) (*plan.Plan, bool) {
	for _, b := range d.Problem.Booths {
		var q []plan.PlannedLoad
		for _, l := range got.Loads {
			if l.Booth == b.ID {
				q = append(q, l)
			}
		}
		slices.SortFunc(q, func(x, y plan.PlannedLoad) int { return x.Start.Compare(y.Start) })
		free, gun := d.Problem.Start, b.Colour
		for k, l := range q {
			for _, j := range d.candidates(q[k+1:]) {
				if at, ok := d.fits(b, j, free, gun, l, got); ok {
					return placed(got, j, at), true
				}
			}
			if l.End.After(d.Problem.Start) {
				free, gun = latest(free, l.End), d.Problem.Loads[l.Index].Colour
			}
		}
	}
	return nil, false
}

// candidates are the loads that may be moved, the first promised first.
func (d *Draft) candidates(q []plan.PlannedLoad) []plan.PlannedLoad {
	q = slices.DeleteFunc(slices.Clone(q), func(l plan.PlannedLoad) bool { return d.Problem.Loads[l.Index].Frozen != nil })
	slices.SortStableFunc(q, func(x, y plan.PlannedLoad) int {
		return cmp.Or(d.Problem.Loads[x.Index].Due.Compare(d.Problem.Loads[y.Index].Due), x.Start.Compare(y.Start))
	})
	return q
}

// fits is where a load can go between a moment at which its booth is free and
// the next load.
func (d *Draft) fits(b plan.Booth, j plan.PlannedLoad, free time.Time, gun string, next plan.PlannedLoad, got *plan.Plan) (time.Time, bool) {
	p := d.Problem.Loads[j.Index]
	ready := latest(free.Add(d.Problem.Setups[gun][p.Colour]), p.Release)
	for _, t := range got.Tasks {
		if w := &d.Problem.Tasks[t.Index]; d.Works[t.Index].Load == j.Index && !t.End.IsZero() {
			ready = latest(ready, t.End.Add(w.MinLag))
		}
	}
	before := next.Start.Add(-d.Problem.Setups[p.Colour][d.Problem.Loads[next.Index].Colour] - p.Process)
	for _, o := range b.Open {
		at := latest(ready, o.From)
		if !at.After(before) && !at.Add(p.Process).After(o.To) {
			return at, !d.meets(j, at, got)
		}
	}
	return time.Time{}, false
}

// meets reports whether a load at another start would meet its own car.
func (d *Draft) meets(j plan.PlannedLoad, at time.Time, got *plan.Plan) bool {
	end := at.Add(d.Problem.Loads[j.Index].Process)
	for _, o := range got.Loads {
		if o.Index == j.Index || d.Loads[o.Index].RO != d.Loads[j.Index].RO || !o.Placed() {
			continue
		}
		if at.Before(o.End) && o.Start.Before(end) || slices.Contains(d.Loads[j.Index].after, o.Index) && at.Before(o.End) {
			return true
		}
	}
	return false
}

// met reports whether loads of one car meet in a plan, or one goes before
// what it must follow.
func (d *Draft) met(p *plan.Plan) bool {
	return slices.ContainsFunc(p.Loads, func(l plan.PlannedLoad) bool { return l.Placed() && d.meets(l, l.Start, p) })
}

// placed is a plan with one load elsewhere.
func placed(got *plan.Plan, j plan.PlannedLoad, at time.Time) *plan.Plan {
	out := *got
	out.Loads = slices.Clone(got.Loads)
	for i := range out.Loads {
		if out.Loads[i].Index == j.Index {
			out.Loads[i].Start = at
		}
	}
	return &out
}
