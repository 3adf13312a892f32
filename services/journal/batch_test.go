package journal_test

import (
	"context"
	"fmt"
	"slices"
	"sync"
	"testing"
	"testing/synctest"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/journal"
	"seamwright/services/journal/journaltest"
	"seamwright/services/journal/memory"
)

// watched is a journal that notes how many records each append had, and may do
// something else instead.
type watched struct {
	journal.Journal
	mu      sync.Mutex
	sizes   []int
	hold    <-chan struct{} // each append waits for it
	instead func(ctx context.Context, expect uint64, recs []journal.Record) (uint64, error, bool)
}

func (w *watched) Append(ctx context.Context, expect uint64, recs ...journal.Record) (uint64, error) {
	w.mu.Lock()
	w.sizes = append(w.sizes, len(recs))
	w.mu.Unlock()
	<-w.hold
	if w.instead != nil {
		if last, err, done := w.instead(ctx, expect, recs); done {
			return last, err
		}
	}
	return w.Journal.Append(ctx, expect, recs...)
}

func watch() *watched { return &watched{Journal: memory.New(memory.Options{})} }

// about makes one event of a thing; its text says behind which number it was
// decided.
func about(thing, id string) journal.Decide {
	return func(seq uint64) ([]floor.Event, error) {
		e := journaltest.Event(id, int(seq))
		e.Aggregate = thing
		return []floor.Event{e}, nil
	}
}

// many lines up commands about things of their own.
func (b *bench) many(n int) {
	for i := range n {
		b.send(b.t.Context(), fmt.Sprint("c", i), about(fmt.Sprint("seam.", i), fmt.Sprint("c", i)))
	}
}

func TestCommandsThatDoNotMeetAreAppendedTogether(t *testing.T) {
	for name, c := range map[string]struct {
		of   func(*journaltest.Fold) journal.Fold
		n    int
		want []int
	}{
		"many":                              {reaching, 40, []int{1, 40}},
		"too few to pay":                    {reaching, 23, slices.Repeat([]int{1}, 24)},
		"a fold that knows no dependencies": {singly, 30, slices.Repeat([]int{1}, 31)},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				j := watch()
				b := lineUp(t, j, c.of)
				defer follower(t, b.Writer)()
				b.many(c.n)
				out := b.run()
				if d := cmp.Diff(c.want, j.sizes); d != "" {
					t.Error(d)
				}
				for i := range c.n {
					id := fmt.Sprint("c", i)
					if at, ok := b.fold.Taken(id); !ok || out[id] != fmt.Sprint(at) || at != uint64(i)+2 {
						t.Errorf("%s was told %s, the fold says %d", id, out[id], at)
					}
				}
			})
		})
	}
}

// While a batch is on its way nobody sees anything of it.
func TestWhatIsNotStoredIsNotSeen(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		j := watch()
		b := lineUp(t, j, reaching)
		b.many(30)
		seen := make(chan uint64, 1)
		j.instead = func(_ context.Context, _ uint64, recs []journal.Record) (uint64, error, bool) {
			if len(recs) > 1 {
				b.View(func(seq uint64) { seen <- seq })
			}
			return 0, nil, false
		}
		b.run()
		if got := <-seen; got != 1 || b.Seq() != 31 {
			t.Errorf("seen up to %d on the way, %d in the end; want 1 and 31", got, b.Seq())
		}
	})
}

// One that depends on another is decided behind it, and overtaken by none
// that depends on it.
func TestWhatDependsIsDecidedBehind(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		j := watch()
		b := lineUp(t, j, reaching)
		b.many(10)
		for _, id := range []string{"x1", "x2", "x3"} {
			b.send(journal.WithCaller(t.Context(), id), id, about("seam.x", id))
		}
		for i := range 20 {
			id := fmt.Sprint("d", i)
			b.send(journal.WithCaller(t.Context(), id), id, about("seam."+id, id))
		}
		b.run()
		var order []string
		for _, e := range b.fold.Events {
			if e.Aggregate == "seam.x" {
				order = append(order, e.CommandID)
			}
		}
		if d := cmp.Diff([]string{"x1", "x2", "x3"}, order); d != "" {
			t.Error(d)
		}
		for _, e := range b.fold.Events { // each was told the number that it came to stand behind
			if s := b.fold.Texts()[e.Seq-1]; s != fmt.Sprintf("%s/%d", e.CommandID, e.Seq-1) {
				t.Errorf("event %d is %s", e.Seq, s)
			}
		}
		if d := cmp.Diff([]int{1, 31, 1, 1}, j.sizes); d != "" {
			t.Error(d)
		}
	})
}

// A refusal, a panic, nothing to record, an event that may depend on anything:
// each is answered as if it had been alone, and those around it go through.
func TestOneCommandDoesNotHurtTheOthers(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		j := watch()
		b := lineUp(t, j, reaching)
		b.many(30)
		b.send(t.Context(), "refused", func(uint64) ([]floor.Event, error) { return nil, fault.New(fault.Refused, "may-not", "no", "") })
		b.send(t.Context(), "nothing", func(uint64) ([]floor.Event, error) { return nil, nil })
		b.send(t.Context(), "alone", about("all.of-it", "alone"))
		b.send(t.Context(), "c3", about("seam.3", "c3")) // sent twice
		b.send(t.Context(), "two", func(uint64) ([]floor.Event, error) {
			return []floor.Event{journaltest.Event("two-a", 1), journaltest.Event("two-b", 2)}, nil
		})
		panicked := make(chan any, 1)
		go func() {
			defer func() { panicked <- recover() }()
			_, _ = b.DoOnce(t.Context(), "panics", func(uint64) ([]floor.Event, error) { panic("mine") })
		}()
		synctest.Wait()
		for i := range 30 {
			b.send(t.Context(), fmt.Sprint("e", i), about(fmt.Sprint("seam.e", i), fmt.Sprint("e", i)))
		}
		out := b.run()
		if p := <-panicked; p != "mine" {
			t.Errorf("who panicked got %v", p)
		}
		want := map[string]string{"refused": "may-not", "nothing": "31", "alone": "32", "c3": "5", "two": "34"}
		for id, w := range want {
			if out[id] != w {
				t.Errorf("%s was told %q, want %q", id, out[id], w)
			}
		}
		if d := cmp.Diff([]int{1, 30, 1, 2, 30}, j.sizes); d != "" {
			t.Error(d)
		}
	})
}
