package app

import (
	"context"
	"sync"

	"seamwright/services/fault"
	"seamwright/services/health"
)

// wellFor is how often in a row the disk must be found well before the shop is
// started again: a disk that is full by turns is not well.
const wellFor = 3

// reopening sees when a store has stayed shut although its disk has room
// again: the server keeps the error of the write that failed and takes nothing
// more until it is started again.
type reopening struct {
	disk  health.Check
	stuck func() bool // the last append failed and nothing was written since

	mu    sync.Mutex
	full  bool // since the shop was started
	well  int  // looks in a row
	again chan struct{}
}

// check is the disk's, whose answers are listened to.
func (r *reopening) check() health.Check {
	c := r.disk
	c.Look = func(ctx context.Context) error {
		err := r.disk.Look(ctx)
		r.saw(err)
		return err
	}
	return c
}

func (r *reopening) saw(err error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if err != nil {
		r.well = 0
		r.full = r.full || fault.ReasonOf(err) == health.DiskFull
		return
	}
	r.well++
	if !r.full || r.well < wellFor || !r.stuck() {
		return
	}
	select {
	case <-r.again: // said
	default:
		close(r.again)
	}
}

// Again is closed when the shop should be stopped and a new one started in its
// place: its disk was full and has room again, and yet nothing can be
// recorded. Nil for a shop that keeps no disk of its own; it never comes then.
func (a *App) Again() <-chan struct{} {
	if a.reopening == nil {
		return nil
	}
	return a.reopening.again
}
