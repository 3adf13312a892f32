package cures

import (
	"context"
	"fmt"
	"slices"
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
// the sequence that the event is appended behind. A clock that turns out not
// to have ended is watched on, by itself.
func (k *Keeper) announce(ctx context.Context, w *watch, now time.Time) error {
	early := false
	_, err := k.desk.Writer.Do(ctx, func(seq uint64) ([]floor.Event, error) {
		f := k.desk.Floor
		early = false
		r, ok := w.find(f, now)
		if !ok || r.Said != 0 {
			return nil, nil
		}
		v := cure.Judge(r.Path, r.Clock, now)
		if early = v.Reached != cure.Yes; early {
			return nil, nil
		}
		if end, over := f.Ended(r.ID.Seam.RO()); over && dueOf(r.Clock.Kind, v).After(end) {
			return nil, nil // the car left meanwhile
		}
		return []floor.Event{ending(f, r, v, fmt.Sprintf("keeper.%s.%d", keyOf(r.ID), seq+1), now)}, nil
	})
	switch {
	case err != nil:
		return err
	case early:
		k.byItself(w)
	default:
		delete(k.due, w.slot)
	}
	return nil
}

// ending is the event that a clock has ended. It stands behind the fact that
// the clock began with, even where the hot bound was passed before that: a
// nozzle's flow before the bead was laid counts for the bead.
func ending(f *floor.Floor, r floor.Running, v cure.Verdict, id string, now time.Time) floor.Event {
	due := dueOf(r.Clock.Kind, v.Milli())
	ev := f.Own(actor, id, now)
	ev.Occurred = due
	if began, _, ok := f.Event(r.ID.Began); ok && began.Occurred.After(due) {
		ev.Occurred = began.Occurred
	}
	ev.Earliest, ev.Latest = ev.Occurred, ev.Occurred
	ev.Aggregate, ev.Body = announcement(r, due, grounds(r, v))
	return ev
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
func (k *Keeper) reconsider(ctx context.Context, key string, now time.Time) error {
	d := k.doubt[key]
	_, err := k.desk.Writer.Do(ctx, func(seq uint64) ([]floor.Event, error) {
		f := k.desk.Floor
		r, ok := d.find(f, now)
		if !ok || r.Said == 0 {
			return nil, nil
		}
		v := cure.Judge(r.Path, r.Clock, now)
		if v.Reached == cure.Yes {
			return nil, nil
		}
		by := d.cause
		if by == doubtful {
			by = d.blame(f, r.Said)
		}
		ev := f.Own(actor, fmt.Sprintf("keeper.back.%s.%d", key, seq+1), now)
		ev.Aggregate = aggregateOf(r.ID)
		ev.Body = &curesv1.WindowRetracted{
			Announced: r.Said, SeamId: string(r.ID.Seam), NozzleId: string(r.ID.Nozzle), Clock: r.ID.Clock, Cause: by,
			Why: fmt.Sprintf("by event %d the answer is now %s: age cold %.0f s, hot %.0f s of %.0f s", by, v.Reached, v.AgeColdS, v.AgeHotS, v.NeededS),
		}
		return []floor.Event{ev}, nil
	})
	if err == nil {
		delete(k.doubt, key)
	}
	return err
}

// blame finds the newest event since an announcement that can have changed
// its clock, for a keeper that was not there when it came.
func (w *watch) blame(f *floor.Floor, said uint64) uint64 {
	for seq := f.Seq(); seq > said; seq-- {
		if announces(f, seq) {
			continue
		}
		t := f.Touches(seq)
		if t.All || t.Zone != "" || w.touched(t) || slices.Contains(t.Jobs, w.job(f)) {
			return seq
		}
	}
	return said
}

// touched reports whether an event is about the clock's own seam or nozzle.
func (w *watch) touched(t floor.Touched) bool {
	if w.cart {
		return slices.Contains(t.Cartridges, floor.CartridgeID(w.thing))
	}
	return slices.Contains(t.Seams, floor.SeamID(w.thing))
}

// job is the job whose whereabouts count for a clock.
func (w *watch) job(f *floor.Floor) floor.RO {
	if !w.cart {
		return floor.SeamID(w.thing).RO()
	}
	if c := f.Cartridge(floor.CartridgeID(w.thing)); c != nil {
		return c.LastFlow.Job
	}
	return ""
}
