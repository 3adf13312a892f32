package planner

import (
	"slices"
	"time"

	"seamwright/services/calc/plan"
)

// serial lays a plan's loads out one after the other, by their starts, each as
// early as its booth and its own car let it: for cars whose loads kept
// meeting. The releases of the draft become the starts that come out.
func (d *Draft) serial(got *plan.Plan) *plan.Plan {
	y := &yard{d: d, lanes: map[string][]plan.PlannedLoad{}, work: map[int]time.Time{}}
	for _, t := range got.Tasks {
		if !t.End.IsZero() {
			i := d.Works[t.Index].Load
			y.work[i] = latest(y.work[i], t.End.Add(d.Problem.Tasks[t.Index].MinLag))
		}
	}
	var rest []plan.PlannedLoad
	for _, l := range inOrder(got.Loads) {
		if d.Problem.Loads[l.Index].Frozen != nil {
			y.put(l)
		} else if l.Placed() {
			rest = append(rest, l)
		}
	}
	for len(rest) > 0 {
		k := slices.IndexFunc(rest, func(l plan.PlannedLoad) bool { return !y.waits(l, rest) })
		l := rest[max(k, 0)] // a circle cannot be: a car's coats have an order
		rest = slices.Delete(rest, max(k, 0), max(k, 0)+1)
		if at, ok := y.earliest(l); ok {
			l.Start, l.End = at, at.Add(d.Problem.Loads[l.Index].Process)
			d.Problem.Loads[l.Index].Release = at
			y.put(l)
		}
	}
	return &plan.Plan{Loads: y.all}
}

// yard is where loads are laid out.
type yard struct {
	d     *Draft
	all   []plan.PlannedLoad
	lanes map[string][]plan.PlannedLoad // by booth, by start
	work  map[int]time.Time             // when a load's beads are ready, by the plan's tasks
}

func (y *yard) put(l plan.PlannedLoad) {
	y.all = append(y.all, l)
	q := append(y.lanes[l.Booth], l)
	slices.SortFunc(q, func(a, b plan.PlannedLoad) int { return a.Start.Compare(b.Start) })
	y.lanes[l.Booth] = q
}

// waits reports whether a load that must go before is still to be laid out.
func (y *yard) waits(l plan.PlannedLoad, rest []plan.PlannedLoad) bool {
	return slices.ContainsFunc(rest, func(o plan.PlannedLoad) bool { return slices.Contains(y.d.Loads[l.Index].after, o.Index) })
}

// earliest is when a load can start in its booth; false: never.
func (y *yard) earliest(l plan.PlannedLoad) (time.Time, bool) {
	at := latest(y.d.Problem.Start, y.d.Problem.Loads[l.Index].Release, y.work[l.Index])
	for _, o := range y.all {
		if slices.Contains(y.d.Loads[l.Index].after, o.Index) {
			at = latest(at, o.End)
		}
	}
	for {
		next, ok := y.inBooth(l, at)
		if !ok {
			return next, false
		}
		if at = y.carFree(l, next); at.Equal(next) {
			return at, true
		}
	}
}

// carFree is from when its own car is in no booth for as long as it needs.
func (y *yard) carFree(l plan.PlannedLoad, at time.Time) time.Time {
	for _, o := range y.all {
		if y.d.Loads[o.Index].RO == y.d.Loads[l.Index].RO && at.Before(o.End) && o.Start.Before(at.Add(y.d.Problem.Loads[l.Index].Process)) {
			return o.End
		}
	}
	return at
}

// inBooth is the earliest moment from one on at which its booth has room.
func (y *yard) inBooth(l plan.PlannedLoad, from time.Time) (time.Time, bool) {
	p := y.d.Problem.Loads[l.Index]
	b := y.d.Problem.Booths[slices.IndexFunc(y.d.Problem.Booths, func(b plan.Booth) bool { return b.ID == l.Booth })]
	free, gun := y.d.Problem.Start, b.Colour
	for _, o := range append(slices.Clone(y.lanes[l.Booth]), plan.PlannedLoad{Index: -1}) {
		at, ok := fits(b, latest(from, free.Add(y.d.Problem.Setups[gun][p.Colour])), p.Process)
		switch {
		case !ok:
			return at, false
		case o.Index < 0:
			return at, true
		}
		next := y.d.Problem.Loads[o.Index].Colour
		if !at.Add(p.Process + y.d.Problem.Setups[p.Colour][next]).After(o.Start) {
			return at, true
		}
		if o.End.After(y.d.Problem.Start) {
			free, gun = latest(free, o.End), next
		}
	}
	return time.Time{}, false
}

// fits is the earliest moment from one on at which a booth is open for as
// long as a load needs.
func fits(b plan.Booth, from time.Time, process time.Duration) (time.Time, bool) {
	for _, o := range b.Open {
		if at := latest(from, o.From); !at.Add(process).After(o.To) {
			return at, true
		}
	}
	return time.Time{}, false
}
