package journal_test

import (
	"errors"
	"strings"
	"testing"

	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/journal"
	"seamwright/services/journal/journaltest"
)

// A replay folds what it is given until something cannot be folded, and then
// says at which record and why; nothing behind that is folded.
func TestReplayStopsWhereItCannotGoOn(t *testing.T) {
	event := func(seq uint64) floor.Event {
		e := journaltest.Event("r", int(seq))
		e.Seq = seq
		return e
	}
	for name, c := range map[string]struct {
		seq  uint64
		err  error
		want string
	}{
		"not decoded": {3, errors.New("torn"), "record 3 (t): torn"},
		"a hole":      {4, nil, "3"},
	} {
		f := journaltest.NewFold()
		p := journal.NewReplay(f)
		for seq := range uint64(2) {
			p.Take(journal.Record{Seq: seq + 1, Type: "t"}, event(seq+1), nil)
		}
		if p.Err() != nil || f.Seq() != 2 {
			t.Fatalf("%s: two sound events: %v, the fold stands at %d", name, p.Err(), f.Seq())
		}
		p.Take(journal.Record{Seq: c.seq, Type: "t"}, event(c.seq), c.err)
		p.Take(journal.Record{Seq: 3, Type: "t"}, event(3), nil)
		if err := p.Err(); !fault.Is(err, journal.ReasonStopped) || !strings.Contains(err.Error(), c.want) || f.Seq() != 2 {
			t.Errorf("%s: %v, the fold stands at %d", name, err, f.Seq())
		}
	}
	p := journal.NewReplay(panics{journaltest.NewFold()})
	p.Take(journal.Record{Seq: 1, Type: "t"}, event(1), nil)
	if err := p.Err(); !fault.Is(err, journal.ReasonStopped) || !strings.Contains(err.Error(), "panic: torn apart") {
		t.Errorf("a fold that panics: %v", err)
	}
}

type panics struct{ *journaltest.Fold }

func (panics) Apply(floor.Event) error { panic("torn apart") }
