package planner

import (
	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/calc/plan"
	"seamwright/services/floor"
)

// Stand puts the loads where a plan that was told has them, which may differ
// by minutes from what the journal was told: a question is about the plan that
// people see. What has begun, has a permit or was put somewhere by hand stands
// as the draft has it.
func (d *Draft) Stand(p *boothv1.Plan) {
	at := map[floor.LoadID]*boothv1.PlannedLoad{}
	for _, l := range p.GetLoads() {
		at[floor.LoadID(l.GetLoadId())] = l
	}
	for i := range d.Loads {
		l := &d.Loads[i]
		o := at[l.ID]
		if o.GetBoothId() == "" || l.Begun || l.Permitted || l.Keep == floor.KeepStart || d.Problem.Loads[i].Frozen != nil {
			continue
		}
		l.Booth, l.Start = floor.BoothID(o.GetBoothId()), o.GetStart().AsTime()
	}
}

// Kept is the plan in which the loads keep the booths and the orders in which
// they stand, each as early as it can be at the draft's moment. Loads without
// a place are put where they fit. As with Solve, the draft's problem is
// changed.
func (d *Draft) Kept(s Search) (plan.Plan, error) {
	if s.Solve == nil {
		s.Solve = plan.Solve
	}
	from := d.standing()
	if from == nil || len(d.Problem.Booths) == 0 {
		return d.Solve(s)
	}
	for i := range d.Loads {
		d.Loads[i].release = d.Problem.Loads[i].Release
	}
	got, err := d.again(s, from)
	for n := 0; err == nil && d.apart(&got); n++ {
		if n >= repairs {
			return d.again(s, d.serial(&got))
		}
		got, err = d.again(s, from)
	}
	return got, err
}
