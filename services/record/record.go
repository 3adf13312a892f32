// Package record is what the services' shells have in common: the one way in
// which a told fact becomes an event of the journal, and the one way in which
// a query reads the floor.
package record

import (
	"context"
	"fmt"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/timestamppb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/clock"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/journal"
)

// Desk records facts and answers queries for one process: its writer, the
// floor that the writer folds, its clock.
type Desk struct {
	Writer *journal.Writer
	Floor  *floor.Floor
	Clock  clock.Clock

	// Room is asked before a told fact is taken: an error refuses it. The gate
	// records what it must without asking. Nil: there is room.
	Room func() error
}

// Decide is the pure decision of a service: the event of a command, on the
// floor as it stands, at the moment of receipt.
type Decide func(f *floor.Floor, c floor.Command, at time.Time) (floor.Event, error)

// Fact is the message that is set in the oneof "fact" of a request; nil when
// there is none.
func Fact(req proto.Message) proto.Message {
	m := req.ProtoReflect()
	one := m.Descriptor().Oneofs().ByName("fact")
	if one == nil {
		return nil
	}
	f := m.WhichOneof(one)
	if f == nil || f.Message() == nil {
		return nil
	}
	return m.Get(f).Message().Interface()
}

// Record decides on a command and appends its event. The same command id
// takes effect once: told again, it is answered with the first receipt,
// marked as repeated; told again for a fact of another type it is an exists
// fault, since that fact would be lost otherwise.
func (d *Desk) Record(ctx context.Context, c floor.Command, decide Decide) (*floorv1.Receipt, error) {
	if c.Body == nil {
		return nil, fault.Bad("fact", "nothing", "give the fact that is to be recorded")
	}
	if d.Room != nil {
		if err := d.Room(); err != nil {
			return nil, err
		}
	}
	ctx = journal.WithCaller(ctx, caller(c.Stamp))
	seq, stored, err := d.Writer.Once(ctx, c.Stamp.GetCommandId(), func(uint64) ([]floor.Event, error) {
		ev, err := decide(d.Floor, c, d.Clock.Now())
		if err != nil {
			return nil, err
		}
		return []floor.Event{ev}, nil
	})
	if err != nil {
		return nil, err
	}
	return d.receipt(ctx, seq, !stored, c.Body)
}

// caller is who takes turns with others: a terminal, else a person.
func caller(s *floorv1.Stamp) string {
	if t := s.GetTerminal(); t != "" {
		return "terminal/" + t
	}
	return "actor/" + s.GetActor()
}

// sameFact reports whether a stored body is the one that is told now, apart
// from what the server wrote into it.
func sameFact(stored, told proto.Message) bool {
	if stored == nil || stored.ProtoReflect().Descriptor() != told.ProtoReflect().Descriptor() {
		return false
	}
	a, b := proto.Clone(stored), proto.Clone(told)
	bare(a.ProtoReflect())
	bare(b.ProtoReflect())
	return proto.Equal(a, b)
}

// bare takes out what only the server writes, in a message and in its parts.
func bare(m protoreflect.Message) {
	m.Range(func(f protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		switch {
		case f.Name() == "assessment" || f.Name() == "planned_ml":
			m.Clear(f)
		case f.IsList() && f.Message() != nil:
			for i := range v.List().Len() {
				bare(v.List().Get(i).Message())
			}
		}
		return true
	})
}

// receipt reads back what the journal holds under a number.
func (d *Desk) receipt(ctx context.Context, seq uint64, repeated bool, told proto.Message) (*floorv1.Receipt, error) {
	if err := d.Writer.WaitFor(ctx, seq); err != nil {
		return nil, err
	}
	var ev floor.Event
	var first proto.Message
	d.Writer.View(func(uint64) {
		ev, _, _ = d.Floor.Event(seq)
		first = d.Floor.Told(seq)
	})
	if ev.Body == nil {
		return nil, fault.New(fault.Internal, "receipt-lost", fmt.Sprintf("event %d was recorded and is not on the floor", seq), "")
	}
	if repeated && !sameFact(first, told) {
		return nil, fault.New(fault.Exists, "command-id-reused",
			fmt.Sprintf("command id %s stands at event %d for another fact (%s)", ev.CommandID, seq, first.ProtoReflect().Descriptor().Name()),
			"tell this fact with an id of its own")
	}
	r := &floorv1.Receipt{Sequence: seq, Repeated: repeated, Occurred: timestamppb.New(ev.Occurred)}
	if a, ok := ev.Body.(interface{ GetAssessment() *floorv1.Assessment }); ok {
		r.Findings = a.GetAssessment().GetFindings()
	}
	return r, nil
}

// View calls fn with the floor standing still, once it has seen sequence
// atLeast, and with the moment of the answer. fn must not block or change
// anything.
func (d *Desk) View(ctx context.Context, atLeast uint64, fn func(f *floor.Floor, now time.Time)) error {
	if err := d.Writer.WaitFor(ctx, atLeast); err != nil {
		return err
	}
	d.Writer.View(func(uint64) {
		now := d.Clock.Now()
		if last := d.Floor.Last(); now.Before(last) {
			now = last // the floor does not answer for a moment before its newest event
		}
		fn(d.Floor, now)
	})
	return nil
}
