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

// Reacher is a Fold that knows which events do not depend on each other. Of
// an event that was decided on the fold as it stands it says which things the
// decision looked at and which ones the event changes, by names of its own.
// An event whose reads meet no writes of some others, decided on the same
// fold, must come out the same behind them. Alone: nothing is known of it.
//
// A Writer batches the events of a Reacher; those of another fold go one by
// one.
type Reacher interface {
	Reach(e floor.Event) (reads, writes []string, alone bool)
}

// Limits of one Do.
const (
	maxTries = 30               // decisions before a writer gives up against others
	catchUp  = 10 * time.Second // the longest wait for the follower after a conflict
)

// Writer is a process's one way into its shop's journal: a queue of
// commands, the lock of the fold and the follower that keeps it up to date.
type Writer struct {
	journal Journal
	queue   queue
	pause   int // commands that go singly before a batch is tried again; belongs to who leads
	lost    int // batches in a row that another process was before; belongs to who leads
	batched int // commands of the last append, if it was a batch; belongs to who leads

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
	return &Writer{journal: j, fold: fold, moved: make(chan struct{})}
}

// Decide makes events out of what the fold says. They will stand behind
// number seq. That is where the fold stands, unless the command goes in a
// batch: then only events stand in between on which it does not depend. It is
// called under the fold's lock: it must not block or call the Writer, may be
// called in another goroutine than Do was, and may be called again, when
// another writer was first or when it has to wait for others after all; the
// last call is the one that counts. No events and no error: there is nothing
// to record.
type Decide func(seq uint64) ([]floor.Event, error)

// Do runs one command: it calls decide, appends its events behind the number
// that decide was told, applies them to the fold and returns the number of
// the last. Callers take turns ([WithCaller]), each with its commands in the
// order of their arrival; urgent ones go first ([Urgent]). Where many wait,
// those that do not depend on each other are appended together.
//
// When another process was first, Do waits until the fold has caught up and
// decides again; after 30 times it is unavailable. When the journal or the
// fold holds the event's command id already, Do records nothing and returns
// the number of the first. Errors of decide are returned as they are, with
// the number at which it decided. An unavailable error of the journal leaves
// open whether the event was stored: the same command with the same id finds
// out.
//
// When the context ends while the command waits, it is dropped. When its
// event is on its way with others, Do waits for what comes of it.
func (w *Writer) Do(ctx context.Context, decide Decide) (uint64, error) {
	seq, _, err := w.Once(ctx, "", decide)
	return seq, err
}

// DoOnce is Do for a command whose id is known before the decision: when
// the fold holds the id, decide is not called at all, so that a command which
// is sent again is not refused for its own consequences.
func (w *Writer) DoOnce(ctx context.Context, commandID string, decide Decide) (uint64, error) {
	seq, _, err := w.Once(ctx, commandID, decide)
	return seq, err
}

// Once is DoOnce that says as well whether it was this call that stored the
// events.
func (w *Writer) Once(ctx context.Context, commandID string, decide Decide) (seq uint64, stored bool, err error) {
	if ctx.Err() != nil {
		return 0, false, cancelled(ctx)
	}
	c := newCommand(ctx, commandID, decide)
	lead := w.queue.enter(c)
	for {
		var a answer
		if !lead {
			if a, lead = w.wait(c); !lead {
				return a.seq, a.stored, a.err
			}
		}
		if a, lead = w.lead(c); lead {
			return a.seq, a.stored, a.err
		}
	}
}

// wait waits for the answer, or for the lead.
func (w *Writer) wait(c *command) (a answer, lead bool) {
	select {
	case t := <-c.turn:
		return t.answer, t.lead
	case <-c.ctx.Done():
	}
	if w.queue.drop(c) {
		return answer{err: cancelled(c.ctx)}, false
	}
	t := <-c.turn
	return t.answer, t.lead
}

// lead runs a command whose turn it is, in its caller's goroutine, and hands
// the lead on. Where it goes with others it is answered as they are: done is
// false.
func (w *Writer) lead(c *command) (a answer, done bool) {
	var b *batch
	defer func() { // decide may panic
		if b == nil {
			w.queue.leave()
		}
	}()
	for ; c.tries < maxTries; c.tries++ {
		if c.ctx.Err() != nil {
			return answer{err: cancelled(c.ctx)}, true
		}
		d := w.decide(c)
		if d.err != nil || d.done {
			if w.overtaken(c.ctx, d) {
				continue
			}
			return answer{seq: d.seq, err: d.err}, true
		}
		if b = w.gather(c, d); b != nil {
			go w.together(b) // a chain goes on when c has its answer
			return answer{}, false
		}
		a, again := w.single(c, d)
		if !again {
			return a, true
		}
	}
	return answer{err: fault.New(fault.Unavailable, "journal-busy",
		fmt.Sprintf("other writers were first %d times in a row, the limit is %d", maxTries, maxTries), "send the command again")}, true
}

// single appends what one command came to; again says that the journal had
// moved on.
func (w *Writer) single(c *command, d decision) (a answer, again bool) {
	last, err := w.journal.Append(c.ctx, d.seq, d.recs...)
	if err == nil {
		return answer{seq: last, stored: true, err: w.applyOwn(d.seq, d.recs)}, false
	}
	if at, moved := movedOn(err, d.seq); moved {
		return answer{err: w.catchUp(c.ctx, at)}, true
	}
	if t, ok := errors.AsType[*TakenError](err); ok && len(d.recs) == 1 {
		return answer{seq: t.Seq}, false
	}
	return answer{err: err}, false
}

// movedOn reports whether an append failed because the journal had gone on
// behind a number, and up to where the fold has to read: it then knows an id
// that was taken there itself.
func movedOn(err error, seq uint64) (to uint64, moved bool) {
	if c, ok := errors.AsType[*ConflictError](err); ok {
		return max(c.Last, seq+1), true
	}
	if t, ok := errors.AsType[*TakenError](err); ok && t.Seq > seq {
		return t.Seq, true
	}
	return 0, false
}

// decision is what one call of decide came to.
type decision struct {
	seq   uint64
	recs  []Record
	event floor.Event // of one record
	done  bool        // nothing to append: seq is the answer
	taken bool        // since the fold has the command id, under seq
	err   error
}

func (w *Writer) decide(c *command) decision {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.stopped != nil {
		return decision{err: w.stopped}
	}
	return w.decideBehind(c, w.fold.Seq())
}

// decideBehind decides on a command whose events are to stand behind number
// seq. The caller holds the lock.
func (w *Writer) decideBehind(c *command, seq uint64) decision {
	if c.id != "" {
		if first, ok := w.fold.Taken(c.id); ok {
			return decision{seq: first, done: true, taken: true}
		}
	}
	events, err := c.decide(seq)
	if err != nil || len(events) == 0 {
		return decision{seq: seq, done: true, err: err}
	}
	recs := make([]Record, len(events))
	for i, e := range events {
		if recs[i], err = Encode(e); err != nil {
			return decision{seq: seq, err: err}
		}
	}
	d := w.known(seq, recs)
	d.event = events[0]
	return d
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
		return decision{seq: first, done: true, taken: true}
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
