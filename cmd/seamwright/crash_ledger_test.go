package main

import (
	"fmt"
	"testing"

	"google.golang.org/protobuf/proto"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/floor"
)

// ledger is what the test has seen of the journal, and what follows from it by
// the test's own reckoning. It takes each event once, in order.
type ledger struct {
	t       *testing.T
	entries []*floorv1.Entry
	ids     map[string]*floorv1.Entry // by command id
	floor   *floor.Floor              // folded apart from the program's
	permits map[string]bool           // that run
	stands  map[string]uint64         // announced ends of clocks that were not taken back
	of      map[uint64]string         // which one an event announced
	beads   []floor.SeamID            // of the seams that had a bead laid, in order
}

func newLedger(t *testing.T) *ledger {
	return &ledger{
		t: t, ids: map[string]*floorv1.Entry{}, floor: floor.New(), permits: map[string]bool{},
		stands: map[string]uint64{}, of: map[uint64]string{},
	}
}

func (l *ledger) seq() uint64 { return uint64(len(l.entries)) }

// take takes the next entries. Those that it has must come as they were.
func (l *ledger) take(entries []*floorv1.Entry) {
	l.t.Helper()
	for _, e := range entries {
		switch n := e.GetSequence(); {
		case n == 0 || n > l.seq()+1:
			l.t.Fatalf("event %d follows %d", n, l.seq())
		case n <= l.seq():
			if !proto.Equal(e, l.entries[n-1]) {
				l.t.Errorf("event %d has changed:\n%v\n%v", n, l.entries[n-1], e)
			}
		default:
			l.add(e)
		}
	}
}

func (l *ledger) add(e *floorv1.Entry) {
	l.t.Helper()
	l.entries = append(l.entries, e)
	if id := e.GetCommandId(); id != "" {
		if first := l.ids[id]; first != nil {
			l.t.Errorf("command %s stands at %d and at %d", id, first.GetSequence(), e.GetSequence())
		}
		l.ids[id] = e
	}
	body := bodyOf(l.t, e)
	l.fold(e, body)
	switch b := body.(type) {
	case *boothv1.PermitIssued:
		if len(l.permits) > 0 {
			l.t.Errorf("event %d issues %s while %v runs", e.GetSequence(), b.GetPermitId(), l.permits)
		}
		l.permits[b.GetPermitId()] = true
	case *boothv1.PermitRevoked:
		if !l.permits[b.GetPermitId()] {
			l.t.Errorf("event %d revokes %s, which does not run", e.GetSequence(), b.GetPermitId())
		}
		delete(l.permits, b.GetPermitId())
	case *jobsv1.BeadLaid:
		l.beads = append(l.beads, floor.SeamID(b.GetSeamId()))
	case *curesv1.WindowOpened:
		l.announced(e, fmt.Sprint(b.GetSeamId(), b.GetClock(), b.GetCoat(), b.GetBegan()))
	case *curesv1.WindowClosed:
		l.announced(e, fmt.Sprint(b.GetSeamId(), b.GetNozzleId(), b.GetClock(), b.GetCoat(), b.GetBegan()))
	case *curesv1.WindowRetracted:
		delete(l.stands, l.of[b.GetAnnounced()])
	}
}

// announced asks that no end of a clock stands twice.
func (l *ledger) announced(e *floorv1.Entry, key string) {
	l.t.Helper()
	if first, ok := l.stands[key]; ok {
		l.t.Errorf("event %d announces %s again, after %d", e.GetSequence(), key, first)
	}
	l.stands[key], l.of[e.GetSequence()] = e.GetSequence(), key
}

func (l *ledger) fold(e *floorv1.Entry, body proto.Message) {
	l.t.Helper()
	err := l.floor.Apply(floor.Event{
		Seq: e.GetSequence(), Aggregate: e.GetAggregate(), Body: proto.Clone(body),
		Header: floor.Header{
			CommandID: e.GetCommandId(), Actor: e.GetActor(), Role: floor.Role(floor.Word(e.GetRole())), Terminal: e.GetTerminal(),
			AgeKind: floor.AgeKind(e.GetAgeKind()), Rules: e.GetRules(),
			Received: e.GetReceived().AsTime(), Occurred: e.GetOccurred().AsTime(), Earliest: e.GetEarliest().AsTime(), Latest: e.GetLatest().AsTime(),
		},
	})
	if err != nil {
		l.t.Fatal(err)
	}
}

// bodyOf is an entry's event.
func bodyOf(t *testing.T, e *floorv1.Entry) proto.Message {
	t.Helper()
	m, err := e.GetBody().UnmarshalNew()
	if err != nil {
		t.Fatalf("event %d: %v", e.GetSequence(), err)
	}
	return m
}
