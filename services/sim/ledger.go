package sim

import (
	"bytes"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	floorv1 "seamwright/proto/seamwright/floor/v1"
)

// ack is a fact that the shop has acknowledged: it must be in the journal
// once, with the same bytes.
type ack struct {
	command string
	seq     uint64
	stamp   *floorv1.Stamp
	body    proto.Message
	bytes   []byte // the body as it was told
}

// ledger is every acknowledged fact that the journal has not shown yet.
type ledger struct {
	open map[uint64]*ack
	by   map[string]uint64 // sequence by command id, for ever
	last *ack
	sim  *sim
}

func newLedger(s *sim) *ledger {
	return &ledger{open: map[uint64]*ack{}, by: map[string]uint64{}, sim: s}
}

// acknowledged notes a receipt, and checks where the fact was placed in time.
func (l *ledger) acknowledged(st *floorv1.Stamp, body proto.Message, r *floorv1.Receipt, now time.Time, a age) {
	l.last = &ack{st.GetCommandId(), r.GetSequence(), st, body, plain(body)}
	if was, taken := l.open[r.GetSequence()]; taken {
		l.sim.broken("I7", "event %d was acknowledged for command %s and for command %s", r.GetSequence(), was.command, st.GetCommandId())
	}
	l.open[r.GetSequence()] = l.last
	l.by[st.GetCommandId()] = r.GetSequence()
	l.sim.checks.count("I7")
	if want := now.Add(-a.length); !r.GetOccurred().AsTime().Equal(want) {
		l.sim.broken("I7", "event %d occurred %s by its receipt, it was told for %s", r.GetSequence(), clock(r.GetOccurred().AsTime()), clock(want))
	}
}

// shown compares an event of the journal with what was acknowledged under its
// number; known reports whether anything was.
func (l *ledger) shown(e *floorv1.Entry, body proto.Message) (known bool) {
	a, ok := l.open[e.GetSequence()]
	if !ok {
		return false
	}
	delete(l.open, e.GetSequence())
	switch {
	case a.command != e.GetCommandId():
		l.sim.broken("I7", "event %d is command %s, acknowledged was command %s", e.GetSequence(), e.GetCommandId(), a.command)
	case !bytes.Equal(a.bytes, plain(body)):
		l.sim.broken("I7", "event %d is not what was told by command %s", e.GetSequence(), a.command)
	case a.stamp.GetActor() != e.GetActor() || a.stamp.GetTerminal() != e.GetTerminal() || a.stamp.GetRole() != e.GetRole():
		l.sim.broken("I7", "event %d is told by %s at %s, command %s was told by %s at %s",
			e.GetSequence(), e.GetActor(), e.GetTerminal(), a.command, a.stamp.GetActor(), a.stamp.GetTerminal())
	}
	return true
}

// lost reports what was acknowledged up to a number and never shown.
func (l *ledger) lost(upTo uint64) {
	for seq, a := range l.open {
		if seq <= upTo {
			l.sim.broken("I7", "command %s was acknowledged as event %d, the journal does not show it", a.command, seq)
			delete(l.open, seq)
		}
	}
}

// plain is a body's bytes without what the server writes into it.
func plain(body proto.Message) []byte {
	m := proto.Clone(body)
	strip(m.ProtoReflect())
	b, err := proto.MarshalOptions{Deterministic: true}.Marshal(m)
	if err != nil {
		return nil // compares unequal to anything that was told
	}
	return b
}

func strip(m protoreflect.Message) {
	for _, name := range []protoreflect.Name{"assessment", "planned_ml"} {
		if fd := m.Descriptor().Fields().ByName(name); fd != nil {
			m.Clear(fd)
		}
	}
	m.Range(func(fd protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		if fd.IsList() && fd.Message() != nil {
			for i := range v.List().Len() {
				strip(v.List().Get(i).Message())
			}
		}
		return true
	})
}

func clock(t time.Time) string { return t.UTC().Format("Mon 15:04:05") }
