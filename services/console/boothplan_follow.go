package console

import (
	"errors"
	"io"
	"slices"
	"time"

	"google.golang.org/grpc"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/booth/planner"
	"seamwright/services/fault"
)

// jitter is by how much a start may move without being told: laying that is
// not begun yet pushes starts ahead of it minute by minute.
const jitter = 5 * time.Minute

// follow tells the first plan whole, and of each later one what it does
// otherwise than what was told last; as JSON one plan a line.
func (q BoothPlan) follow(stream grpc.ServerStreamingClient[boothv1.WatchPlanResponse], o Out) error {
	var told *heard
	for {
		r, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			return fault.New(fault.Unavailable, "shop-closed", "the shop has closed", "follow again when it is open")
		}
		if err != nil {
			return err
		}
		p := r.GetPlan()
		if told == nil {
			told = hear(p)
			if err := o.putLine(boothPlanTold(p)); err != nil {
				return err
			}
			continue
		}
		changes, trouble := told.news(p)
		if len(changes) == 0 && !trouble {
			continue
		}
		if o.JSON {
			p.Changes = changes
			err = o.putLine(boothPlanTold(p))
		} else {
			err = o.lines(newsLines(p, changes, trouble)...)
		}
		if err != nil {
			return err
		}
	}
}

// heard is what a follower was told last of each load, in the plan's order.
type heard struct {
	loads   []*boothv1.PlannedLoad
	trouble string
}

func hear(p *boothv1.Plan) *heard {
	return &heard{slices.Clone(p.GetLoads()), p.GetTrouble()}
}

// news is what a plan does otherwise than what was told, as far as it is worth
// telling, and whether there is another trouble; it is then what was told.
func (h *heard) news(p *boothv1.Plan) (out []*boothv1.PlanChange, trouble bool) {
	was := &boothv1.Plan{Loads: h.loads}
	said := map[string]*boothv1.PlanChange{}
	for _, c := range planner.Differences(was, p) {
		said[c.GetLoadId()] = c
	}
	var now []*boothv1.PlannedLoad
	for _, l := range p.GetLoads() {
		i := slices.IndexFunc(h.loads, func(o *boothv1.PlannedLoad) bool { return o.GetLoadId() == l.GetLoadId() })
		switch {
		case i < 0:
			out, now = append(out, said[l.GetLoadId()]), append(now, l)
		case differs(h.loads[i], l) || h.overtakes(h.loads[i], l, p):
			if c := change(h.loads[i], l, said[l.GetLoadId()]); c != nil {
				out = append(out, c)
			}
			now = append(now, l)
		default:
			now = append(now, h.loads[i])
		}
	}
	for _, o := range h.loads {
		if !slices.ContainsFunc(now, func(l *boothv1.PlannedLoad) bool { return l.GetLoadId() == o.GetLoadId() }) {
			out = append(out, said[o.GetLoadId()])
		}
	}
	trouble = p.GetTrouble() != h.trouble
	h.loads, h.trouble = now, p.GetTrouble()
	return out, trouble
}

// differs reports whether a load's place or state is another one.
func differs(o, l *boothv1.PlannedLoad) bool {
	moved := l.GetStart().AsTime().Sub(o.GetStart().AsTime()).Abs() >= jitter
	return o.GetBoothId() != l.GetBoothId() || l.GetBoothId() != "" && moved || state(o) != state(l)
}

// state is what a load is beside its place.
func state(l *boothv1.PlannedLoad) string {
	switch {
	case l.GetBegun():
		return "is in " + l.GetBoothId()
	case l.GetPermitted():
		return "has a permit"
	case l.GetMissed():
		return "misses its window: scuff first"
	case l.GetKeep() == boothv1.Keep_KEEP_START:
		return "is kept where it was put by hand"
	case l.GetBoothId() == "":
		return "has no place"
	}
	return waits
}

// waits is a load of which nothing is to be said but where it stands.
const waits = "waits for its turn"

// overtakes reports whether a load stands on the other side of another one of
// its booth than it was told to.
func (h *heard) overtakes(o, l *boothv1.PlannedLoad, p *boothv1.Plan) bool {
	for _, x := range p.GetLoads() {
		i := slices.IndexFunc(h.loads, func(y *boothv1.PlannedLoad) bool { return y.GetLoadId() == x.GetLoadId() })
		if i < 0 || x.GetLoadId() == l.GetLoadId() || x.GetBoothId() != l.GetBoothId() || h.loads[i].GetBoothId() != o.GetBoothId() || l.GetBoothId() == "" {
			continue
		}
		if h.loads[i].GetStart().AsTime().Before(o.GetStart().AsTime()) != x.GetStart().AsTime().Before(l.GetStart().AsTime()) {
			return true
		}
	}
	return false
}

// change is what is told of a load whose place or state is another one; nil:
// nothing, since it is another load that has moved.
func change(o, l *boothv1.PlannedLoad, said *boothv1.PlanChange) *boothv1.PlanChange {
	moved := differs(&boothv1.PlannedLoad{BoothId: o.GetBoothId(), Start: o.GetStart()}, &boothv1.PlannedLoad{BoothId: l.GetBoothId(), Start: l.GetStart()})
	same, free := state(l) == state(o), state(l) == waits && !o.GetPermitted()
	switch {
	case same && !l.GetBegun() || said != nil && free:
		return said
	case said != nil && moved && !l.GetBegun(): // both are said
		said.What += ", and " + state(l)
		return said
	}
	return &boothv1.PlanChange{
		LoadId: l.GetLoadId(), BoothId: l.GetBoothId(), Start: l.GetStart(), OldBoothId: o.GetBoothId(), OldStart: o.GetStart(),
		What: l.GetLoadId() + " " + state(l),
	}
}

// newsLines are changes for people, with the moment of the plan that brings
// them.
func newsLines(p *boothv1.Plan, changes []*boothv1.PlanChange, trouble bool) []string {
	t := timeOf(p)
	at := t.short(t.now) + "  "
	var out []string
	for _, c := range changes {
		out = append(out, at+oneLine(c.GetWhat()))
	}
	switch {
	case trouble && p.GetTrouble() != "":
		out = append(out, at+"TROUBLE: "+oneLine(p.GetTrouble()))
	case trouble:
		out = append(out, at+"the trouble is over")
	}
	return out
}
