package clock_test

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"testing"
	"testing/synctest"
	"time"

	"seamwright/services/clock"
)

// diary is an actor that writes down when it was called.
type diary struct {
	calls []time.Duration // since the first
	first time.Time
	step  func(n int, now time.Time) (time.Time, error)
}

func (d *diary) Step(_ context.Context, now time.Time) (time.Time, error) {
	if d.first.IsZero() {
		d.first = now
	}
	d.calls = append(d.calls, now.Sub(d.first))
	return d.step(len(d.calls), now)
}

func quiet() *slog.Logger { return slog.New(slog.NewTextHandler(io.Discard, nil)) }

// runFor runs a loop with one actor for a length of bubble time.
func runFor(t *testing.T, d *diary, length time.Duration, during func(*clock.Loop)) {
	t.Helper()
	l := clock.NewLoop(clock.Wall{}, quiet())
	l.Add("diary", d)
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { defer close(done); l.Run(ctx) }()
	synctest.Wait()
	during(l)
	time.Sleep(length) // bubble time: stands still for nobody
	cancel()
	<-done
}

func TestLoopCallsWhenAsked(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := &diary{step: func(n int, now time.Time) (time.Time, error) {
			return now.Add(time.Duration(n) * 10 * time.Second), nil
		}}
		runFor(t, d, 65*time.Second, func(*clock.Loop) {})
		want := []time.Duration{0, 10 * time.Second, 30 * time.Second, time.Minute}
		equal(t, d.calls, want)
	})
}

func TestLoopWakesByPokeAndAtLeastEveryMinute(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := &diary{step: func(int, time.Time) (time.Time, error) { return time.Time{}, nil }}
		runFor(t, d, 90*time.Second, func(l *clock.Loop) {
			time.Sleep(5 * time.Second)
			l.Poke()
			synctest.Wait()
		})
		equal(t, d.calls, []time.Duration{0, 5 * time.Second, 65 * time.Second})
	})
}

// An actor that must show that it lives is called when it wants to be, though
// its steps fail; one that wants to be called at once waits a tenth of a second,
// lest it take a core for itself.
func TestLoopKeepsToTheTimeOfAStepThatFailed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		broken := errors.New("store away")
		d := &diary{step: func(n int, now time.Time) (time.Time, error) {
			switch n {
			case 1:
				return now.Add(400 * time.Millisecond), broken
			case 2:
				return now.Add(-time.Second), broken
			case 3:
				return now.Add(time.Hour), broken
			}
			return time.Time{}, nil
		}}
		runFor(t, d, 5*time.Second, func(*clock.Loop) {})
		equal(t, d.calls, []time.Duration{0, 400 * time.Millisecond, 500 * time.Millisecond, 1500 * time.Millisecond})
	})
}

func TestLoopOutlivesErrorsAndPanics(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := &diary{step: func(n int, _ time.Time) (time.Time, error) {
			switch n {
			case 1:
				return time.Time{}, errors.New("store away")
			case 2:
				panic("broken")
			}
			return time.Time{}, nil
		}}
		runFor(t, d, 30*time.Second, func(*clock.Loop) {})
		equal(t, d.calls, []time.Duration{0, time.Second, 2 * time.Second})
	})
}

func TestLoopEndsWithItsContextWhileAnActorWaits(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := clock.NewLoop(clock.Wall{}, quiet())
		l.Add("blocked", clock.Func(func(ctx context.Context, _ time.Time) (time.Time, error) {
			<-ctx.Done()
			return time.Time{}, ctx.Err()
		}))
		ctx, cancel := context.WithTimeout(t.Context(), 3*time.Second)
		defer cancel()
		begun := time.Now()
		l.Run(ctx)
		if took := time.Since(begun); took != 3*time.Second {
			t.Errorf("Run ended after %s, want 3s", took)
		}
	})
}

func equal(t *testing.T, got, want []time.Duration) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("called at %v, want %v", got, want)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Fatalf("called at %v, want %v", got, want)
		}
	}
}
