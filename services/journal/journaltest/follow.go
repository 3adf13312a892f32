package journaltest

import (
	"context"
	"errors"
	"fmt"
	"testing"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/fault"
	"seamwright/services/journal"
)

// follower runs Follow and hands the records out one by one.
type follower struct {
	recs chan journal.Record
	err  chan error
}

func startFollow(ctx context.Context, j journal.Journal, from uint64) *follower {
	f := &follower{recs: make(chan journal.Record), err: make(chan error, 1)}
	go func() {
		f.err <- j.Follow(ctx, from, func(r journal.Record) error {
			select {
			case f.recs <- r:
				return nil
			case <-ctx.Done():
				return ctx.Err()
			}
		})
	}()
	return f
}

// want takes n records and checks that they are numbered from number from.
func (f *follower) want(t *testing.T, from uint64, n int) {
	t.Helper()
	for i := range n {
		select {
		case r := <-f.recs:
			if r.Seq != from+uint64(i) {
				t.Fatalf("record %d came where %d was due", r.Seq, from+uint64(i))
			}
		case err := <-f.err:
			t.Fatalf("the follower ended before record %d: %v", from+uint64(i), err)
		}
	}
}

func follow(t *testing.T, h *Harness) {
	j := h.Open(t)
	fill(t, j, 5)
	ctx := limit(t)
	f, late := startFollow(ctx, j, 1), startFollow(ctx, h.Open(t), 8)
	f.want(t, 1, 5)
	fill(t, j, 4)
	f.want(t, 6, 4)
	late.want(t, 8, 2)
}

func followEnds(t *testing.T, h *Harness) {
	j := h.Open(t)
	fill(t, j, 3)
	own := errors.New("enough")
	seen := 0
	err := j.Follow(limit(t), 2, func(journal.Record) error { seen++; return own })
	if !errors.Is(err, own) || seen != 1 {
		t.Errorf("function: %v after %d calls, want its own error after 1", err, seen)
	}
	if err := j.Read(limit(t), 1, journal.End, func(journal.Record) error { return own }); !errors.Is(err, own) {
		t.Errorf("read: %v, want the function's error", err)
	}
	ctx, cancel := context.WithCancel(limit(t))
	f := startFollow(ctx, j, 1)
	f.want(t, 1, 3)
	cancel()
	if err := <-f.err; !errors.Is(err, context.Canceled) {
		t.Errorf("context: %v", err)
	}
	f = startFollow(limit(t), j, 1)
	f.want(t, 1, 3)
	if err := j.Close(); err != nil {
		t.Error(err)
	}
	if err := <-f.err; !fault.Is(err, journal.ReasonClosed) {
		t.Errorf("follow after close: %v", err)
	}
	if _, err := j.Append(limit(t), 3, Record(t, "late", 1)); !fault.Is(err, journal.ReasonClosed) {
		t.Errorf("append after close: %v", err)
	}
	if _, err := j.Last(limit(t)); !fault.Is(err, journal.ReasonClosed) {
		t.Errorf("last after close: %v", err)
	}
}

func readerDies(t *testing.T, h *Harness) {
	if h.KillReaders == nil {
		t.Skip("readers have no state that could die")
	}
	j := h.Open(t)
	fill(t, j, 3)
	f := startFollow(limit(t), j, 1)
	f.want(t, 1, 3)
	for round := range 3 {
		if n := h.KillReaders(t); n == 0 {
			t.Fatalf("round %d: there was no reader to kill", round)
		}
		at := uint64(3 + 4*round)
		fill(t, j, 4)
		f.want(t, at+1, 4)
	}
}

func gap(t *testing.T, h *Harness) {
	if h.Lose == nil {
		t.Skip("a record cannot be lost alone")
	}
	for _, c := range []struct{ from, lost uint64 }{{1, 4}, {4, 4}} {
		t.Run(fmt.Sprintf("from %d", c.from), func(t *testing.T) {
			if last, _ := h.Open(t).Last(limit(t)); last == 0 {
				fill(t, h.Open(t), 9)
				h.Lose(t, c.lost, 9)
			}
			for name, read := range map[string]func(j journal.Journal, fn func(journal.Record) error) error{
				"follow": func(j journal.Journal, fn func(journal.Record) error) error {
					return j.Follow(limit(t), c.from, fn)
				},
				"read": func(j journal.Journal, fn func(journal.Record) error) error {
					return j.Read(limit(t), c.from, 8, fn)
				},
			} {
				var seen []uint64
				err := read(h.Open(t), func(r journal.Record) error { seen = append(seen, r.Seq); return nil })
				if g, ok := errors.AsType[*journal.GapError](err); !ok || g.Want != c.lost || g.Got != c.lost+1 {
					t.Errorf("%s: %v, want that record 4 is missing and 5 is next", name, err)
				}
				if fault.KindOf(err) != fault.Corrupt {
					t.Errorf("%s: kind %v, want corrupt", name, fault.KindOf(err))
				}
				if n := uint64(len(seen)); n != c.lost-c.from {
					t.Errorf("%s: %v was handed over before the gap", name, seen)
				}
			}
		})
	}
}

func reopen(t *testing.T, h *Harness) {
	if h.Restart == nil {
		t.Skip("there is no disk to open again")
	}
	fill(t, h.Open(t), 5)
	if _, err := h.Open(t).Append(limit(t), 5, Record(t, "b1", 1), Record(t, "b2", 2)); err != nil {
		t.Fatal(err)
	}
	before := all(t, h.Open(t))
	h.Restart(t)
	j := h.Open(t)
	if d := cmp.Diff(before, all(t, j)); d != "" {
		t.Fatalf("after the restart (-before +after):\n%s", d)
	}
	_, err := j.Append(limit(t), 7, Record(t, "b1", 1))
	if e, ok := errors.AsType[*journal.TakenError](err); !ok || e.Seq != 6 {
		t.Errorf("known id after the restart: %v, want taken at 6", err)
	}
	fill(t, j, 2)
	if last, err := j.Last(limit(t)); last != 9 || err != nil {
		t.Errorf("last %d, %v, want 9", last, err)
	}
}
