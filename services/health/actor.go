package health

import (
	"context"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"seamwright/services/clock"
	"seamwright/services/fault"
)

// StepWithin is how long an actor may take to come to the number that the
// fold stands at.
const StepWithin = 1500 * time.Millisecond

// Actor is an actor that is watched: whether its steps succeed, and whether
// it comes to where the fold stands.
type Actor struct {
	Name    string        // the trouble
	What    string        // who it is, for people: "the keeper of the cure clocks"
	Actor   clock.Actor   // who steps
	Folded  func() uint64 // the fold's number
	Running func() time.Duration

	halted atomic.Bool

	mu   sync.Mutex
	lag  Lag
	done uint64 // the fold's number before the last step that succeeded
	err  error  // of the last step
}

var _ clock.Actor = (*Actor)(nil)

// Step is a step of the actor.
func (a *Actor) Step(ctx context.Context, now time.Time) (next time.Time, err error) {
	at := a.Folded()
	failed := true // a panic is one, and goes on to whoever steps
	defer func() {
		a.mu.Lock()
		defer a.mu.Unlock()
		switch {
		case failed:
			a.err = fmt.Errorf("its last step panicked")
		case err != nil && ctx.Err() != nil: // it was told to end
		case err != nil:
			a.err = err
		default:
			a.err, a.done = nil, max(a.done, at)
		}
	}()
	if a.halted.Load() {
		failed = false
		return time.Time{}, fault.New(fault.Unavailable, "exercise", "it was halted for an exercise", "end the exercise")
	}
	next, err = a.Actor.Step(ctx, now)
	failed = false
	return next, err
}

// Halt makes every step fail, or ends that. It is for exercises.
func (a *Actor) Halt(on bool) { a.halted.Store(on) }

// Check is the check, for a Monitor.
func (a *Actor) Check() Check {
	return Check{
		Name: a.Name, What: a.What, Hint: "start the program again if it does not come back",
		Every: 250 * time.Millisecond, Within: 2 * time.Second, Look: a.Look,
	}
}

// Look judges the actor.
func (a *Actor) Look(context.Context) error {
	folded := a.Folded()
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.err != nil {
		return fault.Because(a.err, fault.Unavailable, a.Name, fmt.Sprintf("%s has failed: %v", a.What, a.err), "it tries again each second; look into the log, and start the program again if it does not come back")
	}
	if d := a.lag.See(a.Running(), a.done, folded); d > StepWithin {
		return fault.New(fault.Unavailable, a.Name,
			fmt.Sprintf("%s stands at record %d, the floor at %d, for %s; the limit is %s", a.What, a.done, folded, d.Round(100*time.Millisecond), StepWithin),
			"start the program again if it does not come back")
	}
	return nil
}
