package journaltest

import (
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/journal"
)

// daysLater waits until the journal itself no longer knows an old id, and
// then sends an old command again through a writer.
func daysLater(t *testing.T, h *Harness) {
	j := h.Open(t)
	fold := NewFold()
	w := journal.NewWriter(j, fold)
	decide := func(id string) journal.Decide {
		return func(uint64) ([]floor.Event, error) { return []floor.Event{Event(id, 1)}, nil }
	}
	if seq, err := w.Do(limit(t), decide("old")); seq != 1 || err != nil {
		t.Fatalf("first: %d, %v", seq, err)
	}
	forgotten := waitForgotten(t, j)
	for _, do := range []func() (uint64, error){
		func() (uint64, error) { return w.Do(limit(t), decide("old")) },
		func() (uint64, error) {
			return w.DoOnce(limit(t), "old", func(uint64) ([]floor.Event, error) {
				return nil, errors.New("decided again on a command that is known")
			})
		},
	} {
		if err := w.Step(limit(t)); err != nil {
			t.Fatal(err)
		}
		if seq, err := do(); seq != 1 || err != nil {
			t.Errorf("the old command again: %d, %v, want 1", seq, err)
		}
	}
	// A fold that is behind learns of the id when it has caught up.
	behind := journal.NewWriter(j, NewFold())
	if seq, err := behind.Do(limit(t), decide("old")); seq != 1 || err != nil {
		t.Errorf("the old command by a fold that is behind: %d, %v, want 1", seq, err)
	}
	if last, _ := j.Last(limit(t)); last != forgotten {
		t.Errorf("the journal grew from %d to %d by a known command", forgotten, last)
	}
}

// waitForgotten appends until an id is stored twice, so it has left the
// journal's memory, and with it every older one. It returns the last number.
func waitForgotten(t *testing.T, j journal.Journal) uint64 {
	t.Helper()
	ctx := limit(t)
	last, err := j.Append(ctx, 1, Record(t, "probe", 1))
	for i := 0; err == nil; i++ {
		if last, err = j.Append(ctx, last, Record(t, fmt.Sprintf("filler-%d", i), i)); err != nil {
			break
		}
		seq, again := j.Append(ctx, last, Record(t, "probe", 1))
		if again == nil {
			return seq
		}
		if _, ok := errors.AsType[*journal.TakenError](again); !ok {
			err = again
		}
	}
	t.Fatal(err)
	return 0
}

// twoWriters are two processes: folds of their own over one journal.
func twoWriters(t *testing.T, h *Harness) {
	const each = 25
	folds := []*Fold{NewFold(), NewFold()}
	writers := make([]*journal.Writer, len(folds))
	var wg sync.WaitGroup
	ctx := limit(t)
	for i, fold := range folds {
		w := journal.NewWriter(h.Open(t), fold)
		writers[i] = w
		Follower(t, w)
		wg.Go(func() {
			for n := 0; n < each; {
				id := fmt.Sprintf("p%d-%d", i, n)
				seq, err := w.DoOnce(ctx, id, func(seq uint64) ([]floor.Event, error) {
					e := Event(id, n)
					e.Terminal = fmt.Sprintf("decided-at-%d", seq)
					return []floor.Event{e}, nil
				})
				switch {
				case err == nil:
					if at, ok := fold.Taken(id); !ok || at != seq {
						t.Errorf("%s was told %d, its own fold says %d", id, seq, at)
					}
					n++
				case fault.Is(err, "journal-busy"): // the other one was first each time: send it again
				default:
					t.Errorf("%s: %v", id, err)
					return
				}
			}
		})
	}
	wg.Wait()
	for _, w := range writers {
		if err := w.WaitFor(ctx, 2*each); err != nil {
			t.Fatal(err)
		}
	}
	if d := cmp.Diff(folds[0].Texts(), folds[1].Texts()); d != "" {
		t.Errorf("the folds differ:\n%s", d)
	}
	if n := len(folds[0].Events); n != 2*each {
		t.Errorf("%d events, want %d", n, 2*each)
	}
	for _, e := range folds[0].Events {
		if want := fmt.Sprintf("decided-at-%d", e.Seq-1); e.Terminal != want {
			t.Errorf("event %d was %s", e.Seq, e.Terminal)
		}
	}
}

func unknownType(t *testing.T, h *Harness) {
	j := h.Open(t)
	fill(t, j, 3)
	odd := Record(t, "odd", 4)
	odd.Type = "seamwright.later.v9.NotYetKnown"
	if _, err := j.Append(limit(t), 3, odd, Record(t, "next", 5)); err != nil {
		t.Fatal(err)
	}
	fold := NewFold()
	w := journal.NewWriter(j, fold)
	Follower(t, w)
	err := w.WaitFor(limit(t), 5)
	if !fault.Is(err, journal.ReasonStopped) || fault.KindOf(err) != fault.Unavailable {
		t.Fatalf("wait for an event behind the unknown one: %v", err)
	}
	for _, part := range []string{"record 4", odd.Type} {
		if !strings.Contains(err.Error(), part) {
			t.Errorf("the error does not say %q: %v", part, err)
		}
	}
	if fold.Seq() != 3 {
		t.Errorf("the fold stands at %d, want 3", fold.Seq())
	}
	if err := w.Healthy(); !fault.Is(err, journal.ReasonStopped) {
		t.Errorf("healthy: %v", err)
	}
	if err := w.WaitFor(limit(t), 3); err != nil {
		t.Errorf("what was folded before can still be read: %v", err)
	}
	_, err = w.Do(limit(t), func(uint64) ([]floor.Event, error) {
		t.Error("decided on a fold that stopped")
		return nil, nil
	})
	if !fault.Is(err, journal.ReasonStopped) {
		t.Errorf("do: %v", err)
	}
	if last, _ := j.Last(limit(t)); last != 5 {
		t.Errorf("the journal ends at %d, want 5", last)
	}
}
