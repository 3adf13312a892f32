package health_test

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
	"seamwright/services/clock"

	"seamwright/services/fault"
	"seamwright/services/health"
)

func quiet() *slog.Logger { return slog.New(slog.NewTextHandler(io.Discard, nil)) }

func reasons(m *health.Monitor) (out []string) {
	for _, t := range m.Troubles() {
		out = append(out, fault.ReasonOf(t))
	}
	return out
}

// run runs a monitor until the test's bubble ends, and returns when it is
// ready.
func run(t *testing.T, m *health.Monitor) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	done, ready := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(done)
		m.Run(ctx, func() { close(ready) })
	}()
	t.Cleanup(func() { cancel(); <-done })
	<-ready
}

func TestAMonitorTellsWhatItSawLast(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var trouble atomic.Pointer[fault.Error]
		var told atomic.Int64
		m := health.New(health.Options{Log: quiet(), Changed: func() { told.Add(1) }})
		m.Add(health.Check{Name: "late", What: "it", Every: time.Second, Within: 2 * time.Second, Look: func(context.Context) error {
			if f := trouble.Load(); f != nil {
				return f
			}
			return nil
		}})
		if got := reasons(m); !slices.Equal(got, []string{"late"}) || m.Healthy() == nil {
			t.Errorf("before it has looked: %v", got)
		}
		run(t, m)
		if err := m.Healthy(); err != nil {
			t.Errorf("sound: %v", err)
		}
		trouble.Store(fault.New(fault.Unavailable, "disk-full", "no room", ""))
		before := told.Load()
		time.Sleep(time.Second)
		synctest.Wait()
		if got := reasons(m); !slices.Equal(got, []string{"disk-full"}) || told.Load() != before+1 {
			t.Errorf("a second after it broke: %v, told %d times", got, told.Load()-before)
		}
		if !fault.Is(m.Healthy(), "disk-full") {
			t.Errorf("%v", m.Healthy())
		}
		trouble.Store(nil)
		time.Sleep(time.Second)
		synctest.Wait()
		if err := m.Healthy(); err != nil || told.Load() != before+2 {
			t.Errorf("mended: %v, told %d times", err, told.Load()-before)
		}
	})
}

// A look that hangs, and one that panics, are troubles by the check's name,
// and hold up no other check.
func TestALookThatHangsOrPanicsIsTrouble(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		hang := make(chan struct{})
		var hangs, panics atomic.Bool
		m := health.New(health.Options{Log: quiet()})
		m.Add(health.Check{Name: "hangs", What: "one", Every: time.Second, Within: 2 * time.Second, Look: func(context.Context) error {
			if hangs.Load() {
				<-hang
			}
			return nil
		}})
		m.Add(health.Check{Name: "panics", What: "another", Every: time.Second, Within: 2 * time.Second, Look: func(context.Context) error {
			if panics.Load() {
				panic("broken")
			}
			return nil
		}})
		run(t, m)
		hangs.Store(true)
		time.Sleep(4 * time.Second)
		if got := reasons(m); !slices.Equal(got, []string{"hangs"}) {
			t.Errorf("with one that hangs: %v", got)
		}
		panics.Store(true)
		time.Sleep(time.Second + time.Millisecond)
		if got := reasons(m); !slices.Equal(got, []string{"hangs", "panics"}) {
			t.Errorf("with one that panics too: %v", got)
		}
		hangs.Store(false)
		panics.Store(false)
		close(hang)
		time.Sleep(2 * time.Second)
		if got := reasons(m); got != nil {
			t.Errorf("mended: %v", got)
		}
	})
}

// A start waits for the first answers, but not for ever.
func TestAStartWaitsForTheFirstAnswers(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		end := make(chan struct{})
		m := health.New(health.Options{Log: quiet()})
		m.Add(health.Check{Name: "slow", What: "it", Every: time.Second, Within: 2 * time.Second, Look: func(context.Context) error {
			<-end
			return nil
		}})
		begun := time.Now()
		run(t, m)
		if took := time.Since(begun); took != 2*time.Second || !slices.Equal(reasons(m), []string{"slow"}) {
			t.Errorf("ready after %s with %v", took, reasons(m))
		}
		close(end)
	})
}

func TestAnActorIsWatched(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var folded atomic.Uint64
		fail, breaks := errors.New("no"), false
		var err error
		a := &health.Actor{
			Name: "keeper-stopped", What: "the keeper", Folded: folded.Load, Running: health.Running(),
			Actor: clock.Func(func(context.Context, time.Time) (time.Time, error) {
				if breaks {
					panic("broken")
				}
				return time.Time{}, err
			}),
		}
		step := func() {
			defer func() { _ = recover() }()
			_, _ = a.Step(t.Context(), time.Now())
		}
		check := func(when string, sound bool) {
			t.Helper()
			if got := a.Look(t.Context()); (got == nil) != sound || !sound && !fault.Is(got, "keeper-stopped") {
				t.Errorf("%s: %v", when, got)
			}
		}
		step()
		check("at the start", true)
		folded.Store(9)
		check("an event has just come", true)
		time.Sleep(health.StepWithin + time.Millisecond)
		check("and nobody has taken it in", false)
		step()
		check("taken in", true)
		err = fail
		step()
		check("a step fails", false)
		err = nil
		step()
		check("and succeeds again", true)
		breaks = true
		step()
		check("a step panics", false)
		breaks = false
		a.Halt(true)
		step()
		check("halted for an exercise", false)
		a.Halt(false)
		step()
		check("after the exercise", true)
	})
}

// A start at which every check answers in time says nothing; one that is late
// is told once, and once that it answers.
func TestTheLogIsTroubledForTroubleOnly(t *testing.T) {
	for _, c := range []struct {
		late time.Duration
		want []string
	}{
		{time.Second, nil},
		{4 * time.Second, []string{"WARN the process cannot be trusted: the gate holds slow", "INFO the process can be trusted again slow"}},
	} {
		synctest.Test(t, func(t *testing.T) {
			var lines lines
			m := health.New(health.Options{Log: slog.New(&lines)})
			begun := time.Now()
			m.Add(health.Check{Name: "quick", What: "one", Every: time.Second, Within: 2 * time.Second, Look: func(context.Context) error { return nil }})
			m.Add(health.Check{Name: "slow", What: "another", Every: time.Second, Within: 2 * time.Second, Look: func(context.Context) error {
				time.Sleep(c.late - time.Since(begun))
				return nil
			}})
			run(t, m)
			time.Sleep(10 * time.Second)
			if d := cmp.Diff(c.want, lines.all()); d != "" {
				t.Errorf("an answer after %s (-want +got):\n%s", c.late, d)
			}
		})
	}
}

// lines is a log that keeps its lines, with the names of troubles.
type lines struct {
	mu   sync.Mutex
	said []string
}

func (l *lines) all() []string { l.mu.Lock(); defer l.mu.Unlock(); return slices.Clone(l.said) }

func (l *lines) Enabled(context.Context, slog.Level) bool { return true }
func (l *lines) WithAttrs([]slog.Attr) slog.Handler       { return l }
func (l *lines) WithGroup(string) slog.Handler            { return l }

func (l *lines) Handle(_ context.Context, r slog.Record) error {
	line := r.Level.String() + " " + r.Message
	r.Attrs(func(a slog.Attr) bool {
		if a.Key == "troubles" {
			line += " " + a.Value.String()
		}
		return true
	})
	l.mu.Lock()
	defer l.mu.Unlock()
	l.said = append(l.said, line)
	return nil
}
