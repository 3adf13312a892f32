package journal

import (
	"context"
	"fmt"

	"seamwright/services/fault"
)

// Run follows the journal and folds what others append, until the context
// ends or the fold stops. Start it once, in a goroutine of its own.
func (w *Writer) Run(ctx context.Context) error {
	w.mu.Lock()
	w.running, w.ended = true, false
	from := w.fold.Seq() + 1
	w.mu.Unlock()
	err := w.journal.Follow(ctx, from, w.take)
	w.mu.Lock()
	defer w.mu.Unlock()
	w.running, w.ended = false, true
	if err != nil && ctx.Err() == nil && w.stopped == nil {
		ended := fault.Wrap(err, fault.Unavailable, ReasonEnded, "start the program again")
		w.stop(fmt.Sprintf("the floor stopped behind record %d: %v", w.fold.Seq(), err), ended)
	}
	w.wake()
	return err
}

// Step folds what the journal holds now, in the caller's goroutine: for
// programs without a follower, and to stand at the newest event before
// anything else begins.
func (w *Writer) Step(ctx context.Context) error {
	err := w.journal.Read(ctx, w.Seq()+1, End, w.take)
	if err != nil && fault.KindOf(err) == fault.Corrupt { // a hole, or a record that cannot be read
		w.mu.Lock()
		defer w.mu.Unlock()
		return w.stop(fmt.Sprintf("the floor stopped behind record %d: %v", w.fold.Seq(), err), err)
	}
	return err
}

// take folds one record that is stored.
func (w *Writer) take(r Record) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.apply(r)
}

// apply folds a record if the fold stands right before it and passes over
// one that was applied already. The caller holds the lock.
func (w *Writer) apply(r Record) error {
	if w.stopped != nil {
		return w.stopped
	}
	at := w.fold.Seq()
	if r.Seq <= at {
		return nil
	}
	if r.Seq != at+1 {
		gap := &GapError{Want: at + 1, Got: r.Seq}
		return w.stop(gap.Error(), gap)
	}
	e, err := Decode(r)
	if err == nil {
		err = w.guarded(func() error { return w.fold.Apply(e) })
	}
	if err == nil && w.fold.Seq() != r.Seq {
		err = fmt.Errorf("the fold counts %d", w.fold.Seq())
	}
	if err == nil {
		err = w.guarded(func() error { w.told(r.Seq); return nil })
	}
	if err != nil {
		return w.stop(fmt.Sprintf("the floor stopped at record %d (%s): %v", r.Seq, r.Type, err), err)
	}
	w.wake()
	return nil
}

// guarded turns a panic of the fold into an error: a half-folded floor must
// not go on, and must not take the process with it.
func (w *Writer) guarded(fn func() error) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("panic: %v", p)
		}
	}()
	return fn()
}

// stop ends the fold for good, for a cause. The caller holds the lock.
func (w *Writer) stop(why string, cause error) error {
	w.stopped = fault.Because(cause, fault.Unavailable, ReasonStopped, why,
		"nothing is recorded and the gate holds until the program is started again on a sound journal")
	w.wake()
	return w.stopped
}

func (w *Writer) wake() {
	close(w.moved)
	w.moved = make(chan struct{})
}

// Seq is the number up to which the fold has come.
func (w *Writer) Seq() uint64 {
	w.mu.RLock()
	defer w.mu.RUnlock()
	return w.fold.Seq()
}

// View calls fn while the fold stands still at number seq. Views run side by
// side; fn must not change the fold, block, or call the Writer.
func (w *Writer) View(fn func(seq uint64)) {
	w.mu.RLock()
	defer w.mu.RUnlock()
	fn(w.fold.Seq())
}

// Healthy is nil while the fold can be trusted to move on: an unavailable
// fault tells that it stopped, at which record and why, or that the
// follower has ended.
func (w *Writer) Healthy() error {
	w.mu.RLock()
	defer w.mu.RUnlock()
	if w.stopped == nil && w.ended {
		return fault.New(fault.Unavailable, ReasonEnded,
			fmt.Sprintf("the follower ended behind record %d", w.fold.Seq()), "start the program again")
	}
	return w.stopped
}

// WaitFor returns when the fold has come to number seq. It is unavailable
// when the fold stopped before it or the context ends first.
func (w *Writer) WaitFor(ctx context.Context, seq uint64) error {
	for {
		at, moved, err := w.position()
		if at >= seq {
			return nil
		}
		if err != nil {
			return err
		}
		select {
		case <-moved:
		case <-ctx.Done():
			return fault.New(fault.Unavailable, ReasonBehind,
				fmt.Sprintf("the floor stands at record %d, %d was asked for", at, seq), "ask again in a moment")
		}
	}
}

func (w *Writer) position() (uint64, <-chan struct{}, error) {
	w.mu.RLock()
	defer w.mu.RUnlock()
	return w.fold.Seq(), w.moved, w.stopped
}

// catchUp brings the fold to number seq after a conflict: by waiting for the
// follower, or by reading when there is none.
func (w *Writer) catchUp(ctx context.Context, seq uint64) error {
	w.mu.RLock()
	running := w.running
	w.mu.RUnlock()
	if !running {
		return w.Step(ctx)
	}
	ctx, cancel := context.WithTimeout(ctx, catchUp)
	defer cancel()
	return w.WaitFor(ctx, seq)
}
