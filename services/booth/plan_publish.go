package booth

import (
	"context"
	"fmt"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/booth/planner"
	"seamwright/services/floor"
)

// planActor is the name under which the planner speaks.
const planActor = "booth-planner"

// publishWithin is how long the journal may take to store a plan.
const publishWithin = 5 * time.Second

// look looks through the events that came since the last time.
func (p *Planner) look() {
	p.desk.Writer.View(func(seq uint64) {
		for ; p.seen < seq; p.seen++ {
			if p.due {
				continue
			}
			ev, _, _ := p.desk.Floor.Event(p.seen + 1)
			p.due = planner.Matters(ev.Body)
		}
	})
}

// publish tells the journal which loads have another place by a plan. Each is
// looked at again at the event that it is appended behind: a load that has
// begun meanwhile, has a permit, or was told otherwise is let be.
func (p *Planner) publish(ctx context.Context, d *planner.Draft, made *boothv1.Plan) {
	moves := d.Moves(made)
	if len(moves) == 0 {
		return
	}
	ctx, cancel := context.WithTimeout(ctx, publishWithin)
	defer cancel()
	_, err := p.desk.Writer.Do(ctx, func(seq uint64) ([]floor.Event, error) {
		var out []floor.Event
		if !p.gate.standing().Active {
			return nil, nil
		}
		for _, m := range moves {
			if ev, ok := moving(p.desk.Floor, d, m, seq+1+uint64(len(out)), p.desk.Clock.Now()); ok {
				out = append(out, ev)
			}
		}
		return out, nil
	})
	if err != nil {
		p.due = true // again at the next step
		p.troubled("the plan could not be stored: " + err.Error())
	}
}

// moving is the event that a load has another place. It is made in the queue
// of all that is written, which a panic must not reach.
func moving(f *floor.Floor, d *planner.Draft, m planner.Move, seq uint64, now time.Time) (ev floor.Event, ok bool) {
	defer func() {
		if recover() != nil {
			ev, ok = floor.Event{}, false
		}
	}()
	l, told := f.Load(m.Load), f.ToldLoad(m.Load)
	if l == nil || told == nil || !l.Sprayed.IsZero() || l.Keep == floor.KeepStart || f.Booth(m.Booth) == nil || !d.Stands(l) {
		return floor.Event{}, false
	}
	for _, r := range f.Permits() {
		if r.Load == l.ID {
			return floor.Event{}, false
		}
	}
	b := proto.CloneOf(told)
	b.BoothId, b.Start, b.Reason, b.Moved, b.Assessment = string(m.Booth), nil, m.Reason, true, nil
	if !m.Start.IsZero() {
		b.Start = timestamppb.New(m.Start)
	}
	ev = f.Own(planActor, fmt.Sprintf("plan.%s.%d", m.Load, seq), now)
	ev.Aggregate, ev.Body = l.ID.Aggregate(), b
	return ev, true
}
