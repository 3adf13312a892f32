package clock

import (
	"context"
	"log/slog"
	"sync"
	"time"
)

// How a Loop waits.
const (
	// retryAfter is the longest pause after a step that failed.
	retryAfter = time.Second
	// retrySoonest is the shortest one: an actor that fails and says "at once"
	// does not take a core for itself.
	retrySoonest = 100 * time.Millisecond
	// longest is the longest wait: a machine whose time of day was set, or
	// that slept, is noticed after it.
	longest = time.Minute
)

// Loop steps actors on a clock that runs by itself, each in a goroutine of
// its own, so that a slow one holds up nobody.
type Loop struct {
	clock  Clock
	log    *slog.Logger
	actors []looped
}

type looped struct {
	named
	poke chan struct{}
}

// NewLoop makes a loop without actors; nil for log means slog.Default.
func NewLoop(c Clock, log *slog.Logger) *Loop {
	if log == nil {
		log = slog.Default()
	}
	return &Loop{clock: c, log: log}
}

// Add puts an actor in. Call it before Run.
func (l *Loop) Add(name string, a Actor) {
	l.actors = append(l.actors, looped{named{name, a}, make(chan struct{}, 1)})
}

// Poke wakes every actor: the journal moved on, or something else happened
// that no timer knows of. It never blocks; pokes that come while an actor
// works are one.
func (l *Loop) Poke() {
	for _, a := range l.actors {
		select {
		case a.poke <- struct{}{}:
		default:
		}
	}
}

// Run steps the actors until the context ends, and returns when none of them
// works any more. A step that fails or panics is logged and repeated a second
// later, or sooner where the actor says so: one that shows that it lives does
// not fall silent because it fails.
func (l *Loop) Run(ctx context.Context) {
	var all sync.WaitGroup
	for _, a := range l.actors {
		all.Go(func() { l.run(ctx, a) })
	}
	all.Wait()
}

func (l *Loop) run(ctx context.Context, a looped) {
	timer := time.NewTimer(0)
	defer timer.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-timer.C:
		case <-a.poke:
		}
		if ctx.Err() != nil { // a select with several ready takes any
			return
		}
		timer.Reset(l.step(ctx, a.named))
	}
}

// step steps one actor and returns how long to wait for the next time.
func (l *Loop) step(ctx context.Context, n named) time.Duration {
	next, err := n.step(ctx, l.clock.Now())
	if err != nil {
		again := retryAfter
		if !next.IsZero() {
			again = min(again, max(l.until(next), retrySoonest))
		}
		if ctx.Err() == nil {
			l.log.ErrorContext(ctx, "step failed", "actor", n.name, "err", err, "again_in", again)
		}
		return again
	}
	if next.IsZero() {
		return longest
	}
	return min(l.until(next), longest)
}

// until is how long it is to a moment; nothing when it has passed.
func (l *Loop) until(next time.Time) time.Duration { return max(next.Sub(l.clock.Now()), 0) }
