package journal

import (
	"runtime"
	"slices"
	"time"

	"seamwright/services/floor"
)

// Limits of a batch.
const (
	// batchFrom is how many commands must go together for an atomic batch to
	// pay. A batch of JetStream is staged in a store of its own and synced
	// before it is stored: measured through a whole shop on one disk, one of
	// 64 takes 5.5 to 7 ms, one of 256 9 to 10 ms, where a record of a chain
	// takes 0.23 to 0.28 ms.
	batchFrom = 24

	// chainMost is how many commands one chain takes at most: who leads has its
	// own answer long before the last of them.
	chainMost = 16

	batchMost  = 500     // commands
	batchBytes = 4 << 20 // of payload

	// missesFree is how many commands that cannot go along a batch passes over
	// before it has members to show for it.
	missesFree = 16

	// pauseRefused is how many commands go singly after the journal refused a
	// batch as a whole.
	pauseRefused = 256
)

// batch is commands of which none depends on another, decided on the fold as
// it stood at one number, to be appended together.
type batch struct {
	base     uint64
	cmds     []*command // the first one leads
	recs     []Record
	bytes    int
	received time.Time       // of the newest event
	ids      map[string]bool // of the events
	writes   map[string]int  // by all members that are not folded: how often
	change   [][]string      // what each of these writes
	chain    bool            // they are stored one after the other
	full     bool            // nobody else may join
	sent     int             // of a chain, on their way or stored
	stored   int             // and folded

	looked      []*command // that were taken from the queue and not answered, in order
	misses      int
	waitReads   map[string]bool // by those that have to wait
	waitsWrites map[string]bool
}

// gather makes a batch around a command that was decided, of those that wait;
// nil when it goes alone.
func (w *Writer) gather(c *command, d decision) *batch {
	r, able := w.fold.(Reacher)
	if w.pause > 0 {
		w.pause--
		return nil
	}
	if !able || c.solo || len(d.recs) != 1 || w.queue.crowd() == 0 {
		return nil
	}
	_, chains := w.journal.(Chainer)
	whole := w.crowded()
	if !whole && !chains {
		return nil
	}
	b := &batch{
		base: d.seq, chain: !whole, ids: map[string]bool{}, writes: map[string]int{},
		waitReads: map[string]bool{}, waitsWrites: map[string]bool{},
	}
	if !w.begin(b, r, c, d) {
		return nil
	}
	if b.chain {
		return b // the others join while it is on its way
	}
	for len(b.cmds) < batchMost && w.more(b, r) {
	}
	if len(b.cmds) >= batchFrom {
		w.queue.putBack(b.waiting())
		return b
	}
	if chains {
		b.chain = true
		return b
	}
	w.pause = len(b.looked) // so that each command is decided in vain once at most
	w.queue.putBack(b.looked)
	return nil
}

// more lets one more command join, or wait; false: there is none, or nobody
// else may join.
func (w *Writer) more(b *batch, r Reacher) bool {
	b.full = b.full || b.bytes >= batchBytes || b.misses >= len(b.cmds)+missesFree
	if b.full || !w.behindAll(b) {
		return false
	}
	next := w.queue.take()
	if next == nil {
		return false
	}
	b.full = !w.look(b, r, next)
	return !b.full
}

// behindAll reports whether the fold stands where the batch is decided on. The
// follower may have come before it with what is just stored: then nobody can be
// looked at for a moment.
func (w *Writer) behindAll(b *batch) bool { return w.Seq() == b.base+uint64(b.stored) }

// waiting are those that were looked at and did not join.
func (b *batch) waiting() []*command {
	return slices.DeleteFunc(b.looked, func(c *command) bool { return slices.Contains(b.cmds, c) })
}

// crowded reports whether enough commands wait for a batch. Those who have just
// been answered by one are let in first, as long as they come: they are back
// with their next in a moment, and would find the lead taken by a few.
func (w *Writer) crowded() bool {
	n := w.queue.crowd()
	for n+1 < w.batched {
		runtime.Gosched()
		before := n
		if n = w.queue.crowd(); n <= before {
			break
		}
	}
	w.batched = 0
	return n+1 >= batchFrom
}

// begin puts the leading command in; false when it goes alone.
func (w *Writer) begin(b *batch, r Reacher, c *command, d decision) bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.fold.Seq() != b.base {
		return false // the journal has moved on
	}
	_, writes, alone := r.Reach(d.event)
	if alone {
		return false
	}
	b.join(c, d, writes)
	return true
}

// look lets one command join, wait, or be answered; false ends the gathering:
// what stands behind a command of which nothing is known stays behind it.
func (w *Writer) look(b *batch, r Reacher, c *command) bool {
	if c.ctx.Err() != nil {
		c.turn <- turn{answer: answer{err: cancelled(c.ctx)}}
		return true
	}
	known, d := w.consider(b, r, c)
	if known && d.taken {
		c.turn <- turn{answer: answer{seq: d.seq}}
		return true
	}
	b.looked = append(b.looked, c)
	return known
}

// consider decides on a command behind those of the batch, and lets it join
// when it may. Nothing is known of one that decides to nothing, to several
// events or to an error, that panics, or that is one which the batch has
// already: when its turn comes it runs by itself.
func (w *Writer) consider(b *batch, r Reacher, c *command) (known bool, d decision) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.stopped != nil || w.fold.Seq() != b.base+uint64(b.stored) || c.solo || c.id != "" && b.ids[c.id] {
		return false, d
	}
	defer func() {
		if recover() != nil {
			known = false
		}
	}()
	d = w.decideBehind(c, b.base+uint64(len(b.cmds)))
	switch {
	case d.taken:
		return true, d
	case d.err != nil || d.done || len(d.recs) != 1 || b.ids[d.recs[0].ID] || d.event.Received.Before(b.received):
		return false, d
	}
	reads, writes, alone := r.Reach(d.event)
	if alone {
		return false, d
	}
	if slices.ContainsFunc(reads, func(k string) bool { return b.writes[k] > 0 }) || meet(reads, b.waitsWrites) || meet(writes, b.waitReads) {
		b.wait(d, reads, writes)
	} else {
		b.join(c, d, writes)
	}
	return true, d
}

func (b *batch) join(c *command, d decision, writes []string) {
	b.cmds, b.recs = append(b.cmds, c), append(b.recs, d.recs[0])
	b.bytes += len(d.recs[0].Payload)
	b.ids[d.recs[0].ID] = true
	if d.event.Received.After(b.received) {
		b.received = d.event.Received
	}
	b.change = append(b.change, writes)
	for _, k := range writes {
		b.writes[k]++
	}
}

// wait remembers what a command reaches that has to wait: those behind it
// that depend on it wait as well.
func (b *batch) wait(d decision, reads, writes []string) {
	b.misses++
	b.ids[d.recs[0].ID] = true
	put(b.waitReads, reads)
	put(b.waitsWrites, writes)
}

func put(set map[string]bool, keys []string) {
	for _, k := range keys {
		set[k] = true
	}
}

func meet(keys []string, set map[string]bool) bool {
	return slices.ContainsFunc(keys, func(k string) bool { return set[k] })
}

var _ Reacher = (*floor.Floor)(nil)
