package app

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/health"
	"seamwright/services/journal"
)

const (
	// appendWithin is how long an append may take. A disk that writes through
	// takes some milliseconds; one that others keep busy, some hundred.
	appendWithin = 1500 * time.Millisecond
)

// appends notes how the appends to a journal fare.
type appends struct {
	journal.Journal
	running func() time.Duration
	seen    func() uint64 // the newest number that this process knows of

	mu     sync.Mutex
	n      uint64
	under  map[uint64]time.Duration // appends under way: when they began
	failed error                    // the last append, when it failed for the journal's sake
	behind uint64                   // the number that it was to stand behind
}

var _ journal.Chainer = (*appends)(nil)

func newAppends(j journal.Journal) *appends {
	return &appends{Journal: j, running: health.Running(), under: map[uint64]time.Duration{}}
}

// Append appends, and notes what came of it.
func (a *appends) Append(ctx context.Context, expect uint64, recs ...journal.Record) (uint64, error) {
	n := a.begin()
	last, err := a.Journal.Append(ctx, expect, recs...)
	a.end(n, ctx, expect, err)
	return last, err
}

// Chain appends one record after the other, and notes what came of it. Each
// record has its own time.
func (a *appends) Chain(ctx context.Context, expect uint64, next func() (journal.Record, bool), stored func()) (int, error) {
	n := a.begin()
	done, err := journal.Chain(ctx, a.Journal, expect, next, func() {
		a.renew(n)
		stored()
	})
	a.end(n, ctx, expect+uint64(done), err)
	return done, err
}

func (a *appends) begin() uint64 {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.n++
	a.under[a.n] = a.running()
	return a.n
}

func (a *appends) renew(n uint64) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.under[n] = a.running()
}

func (a *appends) end(n uint64, ctx context.Context, expect uint64, err error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	now := a.running()
	took := now - a.under[n]
	delete(a.under, n)
	switch {
	case err == nil:
		a.failed = nil
	case errors.Is(ctx.Err(), context.Canceled) && took < appendWithin: // whoever asked went away
	case fault.KindOf(err) == fault.Unavailable, fault.KindOf(err) == fault.Internal, fault.KindOf(err) == fault.Cancelled:
		a.failed, a.behind = err, expect
	}
}

func (a *appends) check() health.Check {
	return health.Check{
		Name: floor.HoldUnwritable, What: "writing to the journal", Hint: "start the program again",
		Every: health.Often, Within: health.Patience, Look: a.look,
	}
}

func (a *appends) look(context.Context) error {
	a.mu.Lock()
	defer a.mu.Unlock()
	now := a.running()
	for _, began := range a.under {
		if took := now - began; took > appendWithin {
			return fault.New(fault.Unavailable, floor.HoldUnwritable,
				fmt.Sprintf("an event has been under way to the journal for %s, the limit is %s", took.Round(100*time.Millisecond), appendWithin), "look at the journal's disk and server")
		}
	}
	if !a.doubted() {
		return nil
	}
	return fault.Because(a.failed, fault.Unavailable, floor.HoldUnwritable,
		fmt.Sprintf("the last event could not be written: %v", a.failed),
		"look at the journal's disk and server; if they are well and nothing is recorded all the same, start the program again")
}

// doubted is whether the last append failed and nothing was written since, by
// whomever: a store that failed to write may stay shut when its disk has room
// again.
func (a *appends) doubted() bool {
	return a.failed != nil && (a.seen == nil || a.seen() <= a.behind)
}

// stuck is doubted, for those who do not hold the lock.
func (a *appends) stuck() bool {
	a.mu.Lock()
	defer a.mu.Unlock()
	return a.doubted()
}
