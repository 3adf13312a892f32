package booth

import (
	"fmt"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/booth/planner"
	"seamwright/services/fault"
)

// whatIf answers what the plan would be, and changes nothing.
func (p *Planner) whatIf(req *boothv1.WhatIfRequest) (*boothv1.WhatIfResponse, error) {
	p.making.Lock() // one search at a time
	defer p.making.Unlock()
	var d *planner.Draft
	var unfit error
	was := p.draft(func(*planner.Draft) {
		d = planner.From(p.desk.Floor, latest(p.desk.Clock.Now(), p.desk.Floor.Last()), *p.opt.House)
		unfit = d.Suppose(p.desk.Floor, req.GetSuppose())
	})
	if unfit != nil {
		return nil, unfit
	}
	before, err := p.guarded(was)
	if err != nil {
		return nil, err
	}
	after, err := p.guarded(d)
	if err != nil {
		return nil, err
	}
	after.Changes = planner.Differences(before, after)
	return &boothv1.WhatIfResponse{
		Plan: after, Summary: planner.Summary(before, after), Changes: after.Changes, CostBefore: before.GetCost(), CostAfter: after.GetCost(),
	}, nil
}

// guarded is solve, with a panic as a fault.
func (p *Planner) guarded(d *planner.Draft) (out *boothv1.Plan, err error) {
	defer func() {
		if x := recover(); x != nil {
			out, err = nil, fault.New(fault.Internal, "plan-failed", fmt.Sprintf("the plan could not be made: %v", x), "tell whoever looks after the program")
		}
	}()
	return p.solve(d)
}
