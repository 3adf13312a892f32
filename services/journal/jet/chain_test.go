package jet_test

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/fault"
	"seamwright/services/journal"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/journaltest"
)

// chain sends records c0, c1 and so on, calls before each one that is sent,
// and gives how many were stored, as the journal said and as it called.
func chain(t *testing.T, j journal.Journal, expect uint64, n int, before func(i int)) (stored, called int, err error) {
	t.Helper()
	sent := 0
	stored, err = journal.Chain(t.Context(), j, expect, func() (journal.Record, bool) {
		if sent == n {
			return journal.Record{}, false
		}
		if before != nil {
			before(sent)
		}
		sent++
		return journaltest.Record(t, fmt.Sprint("c", sent-1), sent-1), true
	}, func() { called++ })
	return stored, called, err
}

// ids reads the ids of all that is stored.
func ids(t *testing.T, j journal.Journal) (out []string) {
	t.Helper()
	if err := j.Read(t.Context(), 1, journal.End, func(r journal.Record) error {
		out = append(out, r.ID)
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	return out
}

func TestAChainIsStoredInOrder(t *testing.T) {
	j := newShop(t, jet.Options{}).open(t)
	if n, called, err := chain(t, j, 0, 20, nil); n != 20 || called != 20 || err != nil {
		t.Fatalf("%d stored, told of %d, %v", n, called, err)
	}
	var want []string
	for i := range 20 {
		want = append(want, fmt.Sprint("c", i))
	}
	if d := cmp.Diff(want, ids(t, j)); d != "" {
		t.Error(d)
	}
}

// A stranger's record takes the number that one of the chain expected. The
// one behind it would find the number that it expects, and must not be stored
// all the same: it was decided on without the stranger's.
func TestAStrangerInAChain(t *testing.T) {
	s := newShop(t, jet.Options{})
	j, other := s.open(t), s.open(t)
	n, called, err := chain(t, j, 0, 8, func(i int) {
		if i == 3 {
			put(t, other, 3, journaltest.Record(t, "stranger", 1))
		}
	})
	if c, ok := errors.AsType[*journal.ConflictError](err); n != 3 || called != 3 || !ok || c.Expect != 3 {
		t.Errorf("%d stored, told of %d, %v; want 3 and a conflict at 3", n, called, err)
	}
	if d := cmp.Diff([]string{"c0", "c1", "c2", "stranger"}, ids(t, j)); d != "" {
		t.Error(d)
	}
}

// put appends behind a number, once the journal has come so far.
func put(t *testing.T, j journal.Journal, behind uint64, r journal.Record) {
	t.Helper()
	for {
		_, err := j.Append(t.Context(), behind, r)
		if err == nil {
			return
		}
		if c, ok := errors.AsType[*journal.ConflictError](err); !ok || c.Last > behind {
			t.Error(err)
			return
		}
	}
}

// One whose id the journal has ends a chain; those behind it are not stored.
func TestAKnownIDInAChain(t *testing.T) {
	j := newShop(t, jet.Options{}).open(t)
	if _, err := j.Append(t.Context(), 0, journaltest.Record(t, "c2", 2)); err != nil {
		t.Fatal(err)
	}
	n, called, err := chain(t, j, 1, 6, nil)
	if taken, ok := errors.AsType[*journal.TakenError](err); n != 2 || called != 2 || !ok || taken.ID != "c2" || taken.Seq != 1 {
		t.Errorf("%d stored, told of %d, %v", n, called, err)
	}
	if d := cmp.Diff([]string{"c2", "c0", "c1"}, ids(t, j)); d != "" {
		t.Error(d)
	}
}

// One that cannot be stored ends a chain.
func TestAnIllFormedRecordInAChain(t *testing.T) {
	j := newShop(t, jet.Options{}).open(t)
	sent := 0
	n, err := journal.Chain(t.Context(), j, 0, func() (journal.Record, bool) {
		sent++
		r := journaltest.Record(t, fmt.Sprint("c", sent), sent)
		if sent == 3 {
			r.Aggregate = "two words"
		}
		return r, sent <= 5
	}, func() {})
	if n != 2 || fault.KindOf(err) != fault.Invalid {
		t.Errorf("%d stored, %v", n, err)
	}
	if last, err := j.Last(t.Context()); last != 2 || err != nil {
		t.Errorf("the journal ends at %d, %v", last, err)
	}
}

// The answers are lost after the records were stored. The chain finds its own
// records, and stores what is not there: each once.
func TestLostAnswersOfAChainAreFoundOut(t *testing.T) {
	s := newShop(t, jet.Options{})
	near := s.open(t)
	w, far := s.far(t, 300*time.Millisecond)
	go func() {
		<-w.swallowed
		w.cut()
	}()
	if n, called, err := chain(t, far, 0, 6, nil); n != 6 || called != 6 || err != nil {
		t.Errorf("%d stored, told of %d, %v", n, called, err)
	}
	if d := cmp.Diff([]string{"c0", "c1", "c2", "c3", "c4", "c5"}, ids(t, near)); d != "" {
		t.Error(d)
	}
}
