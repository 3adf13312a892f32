package console

import (
	"cmp"
	"errors"
	"io"
	"slices"
	"strings"
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
		n := told.news(p)
		if n.none() {
			continue
		}
		if o.JSON {
			p.Changes = n.changes
			err = o.putLine(boothPlanTold(p))
		} else {
			err = o.lines(n.lines(p)...)
		}
		if err != nil {
			return err
		}
	}
}

// heard is what a follower was told last of each load, in the plan's order,
// with the work for it as it was then.
type heard struct {
	loads   []*boothv1.PlannedLoad
	works   map[string][]*boothv1.LayBy // by load
	booths  []*boothv1.PlannedBooth
	trouble string
}

func hear(p *boothv1.Plan) *heard {
	h := &heard{loads: slices.Clone(p.GetLoads()), works: map[string][]*boothv1.LayBy{}, booths: p.GetBooths(), trouble: p.GetTrouble()}
	for _, w := range p.GetLayBy() {
		h.works[w.GetLoadId()] = append(h.works[w.GetLoadId()], w)
	}
	return h
}

// plan is what was told last as a plan.
func (h *heard) plan() *boothv1.Plan {
	p := &boothv1.Plan{Loads: h.loads, Booths: h.booths}
	for _, l := range h.loads {
		p.LayBy = append(p.LayBy, h.works[l.GetLoadId()]...)
	}
	return p
}

// news is what is worth telling of a plan.
type news struct {
	booths  []string // what has become of booths
	changes []*boothv1.PlanChange
	trouble bool // there is another one, or none any more
}

func (n news) none() bool { return len(n.booths) == 0 && len(n.changes) == 0 && !n.trouble }

// news is what a plan does otherwise than what was told, as far as it is worth
// telling; it is then what was told.
func (h *heard) news(p *boothv1.Plan) (n news) {
	is, was := hear(p), h.plan()
	said := map[string]*boothv1.PlanChange{}
	for _, c := range planner.Differences(was, p) {
		said[c.GetLoadId()] = c
	}
	for _, b := range p.GetBooths() {
		i := slices.IndexFunc(h.booths, func(o *boothv1.PlannedBooth) bool { return o.GetBoothId() == b.GetBoothId() })
		if i < 0 {
			continue
		}
		if what := planner.BoothNews(h.booths[i], b); what != "" {
			n.booths = append(n.booths, what)
		}
	}
	var now []*boothv1.PlannedLoad
	for _, l := range p.GetLoads() {
		i := slices.IndexFunc(h.loads, func(o *boothv1.PlannedLoad) bool { return o.GetLoadId() == l.GetLoadId() })
		switch {
		case i < 0:
			n.changes, now = append(n.changes, said[l.GetLoadId()]), append(now, l)
		case differs(h.loads[i], l) || h.overtakes(h.loads[i], l, p):
			if c := change(h.loads[i], l, said[l.GetLoadId()]); c != nil {
				n.changes = append(n.changes, c)
			}
			now = append(now, l)
		default:
			now, is.works[l.GetLoadId()] = append(now, h.loads[i]), h.works[l.GetLoadId()]
		}
	}
	for _, o := range h.loads {
		if !slices.ContainsFunc(now, func(l *boothv1.PlannedLoad) bool { return l.GetLoadId() == o.GetLoadId() }) {
			n.changes = append(n.changes, said[o.GetLoadId()])
		}
	}
	n.trouble = p.GetTrouble() != h.trouble
	is.loads = now
	*h = *is
	return n
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
		return placeless
	}
	return waits
}

// placeless is a load that no booth can take, which its move says already.
const placeless = "has no place"

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
	same, free := state(l) == state(o), state(l) == waits && !o.GetPermitted() || state(l) == placeless
	switch {
	case same && !l.GetBegun() || said != nil && free:
		return said
	case said != nil && moved && !l.GetBegun(): // both are said
		said.What += ", and " + becomes(o, l)
		said.Why = cmp.Or(lost(o, l), said.Why)
		return said
	}
	return &boothv1.PlanChange{
		LoadId: l.GetLoadId(), BoothId: l.GetBoothId(), Start: l.GetStart(), OldBoothId: o.GetBoothId(), OldStart: o.GetStart(),
		What: l.GetLoadId() + " " + becomes(o, l), Why: cmp.Or(lost(o, l), why(l)),
	}
}

// becomes is a load's state, against the one before where that ended.
func becomes(o, l *boothv1.PlannedLoad) string {
	if o.GetPermitted() && !l.GetPermitted() && !l.GetBegun() && l.GetBoothId() != "" && !l.GetMissed() {
		return "has no permit any more"
	}
	return state(l)
}

// lost is when and why a load lost the permit that it had; empty: it did not,
// or nobody knows.
func lost(o, l *boothv1.PlannedLoad) string {
	if o.GetPermitted() && !l.GetPermitted() && !l.GetBegun() {
		return strings.TrimSuffix(l.GetPermitLost(), ".")
	}
	return ""
}

// why is what is to be said of a state: not that what is in a booth is in it.
func why(l *boothv1.PlannedLoad) string {
	if l.GetBegun() || l.GetPermitted() {
		return ""
	}
	return l.GetWhy()
}

// lines are news for people, with the moment of the plan that brings them.
func (n news) lines(p *boothv1.Plan) []string {
	t := timeOf(p)
	at := t.short(t.now) + "  "
	var out []string
	for _, b := range n.booths {
		out = append(out, at+oneLine(b))
	}
	for _, c := range n.changes {
		line := c.GetWhat()
		if why := c.GetWhy(); why != "" && !slices.Contains(n.booths, why) {
			line += ": " + why
		}
		out = append(out, at+oneLine(line))
	}
	switch {
	case n.trouble && p.GetTrouble() != "":
		out = append(out, at+"TROUBLE: "+oneLine(p.GetTrouble()))
	case n.trouble:
		out = append(out, at+"the trouble is over")
	}
	return out
}
