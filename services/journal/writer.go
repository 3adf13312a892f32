package journal

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"seamwright/services/fault"
	"seamwright/services/floor"
)

// Fold is the state that a process folds out of its shop's journal. The
// Writer calls it under its own lock, never twice at a time.
type Fold interface {
	// Seq is the number of the last event that was applied, 0 at first.
	Seq() uint64

	// Apply folds the event with number Seq()+1. An error or a panic stops
	// the fold for good.
	Apply(e floor.Event) error

	// Taken gives the number of the event with that command id, of all
	// events that were ever applied.
	Taken(commandID string) (seq uint64, ok bool)
}

// Limits of one Do.
const (
	maxTries = 8                // decisions before a writer gives up against others
	catchUp  = 10 * time.Second // the longest wait for the follower after a conflict
)

// Writer is a process's one way into its shop's journal: a queue of
// commands, the lock of the fold and the follower that keeps it up to date.
type Writer struct {
	journal Journal
	queue   chan struct{} // holds a token while a command runs

	mu      sync.RWMutex // guards the fold and what follows
	fold    Fold
	stopped error         // why the fold stopped for good
	running bool          // Run is following
	ended   bool          // Run has been and gone
	moved   chan struct{} // closed and replaced when the fold moves, stops or Run ends

	listeners []func(seq uint64) // called for each event that was folded
}

// NewWriter makes the writer of a fold that stands where it stands.
func NewWriter(j Journal, fold Fold) *Writer {
	return &Writer{journal: j, fold: fold, queue: make(chan struct{}, 1), moved: make(chan struct{})}
}

// Decide makes events out of what the fold says at number seq. It is called
// under the fold's lock: it must not block, and may be called again when
// another writer was first. No events and no error: there is nothing to
// record.
type Decide func(seq uint64) ([]floor.Event, error)

// Do runs one command: it calls decide, appends its events behind exactly
// the number that decide saw, applies them to the fold and returns the
// number of the last. Commands run one at a time, in the order of arrival.
//
// When another process was first, Do waits until the fold has caught up and
// decides again; after 8 times it is unavailable. When the journal or the
// fold holds the event's command id already, Do records nothing and returns
// the number of the first. Errors of decide are returned as they are, with
// the number at which it decided. An unavailable error of the journal leaves
// open whether the event was stored: the same command with the same id finds
// out.
func (w *Writer) Do(ctx context.Context, decide Decide) (uint64, error) {
	return w.DoOnce(ctx, "", decide)
}

// DoOnce is Do for a command whose id is known before the decision: when
// the fold holds the id, decide is not called at all, so that a command which
// is sent again is not refused for its own consequences.
func (w *Writer) DoOnce(ctx context.Context, commandID string, decide Decide) (uint64, error) {
	select {
	case w.queue <- struct{}{}:
		defer func() { <-w.queue }()
	case <-ctx.Done():
		return 0, cancelled(ctx)
	}
	for range maxTries {
		seq, again, err := w.try(ctx, commandID, decide)
		if !again {
			return seq, err
		}
	}
	return 0, fault.New(fault.Unavailable, "journal-busy",
		fmt.Sprintf("other writers were first %d times in a row, the limit is %d", maxTries, maxTries), "send the command again")
}

// try decides and appends once; again says that the journal had moved on.
func (w *Writer) try(ctx context.Context, commandID string, decide Decide) (seq uint64, again bool, err error) {
	d := w.decide(commandID, decide)
	if d.err != nil || d.done {
		return d.seq, false, d.err
	}
	last, err := w.journal.Append(ctx, d.seq, d.recs...)
	if err == nil {
		return last, false, w.applyOwn(d.seq, d.recs)
	}
	if c, ok := errors.AsType[*ConflictError](err); ok {
		return 0, true, w.catchUp(ctx, max(c.Last, d.seq+1))
	}
	if t, ok := errors.AsType[*TakenError](err); ok && t.Seq > d.seq {
		return 0, true, w.catchUp(ctx, t.Seq) // the fold then knows the id itself
	}
	if t, ok := errors.AsType[*TakenError](err); ok && len(d.recs) == 1 {
		return t.Seq, false, nil
	}
	return 0, false, err
}

// decision is what one call of decide came to.
type decision struct {
	seq  uint64
	recs []Record
	done bool // nothing to append: seq is the answer
	err  error
}

func (w *Writer) decide(commandID string, decide Decide) decision {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.stopped != nil {
		return decision{err: w.stopped}
	}
	seq := w.fold.Seq()
	if commandID != "" {
		if first, ok := w.fold.Taken(commandID); ok {
			return decision{seq: first, done: true}
		}
	}
	events, err := decide(seq)
	if err != nil || len(events) == 0 {
		return decision{seq: seq, done: true, err: err}
	}
	recs := make([]Record, len(events))
	for i, e := range events {
		if recs[i], err = Encode(e); err != nil {
			return decision{seq: seq, err: err}
		}
	}
	return w.known(seq, recs)
}

// known asks the fold for the command ids: all there means that the command
// took effect before, some there that the batch cannot be stored as a whole.
func (w *Writer) known(seq uint64, recs []Record) decision {
	var first uint64
	n := 0
	for _, r := range recs {
		if at, ok := w.fold.Taken(r.ID); ok {
			first = max(first, at)
			n++
		}
	}
	switch n {
	case 0:
		return decision{seq: seq, recs: recs}
	case len(recs):
		return decision{seq: first, done: true}
	}
	return decision{seq: seq, err: fault.New(fault.Exists, ReasonTaken,
		fmt.Sprintf("%d of the command's %d events are in the journal already, up to record %d", n, len(recs), first),
		"give the other events a command of their own")}
}

// applyOwn folds the records that were just stored behind number seq, when
// the follower has not done it. They are decoded from their stored form, so
// that this process folds what every other one will read.
func (w *Writer) applyOwn(seq uint64, recs []Record) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	for i, r := range recs {
		r.Seq = seq + 1 + uint64(i)
		if err := w.apply(r); err != nil {
			return err
		}
	}
	return nil
}

func cancelled(ctx context.Context) error {
	return fault.Wrap(context.Cause(ctx), fault.Cancelled, "cancelled", "")
}
