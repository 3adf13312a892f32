package journal_test

import (
	"context"
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

// bench is a writer whose first event is on its way until it is let go, so
// that a test may line up other commands behind it. It runs inside a synctest
// bubble.
type bench struct {
	*journal.Writer
	t     *testing.T
	fold  *journaltest.Fold
	let   chan struct{}
	ended chan string
	n     int
}

func lineUp(t *testing.T, j *watched, of func(*journaltest.Fold) journal.Fold) *bench {
	f := journaltest.NewFold()
	b := &bench{Writer: journal.NewWriter(j, of(f)), t: t, fold: f, let: make(chan struct{}), ended: make(chan string, 1000)}
	j.hold = b.let
	b.send(t.Context(), "first", one("first"))
	return b
}

// send lines a command up behind those before it.
func (b *bench) send(ctx context.Context, id string, decide journal.Decide) {
	b.n++
	b.meanwhile(ctx, id, decide)
}

// meanwhile is send while the others run; its answer is one more.
func (b *bench) meanwhile(ctx context.Context, id string, decide journal.Decide) {
	go func() {
		seq, err := b.DoOnce(ctx, id, decide)
		word := fmt.Sprintf("%s %d", id, seq)
		if err != nil {
			word = fmt.Sprintf("%s %s", id, fault.ReasonOf(err))
		}
		b.ended <- word
	}()
	synctest.Wait()
}

// run lets them go, and gives what each was answered.
func (b *bench) run() map[string]string {
	b.t.Helper()
	close(b.let)
	out := map[string]string{}
	for range b.n {
		id, what, _ := strings.Cut(<-b.ended, " ")
		out[id] = what
	}
	return out
}

// singly is the fold as one that does not know what depends on what.
func singly(f *journaltest.Fold) journal.Fold { return struct{ journal.Fold }{f} }

func reaching(f *journaltest.Fold) journal.Fold { return f }

// ids are the commands in the order in which they were folded.
func (b *bench) ids() (out []string) {
	for _, e := range b.fold.Events {
		out = append(out, e.CommandID)
	}
	return out
}

func TestCallersTakeTurns(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := lineUp(t, watch(), singly)
		flood := journal.WithCaller(t.Context(), "flood")
		for i := range 30 {
			b.send(flood, fmt.Sprint("f", i), one(fmt.Sprint("f", i)))
		}
		for i := range 3 {
			b.send(journal.WithCaller(t.Context(), "bay-1"), fmt.Sprint("a", i), one(fmt.Sprint("a", i)))
		}
		b.send(t.Context(), "nameless", one("nameless"))
		b.run()
		want := []string{"first", "f0", "a0", "nameless", "f1", "a1", "f2", "a2", "f3", "f4"}
		if d := cmp.Diff(want, b.ids()[:len(want)]); d != "" {
			t.Error(d)
		}
	})
}

func TestUrgentCommandsGoFirst(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := lineUp(t, watch(), singly)
		for i := range 5 {
			b.send(t.Context(), fmt.Sprint("p", i), one(fmt.Sprint("p", i)))
		}
		for _, caller := range []string{"x", "x", "x", "y"} {
			id := fmt.Sprint(caller, b.n)
			b.send(journal.Urgent(journal.WithCaller(t.Context(), caller)), id, one(id))
		}
		b.run()
		// Turn about with those that wait, and among themselves.
		want := []string{"first", "x6", "p0", "y9", "p1", "x7", "p2", "x8", "p3", "p4"}
		if d := cmp.Diff(want, b.ids()); d != "" {
			t.Error(d)
		}
	})
}

func TestOneWhoGoesAwayWhileWaitingIsDropped(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := lineUp(t, watch(), reaching)
		ctx, cancel := context.WithCancel(t.Context())
		for i := range 20 {
			b.send(t.Context(), fmt.Sprint("c", i), one(fmt.Sprint("c", i)))
			b.send(ctx, fmt.Sprint("gone", i), func(uint64) ([]floor.Event, error) {
				t.Error("decided for somebody who had gone")
				return nil, nil
			})
		}
		cancel()
		synctest.Wait()
		out := b.run()
		for i := range 20 {
			if got := out[fmt.Sprint("gone", i)]; got != "cancelled" {
				t.Errorf("gone %d was told %q", i, got)
			}
		}
		if len(b.fold.Events) != 21 {
			t.Errorf("%d events, want 21", len(b.fold.Events))
		}
		if _, err := b.Do(ctx, one("late")); fault.KindOf(err) != fault.Cancelled {
			t.Errorf("a caller that had gone before: %v", err)
		}
	})
}
