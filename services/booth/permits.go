package booth

import (
	"context"
	"fmt"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/journal"
)

// ask is a request for leave to spray.
type ask struct {
	stamp     *floorv1.Stamp
	booth     floor.BoothID
	load      floor.LoadID
	untouched bool
	override  *override
}

type override struct {
	by, reason string
	length     time.Duration
}

// answer is what came of it: a permit, or the reasons to hold.
type answer struct {
	permit  *floor.Permit
	reasons []floor.Reason
	seq     uint64
}

// urgent: what a painter waits for with the gun in the hand goes first.
func urgent(ctx context.Context, s *floorv1.Stamp) context.Context {
	return journal.Urgent(journal.WithCaller(ctx, "terminal/"+s.GetTerminal()))
}

// request decides on leave to spray at the journal's newest event. Asked
// again with the same command id it answers what came of it the first time.
func (g *Gate) request(ctx context.Context, a ask) (answer, error) {
	live := g.live()
	live.Untouched = a.untouched
	if live.Health != nil {
		return g.refuse(a, live)
	}
	var out answer
	decided := false
	seq, err := g.desk.Writer.DoOnce(urgent(ctx, a.stamp), a.stamp.GetCommandId(), func(seq uint64) ([]floor.Event, error) {
		decided, out = true, answer{seq: seq}
		ev, rs, err := g.decide(g.desk.Floor, a, live, seq)
		out.reasons = rs
		if err != nil || ev.Body == nil {
			return nil, err
		}
		return []floor.Event{ev}, nil
	})
	if err != nil {
		return answer{}, err
	}
	out.seq = seq
	return g.granted(ctx, a, out, decided)
}

// refuse answers while the process cannot be trusted: no leave is given,
// nothing is recorded, and the answer needs no journal.
func (g *Gate) refuse(a ask, live floor.Live) (out answer, err error) {
	g.desk.Writer.View(func(seq uint64) {
		out.seq = seq
		_, out.reasons, err = g.decide(g.desk.Floor, a, live, seq)
	})
	if err != nil {
		return answer{}, err
	}
	return out, nil
}

// granted reads the permit back from the floor. One that has ended meanwhile
// is not given again.
func (g *Gate) granted(ctx context.Context, a ask, out answer, decided bool) (answer, error) {
	if decided && out.reasons != nil && a.override == nil {
		return out, nil
	}
	if err := g.desk.Writer.WaitFor(ctx, out.seq); err != nil {
		return answer{}, err
	}
	same := false
	g.desk.Writer.View(func(uint64) {
		f := g.desk.Floor
		same = a.asked(f, out.seq)
		if p := f.Permit(a.booth); p != nil && p.Seq == out.seq {
			copied := *p
			out.permit = &copied
		}
	})
	switch {
	case !same:
		return answer{}, fault.New(fault.Exists, "command-id-reused",
			fmt.Sprintf("command id %s stands at event %d for something else than leave for load %s at booth %s", a.stamp.GetCommandId(), out.seq, a.load, a.booth),
			"ask with an id of its own")
	case out.permit == nil:
		return answer{}, fault.New(fault.Refused, "permit-ended", "the permit of that request is used, revoked or returned", "ask again, with a new command id")
	}
	return out, nil
}

// asked reports whether an event is the permit that this ask is for.
func (a ask) asked(f *floor.Floor, seq uint64) bool {
	ev, _, _ := f.Event(seq)
	p, ok := ev.Body.(*boothv1.PermitIssued)
	return ok && p.GetBoothId() == string(a.booth) && p.GetLoadId() == string(a.load) && p.GetOverride() == (a.override != nil)
}

// decide makes the event of a permit, or gives the reasons to hold. It is
// pure: everything it leans on is an argument.
func (g *Gate) decide(f *floor.Floor, a ask, live floor.Live, seq uint64) (floor.Event, []floor.Reason, error) {
	now := g.desk.Clock.Now()
	h, err := floor.Place(a.stamp, received(f, now))
	if err == nil {
		err = needLive(h)
	}
	if err == nil && h.Role != floor.Painter && h.Role != floor.Foreman {
		err = fault.New(fault.Denied, "not-a-painter", fmt.Sprintf("%s is a %s; leave to spray is asked for by a painter or a foreman", h.Actor, h.Role), "ask the painter")
	}
	if err != nil {
		return floor.Event{}, nil, err
	}
	r := guarded(f, a.booth, a.load, h.Received, live)
	if a.override == nil && !r.Clear() {
		return floor.Event{}, r.Reasons, nil
	}
	if a.override != nil {
		if err := mayOverride(r); err != nil {
			return floor.Event{}, r.Reasons, err
		}
	}
	return g.permitEvent(f, a, h, r, seq), r.Reasons, nil
}

// received is a moment in whole milliseconds, but not before an event that was
// heard earlier in the same one.
func received(f *floor.Floor, now time.Time) time.Time {
	at := now.UTC().Truncate(time.Millisecond)
	if last := f.Last(); at.Before(last) && !now.Before(last) {
		return last
	}
	return at
}

func mayOverride(r floor.Ruling) error {
	if len(r.Reasons) == 0 {
		return fault.New(fault.Refused, "nothing-to-override", fmt.Sprintf("nothing holds load %s", r.Load), "ask for a permit")
	}
	for _, x := range r.Reasons {
		if beyondOverride(x.Name) {
			return fault.New(fault.Refused, "beyond-override", fmt.Sprintf("%s: %s", x.Name, x.Text), "this cannot be overridden; clear it first")
		}
	}
	return nil
}

func (g *Gate) permitEvent(f *floor.Floor, a ask, h floor.Header, r floor.Ruling, seq uint64) floor.Event {
	h.Received = latest(h.Received, f.Last())
	h.Occurred, h.Earliest, h.Latest = h.Received, h.Received, h.Received
	b := &boothv1.PermitIssued{
		PermitId: fmt.Sprintf("P%d", seq+1), BoothId: string(a.booth), LoadId: string(a.load), Holder: g.opt.Holder,
		StartBy: timestamppb.New(h.Received.Add(g.opt.Lease)), Seen: seq,
		Grounds: fmt.Sprintf("all seams of load %s open at the cold bound and not closed at the hot bound up to the end of the first coat; rules %s", a.load, floor.RulesVersion),
	}
	if a.untouched {
		b.UntouchedBy = h.Actor
	}
	if o := a.override; o != nil {
		b.StartBy = timestamppb.New(h.Received.Add(o.length))
		b.Override, b.OverrideBy, b.OverrideReason, b.OverReasons = true, o.by, o.reason, reasonNames(r.Reasons)
		b.Grounds = reasonTexts(r.Reasons)
	}
	return floor.Event{Aggregate: a.booth.Aggregate(), Header: h, Body: b}
}

func latest(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// giveBack ends a permit unused.
func (g *Gate) giveBack(ctx context.Context, st *floorv1.Stamp, id string) (uint64, error) {
	now := g.desk.Clock.Now()
	h, err := floor.Place(st, now.UTC().Truncate(time.Millisecond))
	if err == nil {
		err = needLive(h)
	}
	if err != nil {
		return 0, err
	}
	return g.desk.Writer.DoOnce(urgent(ctx, st), st.GetCommandId(), func(seq uint64) ([]floor.Event, error) {
		f := g.desk.Floor
		for _, b := range f.Booths() {
			if p := f.Permit(b); p != nil && p.ID == id {
				ev := revocation(f, *p, []string{EndedReturned}, "given back by "+h.Actor, seq, h.Received)
				ev.CommandID, ev.Actor, ev.Role, ev.Terminal = h.CommandID, h.Actor, h.Role, h.Terminal
				return []floor.Event{ev}, nil
			}
		}
		return nil, fault.Missing("permit", id, "it is used, revoked or was never given")
	})
}
