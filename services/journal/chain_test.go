package journal_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"
	"testing/synctest"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/fault"
	"seamwright/services/journal"
	"seamwright/services/journal/journaltest"
)

// sending is a journal that sends ahead: it takes all that may follow before it
// stores the first one, and says how many it took each time.
type sending struct {
	*watched
	took  []int
	fails func(ctx context.Context, at uint64, r journal.Record) error // before a record is stored, when set
	onWay func()                                                       // all were taken, when set
}

func (a *sending) Chain(ctx context.Context, expect uint64, next func() (journal.Record, bool), stored func()) (n int, err error) {
	var recs []journal.Record
	for {
		had := len(recs)
		for r, ok := next(); ok; r, ok = next() {
			recs = append(recs, r)
		}
		if len(recs) > had {
			a.took = append(a.took, len(recs)-had)
		}
		if n == len(recs) {
			return n, nil
		}
		if a.onWay != nil {
			a.onWay()
		}
		if a.fails != nil {
			if err := a.fails(ctx, expect+uint64(n), recs[n]); err != nil {
				return n, err
			}
		}
		if _, err := a.Journal.Append(ctx, expect+uint64(n), recs[n]); err != nil {
			return n, err
		}
		stored()
		n++
	}
}

// lineUpAhead is lineUp before a journal that sends ahead.
func lineUpAhead(t *testing.T) (*bench, *sending) {
	j := &sending{watched: watch()}
	f := journaltest.NewFold()
	b := &bench{Writer: journal.NewWriter(j, f), t: t, fold: f, let: make(chan struct{}), ended: make(chan string, 1000)}
	j.hold = b.let
	b.send(t.Context(), "first", one("first"))
	return b, j
}

// A few that do not meet are sent one behind the other, up to a limit; where
// very many wait a batch pays better.
func TestAFewAreSentAhead(t *testing.T) {
	for n, want := range map[int][]int{1: nil, 8: {8}, 20: {16, 4}, 30: nil} {
		synctest.Test(t, func(t *testing.T) {
			b, j := lineUpAhead(t)
			b.many(n)
			out := b.run()
			if n == 1 {
				want = nil // nobody is there to go with
			}
			if d := cmp.Diff(want, j.took); d != "" {
				t.Errorf("%d: %s", n, d)
			}
			for i := range n {
				id := fmt.Sprint("c", i)
				if at, ok := b.fold.Taken(id); !ok || out[id] != fmt.Sprint(at) || at != uint64(i)+2 {
					t.Errorf("%s was told %s, the fold says %d", id, out[id], at)
				}
			}
		})
	}
}

// While some are on their way others may follow, but only as long as some
// are: who leads is not kept for those who come later.
func TestOthersFollowWhileSomeAreOnTheirWay(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, j := lineUpAhead(t)
		b.many(3)
		late := 0
		j.onWay = func() {
			if late++; late <= 2 {
				b.meanwhile(t.Context(), fmt.Sprint("late", late), about(fmt.Sprint("seam.late", late), fmt.Sprint("late", late)))
			}
		}
		b.run()
		for range 2 { // that were sent meanwhile
			<-b.ended
		}
		if d := cmp.Diff([]int{3, 1, 1}, j.took); d != "" {
			t.Error(d)
		}
		for _, e := range b.fold.Events[1:] { // each was told the number that it came to stand behind
			if s := b.fold.Texts()[e.Seq-1]; s != fmt.Sprintf("%s/%d", e.CommandID, e.Seq-1) {
				t.Errorf("event %d is %s", e.Seq, s)
			}
		}
	})
}

// One that depends on another that is on its way is decided when that is
// folded, in the order in which they came.
func TestWhatDependsWaitsForAChain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, j := lineUpAhead(t)
		for _, id := range []string{"x1", "x2", "x3"} {
			b.send(journal.WithCaller(t.Context(), id), id, about("seam.x", id))
		}
		b.many(4)
		b.run()
		var order []string
		for _, e := range b.fold.Events {
			if e.Aggregate == "seam.x" {
				order = append(order, fmt.Sprintf("%s behind %d", b.fold.Texts()[e.Seq-1], e.Seq-1))
			}
		}
		if d := cmp.Diff([]string{"x1/1 behind 1", "x2/6 behind 6", "x3/7 behind 7"}, order); d != "" {
			t.Error(d)
		}
		if j.took[0] != 5 {
			t.Errorf("took %v", j.took)
		}
	})
}

// Nobody comes before a command of which nothing is known and that stands
// before it, be it that others are on their way for longer.
func TestNobodyOvertakesWhatEndsAChain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, j := lineUpAhead(t)
		b.many(2)
		b.send(t.Context(), "alone", about("all.of-it", "alone"))
		b.send(t.Context(), "behind", about("seam.behind", "behind"))
		b.run()
		if d := cmp.Diff([]string{"first", "c0", "c1", "alone", "behind"}, b.ids()); d != "" {
			t.Errorf("%s; took %v", d, j.took)
		}
	})
}

// An urgent command ends a chain: it waits for what is on its way only.
func TestAnUrgentCommandEndsAChain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, j := lineUpAhead(t)
		b.many(4)
		once := false
		j.onWay = func() {
			if !once {
				once = true
				b.meanwhile(journal.Urgent(t.Context()), "permit", about("booth.1", "permit"))
				b.meanwhile(t.Context(), "late", about("seam.late", "late"))
			}
		}
		b.run()
		for range 2 {
			<-b.ended
		}
		if d := cmp.Diff([]string{"first", "c0", "c1", "c2", "c3", "permit", "late"}, b.ids()); d != "" {
			t.Error(d)
		}
	})
}

// A chain breaks in the middle: what is stored is answered so, the others as
// the trouble is.
func TestAChainThatBreaks(t *testing.T) {
	for name, c := range map[string]struct {
		trouble func(t *testing.T, j *sending, ctx context.Context, at uint64) error
		want    map[string]string
	}{
		"another process was first": {
			func(t *testing.T, j *sending, ctx context.Context, at uint64) error {
				if _, err := j.Journal.Append(ctx, at, journaltest.Record(t, "other", 1)); err != nil {
					t.Error(err)
				}
				return &journal.ConflictError{Expect: at, Last: at + 1}
			},
			map[string]string{"c0": "2", "c1": "3", "c2": "5", "c3": "6", "c4": "7"},
		},
		"the journal knows the id": {
			func(*testing.T, *sending, context.Context, uint64) error {
				return &journal.TakenError{ID: "c2", Seq: 1}
			},
			map[string]string{"c0": "2", "c1": "3", "c2": "1", "c3": "4", "c4": "5"},
		},
		"no answer": {
			func(_ *testing.T, _ *sending, _ context.Context, at uint64) error {
				return journal.Unsure(at, errors.New("the line is dead"))
			},
			map[string]string{"c0": "2", "c1": "3", "c2": journal.ReasonUnknown, "c3": journal.ReasonUnknown, "c4": journal.ReasonUnknown},
		},
		"a panic": {
			func(*testing.T, *sending, context.Context, uint64) error { panic("torn page") },
			map[string]string{"c0": "2", "c1": "3", "c2": journal.ReasonUnknown, "c3": journal.ReasonUnknown, "c4": journal.ReasonUnknown},
		},
		"refused": {
			func(*testing.T, *sending, context.Context, uint64) error {
				return fault.New(fault.Unavailable, "disk-full", "the disk is full", "")
			},
			map[string]string{"c0": "2", "c1": "3", "c2": "4", "c3": "5", "c4": "6"}, // each by itself, when there is room again
		},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				b, j := lineUpAhead(t)
				defer follower(t, b.Writer)()
				b.many(5)
				broken := false
				j.fails = func(ctx context.Context, at uint64, r journal.Record) error {
					if broken || r.ID != "c2" {
						return nil
					}
					broken = true
					return c.trouble(t, j, ctx, at)
				}
				out := b.run()
				delete(out, "first")
				if d := cmp.Diff(c.want, out); d != "" {
					t.Error(d)
				}
				for i, e := range b.fold.Events {
					if s := b.fold.Texts()[i]; e.Aggregate != "" && e.CommandID[0] == 'c' && s != fmt.Sprintf("%s/%d", e.CommandID, e.Seq-1) {
						t.Errorf("event %d is %s", e.Seq, s)
					}
				}
			})
		})
	}
}

// Who leads a chain is answered when its own event is stored, not at the
// chain's end.
func TestWhoLeadsAChainIsNotKept(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, j := lineUpAhead(t)
		b.many(6)
		told := make(chan struct{})
		j.fails = func(_ context.Context, _ uint64, r journal.Record) error {
			if r.ID == "c5" {
				<-told
			}
			return nil
		}
		close(b.let)
		var got []string
		for range 6 {
			got = append(got, <-b.ended)
		}
		slices.Sort(got)
		if d := cmp.Diff([]string{"c0 2", "c1 3", "c2 4", "c3 5", "c4 6", "first 1"}, got); d != "" {
			t.Error(d)
		}
		close(told)
		<-b.ended
	})
}
