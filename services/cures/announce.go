package cures

import (
	"context"
	"fmt"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/floor"
)

// actor is the name under which the keeper speaks.
const actor = "clock-keeper"

// announce records the end of a clock, once. The decision is made again at
// the sequence that the event is appended behind.
func (k *Keeper) announce(ctx context.Context, w *watch, now time.Time) error {
	_, err := k.desk.Writer.Do(ctx, func(seq uint64) ([]floor.Event, error) {
		f := k.desk.Floor
		r, ok := find(f, w.ID, k.carts(f, w.ID), now)
		if !ok || r.Said != 0 {
			return nil, nil
		}
		v := cure.Judge(r.Path, r.Clock, now)
		if v.Reached != cure.Yes {
			return nil, nil
		}
		due := dueOf(r.Clock.Kind, v).Truncate(time.Millisecond)
		ev := machineEvent(f, fmt.Sprintf("keeper.%s.%d", w.key, seq+1), now)
		ev.Occurred, ev.Earliest, ev.Latest = due, due, due
		ev.Aggregate, ev.Body = announcement(r, due, grounds(r, v))
		return []floor.Event{ev}, nil
	})
	return err
}

// carts lists the cartridges that may carry a clock's nozzle.
func (k *Keeper) carts(f *floor.Floor, id floor.ClockID) []floor.CartridgeID {
	if id.Nozzle == "" {
		return nil
	}
	if n := f.Nozzle(id.Nozzle); n != nil {
		return []floor.CartridgeID{n.Cartridge}
	}
	return f.Cartridges()
}

// announcement makes the event's body and names what it belongs to.
func announcement(r floor.Running, due time.Time, grounds string) (aggregate string, body proto.Message) {
	coat := floor.Enum[floorv1.Coat](string(r.ID.Coat))
	if opened(r.ID.Clock) {
		return aggregateOf(r.ID), &curesv1.WindowOpened{
			SeamId: string(r.ID.Seam), Clock: r.ID.Clock, Coat: coat, Began: r.ID.Began,
			Due: timestamppb.New(due), Grounds: grounds,
		}
	}
	return aggregateOf(r.ID), &curesv1.WindowClosed{
		SeamId: string(r.ID.Seam), NozzleId: string(r.ID.Nozzle), Clock: r.ID.Clock, Coat: coat, Began: r.ID.Began,
		Due: timestamppb.New(due), Grounds: grounds,
	}
}

func aggregateOf(id floor.ClockID) string {
	if id.Nozzle != "" {
		return "nozzle." + string(id.Nozzle)
	}
	return id.Seam.Aggregate()
}

// grounds says what an announcement rests on.
func grounds(r floor.Running, v cure.Verdict) string {
	low, _, high := r.Clock.Law.EnergyJ()
	return fmt.Sprintf("product revision %d; activation energy %.1f to %.1f kJ/mol; %.0f s needed at %.1f °C, tolerance %.0f %%; age cold %.0f s, hot %.0f s",
		r.Revision, low/1000, high/1000, v.NeededS, r.Clock.Law.ReferenceC(), 100*v.Tolerance, v.AgeColdS, v.AgeHotS)
}

// reconsider takes an announcement back when later knowledge no longer bears
// it out.
func (k *Keeper) reconsider(ctx context.Context, key string, cause uint64, now time.Time) error {
	w, ok := k.watched[key]
	if !ok {
		return nil
	}
	_, err := k.desk.Writer.Do(ctx, func(seq uint64) ([]floor.Event, error) {
		f := k.desk.Floor
		r, ok := find(f, w.ID, k.carts(f, w.ID), now)
		if !ok || r.Said == 0 {
			return nil, nil
		}
		v := cure.Judge(r.Path, r.Clock, now)
		if v.Reached == cure.Yes {
			return nil, nil
		}
		ev := machineEvent(f, fmt.Sprintf("keeper.back.%s.%d", w.key, seq+1), now)
		ev.Aggregate = aggregateOf(r.ID)
		ev.Body = &curesv1.WindowRetracted{
			Announced: r.Said, SeamId: string(r.ID.Seam), NozzleId: string(r.ID.Nozzle), Clock: r.ID.Clock, Cause: cause,
			Why: fmt.Sprintf("by event %d the answer is now %s: age cold %.0f s, hot %.0f s of %.0f s", cause, v.Reached, v.AgeColdS, v.AgeHotS, v.NeededS),
		}
		return []floor.Event{ev}, nil
	})
	return err
}

// machineEvent is an event of the keeper itself, heard now.
func machineEvent(f *floor.Floor, id string, now time.Time) floor.Event {
	if last := f.Last(); now.Before(last) {
		now = last
	}
	return floor.Event{Header: floor.Header{
		CommandID: id, Actor: actor, Role: floor.Machine, Terminal: actor, AgeKind: floor.AgeLive,
		Received: now, Occurred: now, Earliest: now, Latest: now, Rules: floor.RulesVersion,
	}}
}
