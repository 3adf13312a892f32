package journaltest

import (
	"context"
	"fmt"
	"runtime"
	"sync"
	satomic "sync/atomic"
	"testing"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/journal"
)

// counting is a journal that notes how many records the largest append had.
// The first one waits until so many callers are there: then many wait.
type counting struct {
	journal.Journal
	callers int
	there   satomic.Int64
	mu      sync.Mutex
	most    int
}

func (c *counting) Append(ctx context.Context, expect uint64, recs ...journal.Record) (uint64, error) {
	if expect == 0 {
		for c.there.Load() < int64(c.callers) && ctx.Err() == nil {
			runtime.Gosched()
		}
		for range 1000 { // those who have come are about to stand in the queue
			runtime.Gosched()
		}
	}
	c.mu.Lock()
	c.most = max(c.most, len(recs))
	c.mu.Unlock()
	return c.Journal.Append(ctx, expect, recs...)
}

// crowd lets many callers tell events about few things through one writer.
// Each event says in its terminal how many events its thing had when it was
// decided on.
func crowd(t *testing.T, w *journal.Writer, fold *Fold, name string, callers, each int, comes func()) {
	const things = 100
	ctx := limit(t)
	var wg sync.WaitGroup
	for c := range callers {
		wg.Go(func() {
			comes()
			ctx := journal.WithCaller(ctx, fmt.Sprint(name, c))
			for n := 0; n < each; {
				id := fmt.Sprintf("%s-%d-%d", name, c, n)
				e := Event(id, n)
				e.Aggregate = fmt.Sprintf("seam.%d", (c+n)%things)
				if c == 0 {
					e.Aggregate = "all.of-it"
				}
				seq, err := w.DoOnce(ctx, id, func(uint64) ([]floor.Event, error) {
					e.Terminal = fmt.Sprintf("had-%d", fold.count(e.Aggregate))
					return []floor.Event{e}, nil
				})
				switch {
				case err == nil:
					if at, ok := fold.Taken(id); !ok || at != seq {
						t.Errorf("%s was told %d, the fold says %d", id, seq, at)
					}
					n++
				case fault.Is(err, "journal-busy"): // others were first each time: send it again
				default:
					t.Errorf("%s: %v", id, err)
					return
				}
			}
		})
	}
	wg.Wait()
}

// count is how many events a thing has; one that may depend on any counts all.
func (f *Fold) count(aggregate string) int {
	f.mu.Lock()
	defer f.mu.Unlock()
	return counted(f.Events, aggregate)
}

func counted(events []floor.Event, aggregate string) (n int) {
	for _, e := range events {
		if e.Aggregate == aggregate || aggregate == "all.of-it" {
			n++
		}
	}
	return n
}

// inOrder checks that every event was decided on all events before it that it
// depends on.
func inOrder(t *testing.T, events []floor.Event) {
	t.Helper()
	for i, e := range events {
		if want := fmt.Sprintf("had-%d", counted(events[:i], e.Aggregate)); e.Terminal != want {
			t.Errorf("event %d of %s was decided when its thing %s events, want %s", e.Seq, e.Aggregate, e.Terminal, want)
		}
	}
}

func together(t *testing.T, h *Harness) {
	const callers, each = 100, 5
	j, fold := &counting{Journal: h.Open(t), callers: callers}, NewFold()
	w := journal.NewWriter(j, fold)
	Follower(t, w)
	crowd(t, w, fold, "c", callers, each, func() { j.there.Add(1) })
	inOrder(t, fold.Events)
	recs := all(t, j)
	if len(recs) != callers*each || len(fold.Events) != len(recs) {
		t.Fatalf("%d records and %d events, want %d of both", len(recs), len(fold.Events), callers*each)
	}
	for i, r := range recs {
		if fold.Events[i].CommandID != r.ID {
			t.Errorf("record %d is %s, folded was %s", i+1, r.ID, fold.Events[i].CommandID)
		}
	}
	if j.most < 2 {
		t.Error("no two were ever stored together")
	}
}

// batchingWriters are two processes with many callers each.
func batchingWriters(t *testing.T, h *Harness) {
	const callers, each = 30, 5
	folds := []*Fold{NewFold(), NewFold()}
	writers := make([]*journal.Writer, len(folds))
	var wg sync.WaitGroup
	for i, fold := range folds {
		writers[i] = journal.NewWriter(h.Open(t), fold)
		Follower(t, writers[i])
		wg.Go(func() { crowd(t, writers[i], fold, fmt.Sprint("p", i), callers, each, func() {}) })
	}
	wg.Wait()
	for _, w := range writers {
		if err := w.WaitFor(limit(t), 2*callers*each); err != nil {
			t.Fatal(err)
		}
	}
	inOrder(t, folds[0].Events)
	if d := cmp.Diff(folds[0].Texts(), folds[1].Texts()); d != "" {
		t.Errorf("the folds differ:\n%s", d)
	}
}
