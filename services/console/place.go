package console

import (
	"context"
	"fmt"
	"strings"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/fault"
)

// Place puts a load into a booth at a start by hand: the planner leaves it
// there. Free gives it back to the planner, and to the booth that it was told for.
type Place struct {
	At
	Load         string
	Booth, Start string // empty: its own booth; the booth is kept and the start the planner's
	Free         bool
	Name         string // who says so; it stands in the journal
	Reason       string
}

type placeAnswer struct {
	Load     string  `json:"load"`
	Booth    string  `json:"booth"`
	Start    *string `json:"start"`
	Keep     string  `json:"keep"` // nothing, booth, start
	Sequence uint64  `json:"sequence"`
	Why      string  `json:"why"` // as the plan has it now; empty: it stands there

	at string // the start for people
}

// Lines is the answer for people.
func (a placeAnswer) Lines() []string {
	switch a.Keep {
	case "start":
		out := []string{fmt.Sprintf("load %s stands in %s at %s; the planner leaves it there", a.Load, a.Booth, a.at)}
		if a.Why != "" {
			out = append(out, "note: "+oneLine(a.Why))
		}
		return out
	case "booth":
		return []string{fmt.Sprintf("load %s stays in %s; when is the planner's", a.Load, a.Booth)}
	}
	return []string{"load " + a.Load + " is the planner's"}
}

// Run tells the shop.
func (q Place) Run(ctx context.Context, o Out) error {
	switch {
	case q.Load == "":
		return missing("LOAD", "the load, like 2207-A")
	case strings.TrimSpace(q.Name) == "":
		return missing("--name", "the name of the person who says so, like --name 'Ansa Vellacorn'; it stands in the journal")
	case q.Free && q.Booth+q.Start != "":
		return fault.Bad("--free", "beside --booth or --start", "alone; what is free is the planner's")
	case !q.Free && q.Booth+q.Start == "":
		return missing("--start", "when it starts, --booth for the booth it stays in, or --free")
	}
	a := placeAnswer{Load: q.Load, Keep: "nothing"}
	err := q.with(ctx, func(c grpc.ClientConnInterface) error {
		told := importAnswer{}
		t := newTeller(c, q.Name, &told)
		if err := t.learn(ctx, c); err != nil {
			return err
		}
		k := t.known["load "+q.Load]
		if k.body == nil {
			return fault.Missing("load", q.Load, "import it first: seamwright import --loads FILE")
		}
		if q.Free {
			if err := q.notBegun(ctx, t); err != nil {
				return err
			}
			k.body.(*boothv1.LoadPlanned).BoothId = k.booth
		}
		b, err := q.placed(ctx, t, bare(k.body).(*boothv1.LoadPlanned), &a)
		if err != nil {
			return err
		}
		if err := t.tell(ctx, b); err != nil {
			return err
		}
		a.Sequence = told.Sequence
		return a.remark(ctx, c)
	})
	if err != nil {
		return err
	}
	return o.put(a)
}

// remark takes in what the plan has to say of a start that was given by hand.
func (a *placeAnswer) remark(ctx context.Context, c grpc.ClientConnInterface) error {
	if a.Keep != "start" {
		return nil
	}
	p, err := planNow(ctx, c)
	for _, l := range p.GetLoads() {
		if l.GetLoadId() == a.Load && l.GetWhy() != "put there by hand" {
			a.Why = l.GetWhy()
		}
	}
	return err
}

// notBegun reports a load that is in a booth: it is no longer anybody's to
// place.
func (q Place) notBegun(ctx context.Context, t *teller) error {
	p, err := t.booth.GetPlan(ctx, &boothv1.GetPlanRequest{})
	if err != nil {
		return err
	}
	for _, l := range p.GetPlan().GetLoads() {
		if l.GetLoadId() == q.Load && l.GetBegun() {
			return fault.New(fault.Refused, "load-begun", fmt.Sprintf("%s has been in %s since %s; it cannot be placed",
				l.GetLoadId(), l.GetBoothId(), timeOf(p.GetPlan()).hour(l.GetStart())), "free another load")
		}
	}
	return nil
}

// placed is the load as it is told now.
func (q Place) placed(ctx context.Context, t *teller, b *boothv1.LoadPlanned, a *placeAnswer) (*boothv1.LoadPlanned, error) {
	b.Start, b.Keep, b.Reason = nil, boothv1.Keep_KEEP_UNSPECIFIED, q.Reason // without a start nothing is kept
	if !q.Free {
		b.Keep, a.Keep = boothv1.Keep_KEEP_BOOTH, "booth"
	}
	if q.Booth != "" {
		b.BoothId = q.Booth
	}
	a.Booth = b.GetBoothId()
	if q.Start == "" {
		return b, nil
	}
	p, err := t.booth.GetPlan(ctx, &boothv1.GetPlanRequest{})
	if err != nil {
		return nil, err
	}
	h := reader{shopTime: timeOf(p.GetPlan())}
	start := h.need("--start", q.Start)
	if h.err != nil {
		return nil, h.err
	}
	if at := start.AsTime(); at.Before(h.now) {
		return nil, fault.Bad("--start", h.full(at), "not before "+h.full(h.now)+" "+h.name+", the shop's time")
	}
	b.Start, b.Keep, a.Keep = timestamppb.New(start.AsTime()), boothv1.Keep_KEEP_START, "start"
	a.Start, a.at = stamp(start.AsTime()), h.full(start.AsTime())+" "+h.name
	return b, nil
}
