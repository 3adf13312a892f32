package app_test

import (
	"context"
	"errors"
	"sync"

	"seamwright/services/journal"
)

var errBroken = errors.New("the test has broken it")

// faulty is a journal that can be made to fail as a server, a disk or a
// connection fails.
type faulty struct {
	journal.Journal

	mu      sync.Mutex
	refuse  error         // what every append ends with
	hang    bool          // appends do not end before their context
	silent  bool          // nobody answers where the journal ends
	deaf    chan struct{} // nor ends before this does; nil: it does
	stalled chan struct{} // followers wait for its end; nil: they do not
	dead    chan struct{} // followers end when it is closed
}

func newFaulty(j journal.Journal) *faulty { return &faulty{Journal: j, dead: make(chan struct{})} }

// set changes what fails.
func (f *faulty) set(fn func(*faulty)) {
	f.mu.Lock()
	defer f.mu.Unlock()
	fn(f)
}

// sound ends every failure.
func (f *faulty) sound() {
	f.set(func(f *faulty) {
		f.refuse, f.hang, f.silent = nil, false, false
		for _, c := range []chan struct{}{f.deaf, f.stalled} {
			if c != nil {
				close(c)
			}
		}
		f.deaf, f.stalled = nil, nil
	})
}

// kill ends the followers that there are.
func (f *faulty) kill() {
	f.set(func(f *faulty) {
		close(f.dead)
		f.dead = make(chan struct{})
	})
}

func (f *faulty) Append(ctx context.Context, expect uint64, recs ...journal.Record) (uint64, error) {
	f.mu.Lock()
	refuse, hang := f.refuse, f.hang
	f.mu.Unlock()
	if hang {
		<-ctx.Done()
		return 0, journal.Unsure(expect, ctx.Err())
	}
	if refuse != nil {
		return 0, journal.Unsure(expect, refuse)
	}
	return f.Journal.Append(ctx, expect, recs...)
}

func (f *faulty) Last(ctx context.Context) (uint64, error) {
	f.mu.Lock()
	silent, deaf := f.silent, f.deaf
	f.mu.Unlock()
	if deaf != nil {
		<-deaf
	}
	if silent {
		<-ctx.Done()
		return 0, ctx.Err()
	}
	return f.Journal.Last(ctx)
}

func (f *faulty) Follow(ctx context.Context, from uint64, fn func(journal.Record) error) error {
	f.mu.Lock()
	dead := f.dead
	f.mu.Unlock()
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	go func() {
		select {
		case <-dead:
			cancel(errBroken)
		case <-ctx.Done():
		}
	}()
	err := f.Journal.Follow(ctx, from, func(r journal.Record) error {
		f.mu.Lock()
		stalled := f.stalled
		f.mu.Unlock()
		if stalled != nil {
			select {
			case <-stalled:
			case <-ctx.Done():
				return context.Cause(ctx)
			}
		}
		return fn(r)
	})
	if errors.Is(context.Cause(ctx), errBroken) {
		return errBroken
	}
	return err
}

// Close leaves the records where they are: the test starts the shop on them
// again.
func (f *faulty) Close() error { return nil }
