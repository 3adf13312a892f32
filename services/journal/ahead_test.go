package journal_test

import (
	"context"
	"errors"
	"fmt"
	"testing"

	"seamwright/services/journal"
	"seamwright/services/journal/journaltest"
	"seamwright/services/journal/memory"
)

// numbered is a journal of n records in memory.
func numbered(t *testing.T, n int) *memory.Journal {
	t.Helper()
	j := memory.New(memory.Options{})
	for i := range n {
		if _, err := j.Append(t.Context(), uint64(i), journaltest.Record(t, fmt.Sprintf("r-%d", i+1), i)); err != nil {
			t.Fatal(err)
		}
	}
	return j
}

// ahead reads with the record's id as what is made of it.
func ahead(ctx context.Context, j journal.Journal, take func(journal.Record, string) error) error {
	return journal.ReadAhead(ctx, j, 1, journal.End, func() func(journal.Record) string {
		return func(r journal.Record) string { return r.ID }
	}, take)
}

func TestReadAheadTakesEveryRecordInOrder(t *testing.T) {
	for _, n := range []int{0, 1, 127, 128, 129, 3000} {
		next := uint64(1)
		if err := ahead(t.Context(), numbered(t, n), func(r journal.Record, id string) error {
			if r.Seq != next || id != r.ID || id != fmt.Sprintf("r-%d", next) {
				t.Fatalf("record %d (%s) with %q, want %d", r.Seq, r.ID, id, next)
			}
			next++
			return nil
		}); err != nil || next != uint64(n)+1 {
			t.Errorf("of %d records came %d: %v", n, next-1, err)
		}
	}
}

// Every record before a hole is taken, then the hole is told; an error of the
// taker and the end of the context end it at once.
func TestReadAheadEnds(t *testing.T) {
	j, taken := numbered(t, 2000), 0
	j.Lose(1500)
	count := func(journal.Record, string) error { taken++; return nil }
	err := ahead(t.Context(), j, count)
	if gap, ok := errors.AsType[*journal.GapError](err); !ok || gap.Want != 1500 || taken != 1499 {
		t.Errorf("a hole at 1500: %d taken, %v", taken, err)
	}
	own := errors.New("enough")
	if err := ahead(t.Context(), j, func(r journal.Record, _ string) error {
		if r.Seq > 700 {
			t.Errorf("record %d after the error", r.Seq)
		}
		if r.Seq == 700 {
			return own
		}
		return nil
	}); err != own {
		t.Errorf("the taker's error: %v", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	if err := ahead(ctx, j, func(r journal.Record, _ string) error {
		if r.Seq == 300 {
			cancel()
		}
		return nil
	}); !errors.Is(err, context.Canceled) {
		t.Errorf("a context that ended: %v", err)
	}
}
