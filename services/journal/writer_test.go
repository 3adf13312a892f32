package journal_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/journal"
	"seamwright/services/journal/journaltest"
	"seamwright/services/journal/memory"
)

func one(id string) journal.Decide {
	return func(seq uint64) ([]floor.Event, error) {
		return []floor.Event{journaltest.Event(id, int(seq))}, nil
	}
}

func setUp() (*memory.Journal, *journaltest.Fold, *journal.Writer) {
	j := memory.New(memory.Options{})
	f := journaltest.NewFold()
	return j, f, journal.NewWriter(j, f)
}

// follower runs inside a synctest bubble and ends with it.
func follower(t *testing.T, w *journal.Writer) (stop func()) {
	ctx, cancel := context.WithCancel(t.Context())
	go func() { _ = w.Run(ctx) }()
	return func() { cancel(); synctest.Wait() }
}

func TestDoAppliesItsOwnEventAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		_, f, w := setUp()
		defer follower(t, w)()
		for i := range uint64(5) {
			seq, err := w.Do(t.Context(), one(fmt.Sprint("c", i)))
			if seq != i+1 || err != nil || f.Seq() != i+1 {
				t.Fatalf("do: %d, %v; fold at %d", seq, err, f.Seq())
			}
		}
		synctest.Wait() // the follower has read them all, and applied none twice
		if d := cmp.Diff([]string{"c0/0", "c1/1", "c2/2", "c3/3", "c4/4"}, f.Texts()); d != "" {
			t.Error(d)
		}
	})
}

// The live fold and one that is rebuilt from the journal are given the very
// same events, though the moments were local and carried a running clock.
func TestLiveFoldAndReplayAreAlike(t *testing.T) {
	j, live, w := setUp()
	for i := range 20 {
		if _, err := w.Do(t.Context(), func(uint64) ([]floor.Event, error) {
			e := journaltest.Event(fmt.Sprint("c", i), i)
			e.Received = time.Now().In(time.FixedZone("there", 7200))
			return []floor.Event{e}, nil
		}); err != nil {
			t.Fatal(err)
		}
	}
	replay := journaltest.NewFold()
	if err := journal.NewWriter(j, replay).Step(t.Context()); err != nil {
		t.Fatal(err)
	}
	for i := range live.Events {
		if l, r := fmt.Sprintf("%#v", live.Events[i].Header), fmt.Sprintf("%#v", replay.Events[i].Header); l != r {
			t.Errorf("event %d:\nlive   %s\nreplay %s", i+1, l, r)
		}
	}
}

func TestConflictDecidesAgainOnTheNewestEvent(t *testing.T) {
	for _, following := range []bool{false, true} {
		synctest.Test(t, func(t *testing.T) {
			j, f, w := setUp()
			if following {
				defer follower(t, w)()
			}
			var decidedAt []uint64
			seq, err := w.Do(t.Context(), func(seq uint64) ([]floor.Event, error) {
				decidedAt = append(decidedAt, seq)
				if len(decidedAt) <= 2 { // another process is first, twice
					if _, err := j.Append(t.Context(), seq, journaltest.Record(t, fmt.Sprint("other", seq), 0)); err != nil {
						t.Error(err)
					}
				}
				return one("mine")(seq)
			})
			if seq != 3 || err != nil || f.Seq() != 3 {
				t.Errorf("do: %d, %v; fold at %d", seq, err, f.Seq())
			}
			if d := cmp.Diff([]uint64{0, 1, 2}, decidedAt); d != "" {
				t.Errorf("decided at:\n%s", d)
			}
		})
	}
}

func TestAlwaysSecondGivesUp(t *testing.T) {
	j, _, w := setUp()
	tries := 0
	_, err := w.Do(t.Context(), func(seq uint64) ([]floor.Event, error) {
		tries++
		if _, err := j.Append(t.Context(), seq, journaltest.Record(t, fmt.Sprint("other", seq), 0)); err != nil {
			t.Error(err)
		}
		return one("mine")(seq)
	})
	if !fault.Is(err, "journal-busy") || fault.KindOf(err) != fault.Unavailable || tries != 30 {
		t.Errorf("after %d tries: %v", tries, err)
	}
}

func TestSameCommandTakesEffectOnce(t *testing.T) {
	j, _, w := setUp()
	if _, err := w.Do(t.Context(), one("a")); err != nil {
		t.Fatal(err)
	}
	if _, err := w.Do(t.Context(), one("b")); err != nil {
		t.Fatal(err)
	}
	if seq, err := w.Do(t.Context(), one("a")); seq != 1 || err != nil {
		t.Errorf("again: %d, %v, want 1", seq, err)
	}
	both := func(uint64) ([]floor.Event, error) {
		return []floor.Event{journaltest.Event("a", 1), journaltest.Event("b", 2)}, nil
	}
	if seq, err := w.Do(t.Context(), both); seq != 2 || err != nil {
		t.Errorf("a batch of known ones: %d, %v, want 2", seq, err)
	}
	half := func(uint64) ([]floor.Event, error) {
		return []floor.Event{journaltest.Event("a", 1), journaltest.Event("new", 2)}, nil
	}
	if _, err := w.Do(t.Context(), half); fault.KindOf(err) != fault.Exists {
		t.Errorf("a batch with a known one: %v", err)
	}
	if last, _ := j.Last(t.Context()); last != 2 {
		t.Errorf("the journal ends at %d, want 2", last)
	}
}

func TestDecisionWithoutEvents(t *testing.T) {
	j, _, w := setUp()
	if _, err := w.Do(t.Context(), one("a")); err != nil {
		t.Fatal(err)
	}
	if seq, err := w.Do(t.Context(), func(uint64) ([]floor.Event, error) { return nil, nil }); seq != 1 || err != nil {
		t.Errorf("nothing to record: %d, %v, want 1", seq, err)
	}
	own := errors.New("may not")
	if seq, err := w.Do(t.Context(), func(uint64) ([]floor.Event, error) { return nil, own }); seq != 1 || !errors.Is(err, own) {
		t.Errorf("refusal: %d, %v", seq, err)
	}
	bad := func(uint64) ([]floor.Event, error) { return []floor.Event{{}}, nil }
	if _, err := w.Do(t.Context(), bad); fault.KindOf(err) != fault.Invalid {
		t.Errorf("ill-formed event: %v", err)
	}
	if last, _ := j.Last(t.Context()); last != 1 {
		t.Errorf("the journal ends at %d, want 1", last)
	}
}

func TestFoldThatFailsOrPanicsStopsForGood(t *testing.T) {
	for name, fail := range map[string]func(floor.Event) error{
		"error": func(floor.Event) error { return errors.New("volume below zero") },
		"panic": func(floor.Event) error { panic("volume below zero") },
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				j, f, w := setUp()
				defer follower(t, w)()
				f.Fail = func(e floor.Event) error {
					if e.CommandID == "bad" {
						return fail(e)
					}
					return nil
				}
				if _, err := w.Do(t.Context(), one("good")); err != nil {
					t.Fatal(err)
				}
				if err := w.Healthy(); err != nil {
					t.Fatal(err)
				}
				seq, err := w.Do(t.Context(), one("bad"))
				if seq != 2 || !fault.Is(err, journal.ReasonStopped) {
					t.Errorf("the event is stored as 2, the fold stopped: %d, %v", seq, err)
				}
				for what, err := range map[string]error{"healthy": w.Healthy(), "wait": w.WaitFor(t.Context(), 2), "step": w.Step(t.Context())} {
					if fault.KindOf(err) != fault.Unavailable || !strings.Contains(err.Error(), "record 2") || !strings.Contains(err.Error(), "volume below zero") {
						t.Errorf("%s: %v", what, err)
					}
				}
				if _, err := w.Do(t.Context(), one("later")); !fault.Is(err, journal.ReasonStopped) {
					t.Errorf("do: %v", err)
				}
				if last, _ := j.Last(t.Context()); last != 2 {
					t.Errorf("the journal ends at %d, want 2", last)
				}
			})
		})
	}
}

func TestGapStopsTheFold(t *testing.T) {
	for _, stepped := range []bool{true, false} {
		synctest.Test(t, func(t *testing.T) {
			j, f, w := setUp()
			other := journal.NewWriter(j, journaltest.NewFold())
			for i := range 4 {
				if _, err := other.Do(t.Context(), one(fmt.Sprint("c", i))); err != nil {
					t.Fatal(err)
				}
			}
			j.Lose(3)
			if stepped {
				_ = w.Step(t.Context())
			} else {
				defer follower(t, w)()
				synctest.Wait()
			}
			if err := w.Healthy(); !fault.Is(err, journal.ReasonStopped) || !strings.Contains(err.Error(), "record 3") || f.Seq() != 2 {
				t.Errorf("fold at %d, healthy: %v", f.Seq(), err)
			}
		})
	}
}

func TestWaitFor(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		_, _, w := setUp()
		stop := follower(t, w)
		came := make(chan error, 1)
		go func() { came <- w.WaitFor(t.Context(), 2) }()
		if _, err := w.Do(t.Context(), one("a")); err != nil {
			t.Fatal(err)
		}
		synctest.Wait()
		select {
		case err := <-came:
			t.Fatalf("came back before the event: %v", err)
		default:
		}
		if _, err := w.Do(t.Context(), one("b")); err != nil {
			t.Fatal(err)
		}
		if err := <-came; err != nil {
			t.Error(err)
		}
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		if err := w.WaitFor(ctx, 9); !fault.Is(err, journal.ReasonBehind) || fault.KindOf(err) != fault.Unavailable {
			t.Errorf("an event that never comes: %v", err)
		}
		stop()
		if err := w.Healthy(); !fault.Is(err, journal.ReasonEnded) {
			t.Errorf("healthy after the follower ended: %v", err)
		}
	})
}

func TestCommandsRunOneAtATimeInOrder(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		_, f, w := setUp()
		gate := make(chan struct{})
		first := func(seq uint64) ([]floor.Event, error) { <-gate; return one("first")(seq) }
		ended := make(chan error, 3)
		go func() { _, err := w.Do(t.Context(), first); ended <- err }()
		synctest.Wait()
		for _, id := range []string{"second", "third"} {
			go func() { _, err := w.Do(t.Context(), one(id)); ended <- err }()
			synctest.Wait()
		}
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		if _, err := w.Do(ctx, one("gone")); fault.KindOf(err) != fault.Cancelled {
			t.Errorf("a caller that went away: %v", err)
		}
		close(gate)
		for range 3 {
			if err := <-ended; err != nil {
				t.Error(err)
			}
		}
		if d := cmp.Diff([]string{"first/0", "second/1", "third/2"}, f.Texts()); d != "" {
			t.Error(d)
		}
	})
}

// The answer of the journal is lost: the caller is told that the outcome is
// open, and the same command finds it out, whether it was stored or not.
func TestUnknownOutcomeIsFoundOutByTheSameCommand(t *testing.T) {
	for _, kept := range []bool{true, false} {
		j, f, _ := setUp()
		w := journal.NewWriter(&lossy{Journal: j, keep: kept}, f)
		if _, err := w.Do(t.Context(), one("a")); !fault.Is(err, journal.ReasonUnknown) {
			t.Fatalf("lost answer: %v", err)
		}
		if seq, err := w.Do(t.Context(), one("a")); seq != 1 || err != nil {
			t.Errorf("kept %v: the same command: %d, %v, want 1", kept, seq, err)
		}
		if seq, err := w.Do(t.Context(), one("b")); seq != 2 || err != nil {
			t.Errorf("kept %v: the next command: %d, %v, want 2", kept, seq, err)
		}
		if d := cmp.Diff([]string{"a/0", "b/1"}, f.Texts()); d != "" {
			t.Error(d)
		}
	}
}

// lossy loses the answer to its first append, which was stored or not.
type lossy struct {
	journal.Journal
	keep, done bool
}

func (l *lossy) Append(ctx context.Context, expect uint64, recs ...journal.Record) (uint64, error) {
	if l.done {
		return l.Journal.Append(ctx, expect, recs...)
	}
	l.done = true
	if l.keep {
		if _, err := l.Journal.Append(ctx, expect, recs...); err != nil {
			return 0, err
		}
	}
	return 0, journal.Unsure(expect, errors.New("no answer"))
}
