package jet_test

import (
	"errors"
	"testing"
	"time"

	"seamwright/services/journal"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/journaltest"
)

// Another process was first. The chain that is refused knows it by the answer
// to its first record, and waits for no answer that it has had.
func TestARefusedChainDoesNotWaitForAnAnswerTwice(t *testing.T) {
	s := newShop(t, jet.Options{Timeout: time.Hour})
	j, other := s.open(t), s.open(t)
	if _, err := other.Append(t.Context(), 0, journaltest.Record(t, "other", 1)); err != nil {
		t.Fatal(err)
	}
	refused := make(chan error, 1)
	go func() {
		_, _, err := chain(t, j, 0, 4, nil)
		refused <- err
	}()
	select {
	case err := <-refused:
		if c, ok := errors.AsType[*journal.ConflictError](err); !ok || c.Last != 1 {
			t.Errorf("got %v, want a conflict at 1", err)
		}
	case <-time.After(time.Minute):
		t.Fatal("a chain that was refused still waits for an answer")
	}
}
