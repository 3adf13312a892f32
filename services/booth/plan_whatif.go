package booth

import (
	"fmt"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/booth/planner"
	"seamwright/services/calc/plan"
	"seamwright/services/fault"
)

// whatIf answers what the plan would be, and changes nothing. It is compared
// with the plan that stands: both are reckoned from the floor of the same
// moment, which may be minutes after the plan was made.
func (p *Planner) whatIf(req *boothv1.WhatIfRequest) (*boothv1.WhatIfResponse, error) {
	p.making.Lock() // one search at a time
	defer p.making.Unlock()
	stands, _ := p.latest()
	if p.opt.Off || !stands.GetPlanning() {
		stands = nil
	}
	var q question
	var unfit error
	q.now = p.draft(func(now *planner.Draft) {
		draft := func() *planner.Draft {
			x := planner.From(p.desk.Floor, now.At, *p.opt.House)
			x.Zone = p.opt.Zone
			x.Stand(stands)
			return x
		}
		now.Stand(stands)
		q.base, q.kept, q.free = draft(), draft(), draft()
		if unfit = q.kept.Suppose(p.desk.Floor, req.GetSuppose()); unfit == nil {
			unfit = q.free.Suppose(p.desk.Floor, req.GetSuppose())
		}
	})
	if unfit != nil {
		return nil, unfit
	}
	before, after, err := p.guarded(func() (*boothv1.Plan, *boothv1.Plan, error) { return p.answer(q, stands != nil) })
	if err != nil {
		return nil, err
	}
	after.Changes = planner.Differences(before, after)
	return &boothv1.WhatIfResponse{
		Plan: after, Summary: planner.Summary(before, after), Changes: after.Changes, CostBefore: before.GetCost(), CostAfter: after.GetCost(),
	}, nil
}

// question is one floor four times: as it is, for the plan that stands and for
// the best one, and with what is supposed, likewise.
type question struct{ now, base, kept, free *planner.Draft }

// answer is the plan that stands and the one that would be. Loads keep their
// orders unless another plan gains something by what is supposed: more than it
// would without.
func (p *Planner) answer(q question, stands bool) (before, after *boothv1.Plan, err error) {
	if !stands { // what the plan would be is compared with what it would be now
		if before, err = p.solve(q.now); err == nil {
			after, err = p.solve(q.free)
		}
		return before, after, err
	}
	var plans [4]plan.Plan
	for i, make := range []func(planner.Search) (plan.Plan, error){q.now.Kept, q.base.Solve, q.kept.Kept, q.free.Solve} {
		if plans[i], err = make(p.search()); err != nil {
			return nil, nil, err
		}
	}
	before, after = q.now.Tell(bounded(plans[0], &plans[1])), q.kept.Tell(bounded(plans[2], &plans[3]))
	if free := q.free.Tell(plans[3]); gain(after, free) > gain(before, q.base.Tell(plans[1]))+0.5 {
		after = free
	}
	return before, after, nil
}

// gain is what a plan costs less than another, in weighted minutes; a load
// that has a place more counts above all cost.
func gain(was, is *boothv1.Plan) float64 {
	none := 0
	for _, l := range was.GetLoads() {
		if l.GetBoothId() == "" {
			none++
		}
	}
	for _, l := range is.GetLoads() {
		if l.GetBoothId() == "" {
			none--
		}
	}
	return float64(none)*1e12 + was.GetCost() - is.GetCost()
}

// bounded is a plan with what a search has proved about the same problem.
func bounded(p plan.Plan, by *plan.Plan) plan.Plan {
	p.LowerBound = min(by.LowerBound, p.Objective)
	p.Optimal = by.Optimal && p.LowerBound == p.Objective
	return p
}

// guarded are plans being made, with a panic as a fault.
func (p *Planner) guarded(made func() (a, b *boothv1.Plan, err error)) (a, b *boothv1.Plan, err error) {
	defer func() {
		if x := recover(); x != nil {
			err = fault.New(fault.Internal, "plan-failed", fmt.Sprintf("the plan could not be made: %v", x), "tell whoever looks after the program")
		}
	}()
	return made()
}
