package clock

import (
	"context"
	"fmt"
	"time"

	"seamwright/services/fault"
)

// rounds is how often actors are stepped at one moment before it is said
// that they never come to rest.
const rounds = 10_000

// Ledger is the journal as far as driven time needs it.
type Ledger interface {
	// Last is the number of the journal's last record.
	Last(ctx context.Context) (uint64, error)
}

// Follower is a fold of the journal, or anything else that follows it.
type Follower interface {
	// WaitFor returns when the follower has come to that number.
	WaitFor(ctx context.Context, seq uint64) error
}

// Drive steps actors in driven time. Its methods are called from one
// goroutine at a time.
type Drive struct {
	clock     *Driven
	ledger    Ledger
	followers []Follower
	actors    []driven
	rest      rest
}

// rest is where the shop last came to rest.
type rest struct {
	at   time.Time
	last uint64
}

type driven struct {
	named
	next time.Time // zero: only when the journal moves on
}

// NewDrive makes a drive of a clock over a journal and all that follow it.
func NewDrive(c *Driven, l Ledger, followers ...Follower) *Drive {
	return &Drive{clock: c, ledger: l, followers: followers}
}

// Add puts an actor in; it is stepped in the order of adding.
func (d *Drive) Add(name string, a Actor) {
	d.actors = append(d.actors, driven{named: named{name, a}})
}

// AdvanceTo moves the clock to a moment, past every moment at which an actor
// wants to be called, in order, and lets the shop come to rest at each of
// them, at the last too. An actor's error ends it, with the clock where it
// happened. Where the shop has come to rest and the journal has not moved on
// since, it is not brought to rest once more before the clock moves: what
// changed beside the journal is noticed at the next moment, or by Settle.
func (d *Drive) AdvanceTo(ctx context.Context, to time.Time) error {
	if err := d.leave(ctx); err != nil {
		return err
	}
	if to.Equal(d.clock.Now()) {
		return d.Settle(ctx)
	}
	for {
		at := to
		for _, a := range d.actors {
			if !a.next.IsZero() && a.next.Before(at) {
				at = a.next
			}
		}
		if err := d.clock.Set(at); err != nil {
			return err
		}
		if err := d.Settle(ctx); err != nil {
			return err
		}
		if at.Equal(to) {
			return nil
		}
	}
}

// leave brings the shop to rest where the clock stands, unless it rests there.
func (d *Drive) leave(ctx context.Context) error {
	last, err := d.ledger.Last(ctx)
	if err != nil {
		return err
	}
	if d.rest.last == last && d.rest.at.Equal(d.clock.Now()) {
		return nil
	}
	return d.Settle(ctx)
}

// Settle steps every actor at the moment where the clock stands, again and
// again, until the journal's last number stood still over a whole round,
// every follower has seen it and no actor wants to be called at this moment.
func (d *Drive) Settle(ctx context.Context) error {
	seen, err := d.catchUp(ctx)
	if err != nil {
		return err
	}
	for range rounds {
		due, err := d.stepAll(ctx)
		if err != nil {
			return err
		}
		last, err := d.catchUp(ctx)
		if err != nil {
			return err
		}
		if last == seen && !due {
			d.rest = rest{d.clock.Now(), last}
			return nil
		}
		seen = last
	}
	return fault.New(fault.Internal, "never-settles",
		fmt.Sprintf("at %s the shop did not come to rest in %d rounds, the journal stands at %d", d.clock.Now().Format(time.RFC3339Nano), rounds, seen),
		"look which actor records something in every step")
}

// stepAll steps every actor once; due says that one of them is not done.
func (d *Drive) stepAll(ctx context.Context) (due bool, err error) {
	now := d.clock.Now()
	for i := range d.actors {
		a := &d.actors[i]
		if a.next, err = a.step(ctx, now); err != nil {
			return false, fmt.Errorf("%s at %s: %w", a.name, now.Format(time.RFC3339Nano), err)
		}
		due = due || !a.next.IsZero() && !a.next.After(now)
	}
	return due, nil
}

// catchUp waits until every follower has seen the journal's last record.
func (d *Drive) catchUp(ctx context.Context) (uint64, error) {
	if err := ctx.Err(); err != nil {
		return 0, fault.Wrap(err, fault.Cancelled, "cancelled", "")
	}
	last, err := d.ledger.Last(ctx)
	if err != nil {
		return 0, err
	}
	for _, f := range d.followers {
		if err := f.WaitFor(ctx, last); err != nil {
			return 0, err
		}
	}
	return last, nil
}
