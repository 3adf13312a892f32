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

// doubtFor is how long an append that failed is held against a journal to
// which nobody has written since.
const doubtFor = 5 * time.Second

// appends notes how the appends to a journal fare.
type appends struct {
	journal.Journal
	running func() time.Duration

	mu     sync.Mutex
	failed error // the last append, when it failed for the journal's sake
	at     time.Duration
}

func newAppends(j journal.Journal) *appends {
	return &appends{Journal: j, running: health.Running()}
}

// Append appends, and notes what came of it.
func (a *appends) Append(ctx context.Context, expect uint64, recs ...journal.Record) (uint64, error) {
	last, err := a.Journal.Append(ctx, expect, recs...)
	a.mu.Lock()
	defer a.mu.Unlock()
	switch {
	case errors.Is(ctx.Err(), context.Canceled): // whoever asked went away
	case err == nil:
		a.failed = nil
	case fault.KindOf(err) == fault.Unavailable, fault.KindOf(err) == fault.Internal:
		a.failed, a.at = err, a.running()
	}
	return last, err
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
	if a.failed == nil || a.running()-a.at > doubtFor {
		return nil
	}
	return fault.Because(a.failed, fault.Unavailable, floor.HoldUnwritable,
		fmt.Sprintf("the last event could not be written: %v", a.failed), "look at the journal's disk and server; it is tried again by itself")
}
