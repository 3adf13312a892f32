package clock

import (
	"context"
	"fmt"
	"time"
)

// Actor is something that acts by itself: the keeper of the cure clocks, the
// gate of a booth. Step does all that is due at now and returns when it wants
// to be called next; the zero time means only when the journal moves on, a
// moment that is not after now means at once. Step is never called twice at a
// time, but often without need, and must then do nothing. What it does must
// be keyed by its cause, so that a step repeated after an error repeats no
// effect.
type Actor interface {
	Step(ctx context.Context, now time.Time) (next time.Time, err error)
}

// Func makes an actor of a function.
type Func func(ctx context.Context, now time.Time) (next time.Time, err error)

// Step calls the function.
func (f Func) Step(ctx context.Context, now time.Time) (time.Time, error) { return f(ctx, now) }

// named is an actor and what the log calls it.
type named struct {
	name  string
	actor Actor
}

// step calls an actor and turns its panic into an error: one that breaks
// must not take the others and the process with it.
func (n named) step(ctx context.Context, now time.Time) (next time.Time, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("panic: %v", p)
		}
	}()
	return n.actor.Step(ctx, now)
}
