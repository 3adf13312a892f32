package journal_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"testing/synctest"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/journal"
	"seamwright/services/journal/journaltest"
)

func TestAnotherProcessWasFirst(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		j := watch()
		b := lineUp(t, j, reaching)
		b.many(30)
		first := true
		j.instead = func(ctx context.Context, expect uint64, recs []journal.Record) (uint64, error, bool) {
			if first && len(recs) > 1 {
				first = false
				if _, err := j.Journal.Append(ctx, expect, journaltest.Record(t, "other", 1)); err != nil {
					t.Error(err)
				}
			}
			return 0, nil, false
		}
		b.run()
		if d := cmp.Diff([]int{1, 30, 30}, j.sizes); d != "" {
			t.Error(d)
		}
		for i, e := range b.fold.Events[2:] {
			if s := b.fold.Texts()[e.Seq-1]; s != fmt.Sprintf("c%d/%d", i, i+2) {
				t.Errorf("event %d is %s", e.Seq, s)
			}
		}
	})
}

// Another process is always faster than a batch: they go singly.
func TestABatchThatAlwaysLosesGoesSingly(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		j := watch()
		b := lineUp(t, j, reaching)
		b.many(30)
		j.instead = func(ctx context.Context, expect uint64, recs []journal.Record) (uint64, error, bool) {
			if len(recs) > 1 {
				if _, err := j.Journal.Append(ctx, expect, journaltest.Record(t, fmt.Sprint("other", expect), 1)); err != nil {
					t.Error(err)
				}
			}
			return 0, nil, false
		}
		out := b.run()
		for i := range 30 {
			if id := fmt.Sprint("c", i); out[id] != fmt.Sprint(i+4) {
				t.Errorf("%s was told %s, want %d", id, out[id], i+4)
			}
		}
		if d := cmp.Diff([]int{1, 30, 30, 1, 1}, j.sizes[:5]); d != "" {
			t.Error(d)
		}
	})
}

// The journal knows an id that the fold does not: its command is answered
// with the first number, the others go on.
func TestAnIDThatTheJournalKnows(t *testing.T) {
	for _, id := range []string{"c0", "c7"} {
		synctest.Test(t, func(t *testing.T) {
			j := watch()
			b := lineUp(t, j, reaching)
			b.many(30)
			j.instead = func(_ context.Context, _ uint64, recs []journal.Record) (uint64, error, bool) {
				for _, r := range recs {
					if r.ID == id {
						return 0, &journal.TakenError{ID: id, Seq: 1}, true
					}
				}
				return 0, nil, false
			}
			out := b.run()
			if out[id] != "1" || len(b.fold.Events) != 30 {
				t.Errorf("%s was told %s; %d events, want 30", id, out[id], len(b.fold.Events))
			}
			if d := cmp.Diff([]int{1, 30, 29}, j.sizes); d != "" {
				t.Error(d)
			}
		})
	}
}

// No answer: everyone is told that the outcome is open, each with the number
// in question, and the same commands find it out.
func TestUnknownOutcomeOfABatch(t *testing.T) {
	for _, kept := range []bool{true, false} {
		synctest.Test(t, func(t *testing.T) {
			j := watch()
			b := lineUp(t, j, reaching)
			b.many(30)
			lost := false
			j.instead = func(ctx context.Context, expect uint64, recs []journal.Record) (uint64, error, bool) {
				if lost || len(recs) == 1 {
					return 0, nil, false
				}
				lost = true
				if kept {
					if _, err := j.Journal.Append(ctx, expect, recs...); err != nil {
						t.Error(err)
					}
				}
				return 0, journal.Unsure(expect, errors.New("the line is dead")), true
			}
			out := b.run()
			for i := range 30 {
				id := fmt.Sprint("c", i)
				if out[id] != journal.ReasonUnknown {
					t.Errorf("%s was told %s", id, out[id])
				}
			}
			b.n, b.let = 0, make(chan struct{})
			b.many(30)
			out = b.run()
			for i := range 30 {
				if id := fmt.Sprint("c", i); out[id] != fmt.Sprint(i+2) {
					t.Errorf("kept %v: %s again was told %s, want %d", kept, id, out[id], i+2)
				}
			}
			if last, _ := j.Last(t.Context()); last != 31 {
				t.Errorf("the journal ends at %d, want 31", last)
			}
		})
	}
}

// A journal that panics leaves nobody waiting.
func TestAJournalThatPanics(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		j := watch()
		b := lineUp(t, j, reaching)
		b.many(30)
		j.instead = func(_ context.Context, _ uint64, recs []journal.Record) (uint64, error, bool) {
			if len(recs) > 1 {
				panic("torn page")
			}
			return 0, nil, false
		}
		for id, got := range b.run() {
			if id != "first" && got != journal.ReasonUnknown {
				t.Errorf("%s was told %s", id, got)
			}
		}
	})
}

// A listener that panics stops the fold: who hears of nothing any more must
// not rely on it.
func TestAListenerThatPanicsStopsTheFold(t *testing.T) {
	_, _, w := setUp()
	w.Listen(func(seq uint64) {
		if seq == 2 {
			panic("mine")
		}
	})
	for i := range 2 {
		seq, err := w.Do(t.Context(), one(fmt.Sprint("c", i)))
		if seq != uint64(i)+1 || (i == 1) != fault.Is(err, journal.ReasonStopped) {
			t.Errorf("event %d: %d, %v", i+1, seq, err)
		}
	}
}

// What the journal refuses as a whole goes one by one, so that each command
// hears what is the matter with it.
func TestARefusedBatchGoesOneByOne(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		j := watch()
		b := lineUp(t, j, reaching)
		b.many(30)
		j.instead = func(_ context.Context, _ uint64, recs []journal.Record) (uint64, error, bool) {
			switch {
			case len(recs) > 1:
				return 0, fault.New(fault.Unavailable, "no-batches", "batches are off", ""), true
			case recs[0].ID == "c5":
				return 0, fault.New(fault.Unavailable, "disk-full", "the disk is full", ""), true
			}
			return 0, nil, false
		}
		out := b.run()
		if out["c5"] != "disk-full" || len(b.fold.Events) != 30 {
			t.Errorf("c5 was told %s; %d events, want 30", out["c5"], len(b.fold.Events))
		}
	})
}

// A caller who goes away while its event is on its way is told what came of
// it.
func TestOneWhoGoesAwayOnTheWayIsTold(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		j := watch()
		b := lineUp(t, j, reaching)
		ctx, cancel := context.WithCancel(t.Context())
		b.many(25)
		b.send(ctx, "goes", about("seam.goes", "goes"))
		j.instead = func(ctx context.Context, _ uint64, recs []journal.Record) (uint64, error, bool) {
			if len(recs) > 1 {
				cancel()
				if ctx.Err() != nil {
					t.Error("the batch hangs on one caller")
				}
			}
			return 0, nil, false
		}
		if out := b.run(); out["goes"] != "27" {
			t.Errorf("was told %s, want 27", out["goes"])
		}
	})
}

// A fold that stops in the middle of a batch: what is stored is stored, those
// behind are told so.
func TestFoldThatStopsInABatch(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := lineUp(t, watch(), reaching)
		b.fold.Fail = func(e floor.Event) error {
			if e.CommandID == "c9" {
				return errors.New("volume below zero")
			}
			return nil
		}
		b.many(30)
		out := b.run()
		for i := range 30 {
			want := fmt.Sprint(i + 2)
			if i >= 9 {
				want = journal.ReasonStopped
			}
			if got := out[fmt.Sprint("c", i)]; got != want {
				t.Errorf("c%d was told %s, want %s", i, got, want)
			}
		}
		if err := b.Healthy(); err == nil || !strings.Contains(err.Error(), "record 11") {
			t.Errorf("healthy: %v", err)
		}
	})
}
