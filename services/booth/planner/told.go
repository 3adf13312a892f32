package planner

import (
	"slices"

	"seamwright/services/calc/plan"
)

// AsTold is where the loads stand without a planner: at the starts that they
// were told with, the others without a place.
func (d *Draft) AsTold() plan.Plan {
	d.asTold = true
	var out plan.Plan
	for i := range d.Loads {
		l, q := &d.Loads[i], &d.Problem.Loads[i]
		p := plan.PlannedLoad{ID: string(l.ID), Index: i, Why: "nobody has said when"}
		start := l.Start
		if q.Frozen != nil {
			start = q.Frozen.Start
		}
		if !start.IsZero() {
			p.Booth, p.Start, p.End, p.SetupStart, p.Why = string(l.Booth), start, start.Add(q.Process), start, "as it was told"
			if late := p.End.Add(q.Tail).Sub(q.Due).Minutes(); late > 0 && !l.Due.IsZero() {
				p.LateMin = late
				out.Objective += q.Weight * late
			}
			if p.Missed = !q.LatestStart.IsZero() && start.After(q.LatestStart); p.Missed {
				out.Objective += q.MissCost
			}
		}
		out.Loads = append(out.Loads, p)
	}
	for k := range d.Problem.Tasks {
		out.Tasks = append(out.Tasks, plan.PlannedTask{ID: d.Problem.Tasks[k].ID, Index: k})
	}
	out.Loads = slices.Clip(out.Loads)
	return out
}
