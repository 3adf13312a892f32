package planner

import (
	"slices"
	"time"

	"seamwright/services/calc/plan"
)

// mostTidied is how many loads are moved at most to save colour changes.
const mostTidied = 6

// tidy puts loads of one colour together. The search knows what a colour change
// costs the loads that wait now; it does not know those that will come in
// later, and while nothing is late it changes colours as it likes. So time has
// a price, and loads are moved next to others of their colour as long as the
// loads are done the sooner for it by more than it costs.
func (d *Draft) tidy(s Search, got plan.Plan) (plan.Plan, error) {
	for range mostTidied {
		next, ok, err := d.tidier(s, &got)
		if err != nil || !ok {
			return got, err
		}
		got = next
	}
	return got, nil
}

// tidier is a plan with one load moved that is worth more.
func (d *Draft) tidier(s Search, got *plan.Plan) (plan.Plan, bool, error) {
	worth := d.price(got)
	for _, moved := range d.together(got) {
		if !s.rest() {
			break
		}
		next, err := d.again(s, moved)
		if err != nil {
			return plan.Plan{}, false, err
		}
		if unplaced(&next) > unplaced(got) || d.price(&next) >= worth-1e-6 || d.anyMeets(&next) {
			continue
		}
		next.LowerBound = min(got.LowerBound, next.Objective)
		next.Optimal = next.LowerBound == next.Objective
		return next, true, nil
	}
	return plan.Plan{}, false, nil
}

// price is what a plan costs, with a price on the time at which each load
// begins: what is done sooner leaves room for what comes in later.
func (d *Draft) price(p *plan.Plan) float64 {
	sum := p.Objective
	for _, l := range p.Loads {
		if l.Placed() && d.Problem.Loads[l.Index].Frozen == nil {
			sum += d.house.Sooner * l.Start.Sub(d.Problem.Start).Minutes()
		}
	}
	return sum
}

// together are plans in which a load stands next to another one of its colour
// and of its booth, from which a load of another colour parts it.
func (d *Draft) together(got *plan.Plan) (out []*plan.Plan) {
	for _, b := range d.Problem.Booths {
		var q []plan.PlannedLoad
		for _, l := range got.Loads {
			if l.Booth == b.ID {
				q = append(q, l)
			}
		}
		slices.SortFunc(q, func(x, y plan.PlannedLoad) int { return x.Start.Compare(y.Start) })
		for i, x := range q {
			for k := i + 2; k < len(q); k++ {
				y := q[k]
				if d.Problem.Loads[x.Index].Colour != d.Problem.Loads[y.Index].Colour {
					continue
				}
				if d.Problem.Loads[y.Index].Frozen == nil {
					out = append(out, placed(got, y, x.Start.Add(time.Second)))
				}
				if d.Problem.Loads[x.Index].Frozen == nil {
					out = append(out, placed(got, x, y.Start.Add(-time.Second)))
				}
				break
			}
		}
		if len(q) > 1 { // the colour that is in the gun first
			for _, y := range q[1:] {
				if y.Start.After(d.Problem.Start) && d.Problem.Loads[y.Index].Frozen == nil && d.Problem.Loads[y.Index].Colour == b.Colour && q[0].Start.After(d.Problem.Start) {
					out = append(out, placed(got, y, q[0].Start.Add(-time.Second)))
					break
				}
			}
		}
	}
	return out
}

// anyMeets reports whether loads of one car meet, or one goes before what it
// must follow.
func (d *Draft) anyMeets(p *plan.Plan) bool {
	return slices.ContainsFunc(p.Loads, func(l plan.PlannedLoad) bool {
		return l.Placed() && d.Problem.Loads[l.Index].Frozen == nil && d.meets(l, l.Start, p)
	})
}
