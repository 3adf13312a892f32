package journal

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"time"

	"seamwright/services/fault"
	"seamwright/services/floor"
)

// Limits of a batch.
const (
	// batchFrom is how many commands must go together for an atomic batch to
	// pay. A batch of JetStream is staged in a store of its own and synced
	// before it is stored, whatever its size. Measured through package jet on
	// one disk, 25 times each in turn, the fastest tenth, as the machine was
	// busy: one record 0.33 ms, a batch of 10 4.5 ms, of 20 4.5 to 7.6 ms, of
	// 100 8.0 to 9.0 ms, of 250 10.9 to 11.7 ms. So 14 to 20 single appends
	// cost what a batch does; with 8 appenders a batch each time came to 0.6
	// of what single appends did.
	batchFrom = 16

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
	writes   map[string]bool // by all members

	looked      []*command // that were taken from the queue and not answered, in order
	misses      int
	waitReads   map[string]bool // by those that have to wait
	waitsWrites map[string]bool
}

// gather makes a batch around a command that was decided, of those that wait;
// nil when it does not pay.
func (w *Writer) gather(c *command, d decision) *batch {
	r, able := w.fold.(Reacher)
	if w.pause > 0 {
		w.pause--
		return nil
	}
	if !able || c.solo || len(d.recs) != 1 || !w.crowded() {
		return nil
	}
	b := &batch{
		base: d.seq, ids: map[string]bool{}, writes: map[string]bool{},
		waitReads: map[string]bool{}, waitsWrites: map[string]bool{},
	}
	if !w.begin(b, r, c, d) {
		return nil
	}
	for len(b.cmds) < batchMost && b.bytes < batchBytes && b.misses < len(b.cmds)+missesFree {
		next := w.queue.take()
		if next == nil || !w.look(b, r, next) {
			break
		}
	}
	if len(b.cmds) < batchFrom {
		w.pause = len(b.looked) // so that each command is decided in vain once at most
		w.queue.putBack(b.looked)
		return nil
	}
	w.queue.putBack(slices.DeleteFunc(b.looked, func(c *command) bool { return slices.Contains(b.cmds, c) }))
	return b
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
	if w.stopped != nil || w.fold.Seq() != b.base || c.solo || c.id != "" && b.ids[c.id] {
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
	if meet(reads, b.writes) || meet(reads, b.waitsWrites) || meet(writes, b.waitReads) {
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
	put(b.writes, writes)
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

// together appends a batch and answers its members but the leading one, whose
// answer is returned; again says that it is to be decided again.
func (w *Writer) together(b *batch) (a answer, again bool) {
	err := w.appendAll(b)
	if err == nil {
		w.lost, w.batched = 0, len(b.cmds)
		return w.foldAll(b), false
	}
	if at, moved := movedOn(err, b.base); moved {
		// A batch is long on its way: one that loses against another process
		// again and again must not starve, so they try singly.
		if w.lost++; w.lost > 1 {
			w.pause = len(b.cmds)
		}
		w.again(b.cmds[1:], false)
		return answer{err: w.catchUp(b.cmds[0].ctx, at)}, true
	}
	if t, ok := errors.AsType[*TakenError](err); ok {
		if i := slices.IndexFunc(b.recs, func(r Record) bool { return r.ID == t.ID }); i >= 0 {
			return w.without(b, i, t.Seq)
		}
	}
	if fault.Is(err, ReasonUnknown) {
		for i, c := range b.cmds[1:] {
			c.turn <- turn{answer: answer{err: unsureOf(b.base+uint64(i)+1, err)}}
		}
		return answer{err: err}, false
	}
	// Refused, and not for what one of them is: each finds out by itself.
	w.pause = pauseRefused
	b.cmds[0].solo = true
	w.again(b.cmds[1:], true)
	return answer{}, true
}

// appendAll appends a batch, whoever of its callers goes away meanwhile. A
// panic of the journal is an outcome that is not known: the others wait for
// an answer.
func (w *Writer) appendAll(b *batch) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = Unsure(b.base, fmt.Errorf("panic: %v", p))
		}
	}()
	_, err = w.journal.Append(context.WithoutCancel(b.cmds[0].ctx), b.base, b.recs...)
	return err
}

// unsureOf is the error of an append whose outcome is not known, for one
// record of it.
func unsureOf(expect uint64, err error) error {
	if f, ok := errors.AsType[*fault.Error](err); ok && f.Unwrap() != nil {
		return Unsure(expect, f.Unwrap())
	}
	return err
}

// again puts commands back whose append was refused.
func (w *Writer) again(cs []*command, solo bool) {
	for _, c := range cs {
		c.tries++
		c.solo = c.solo || solo
	}
	w.queue.putBack(cs)
}

// without answers the one command whose id the journal has already; the
// others are decided again.
func (w *Writer) without(b *batch, i int, seq uint64) (a answer, again bool) {
	if i == 0 {
		w.again(b.cmds[1:], false)
		return answer{seq: seq}, false
	}
	b.cmds[i].turn <- turn{answer: answer{seq: seq}}
	w.again(slices.Delete(b.cmds[1:], i-1, i), false)
	return answer{}, true
}

// foldAll folds a batch that was stored, and answers its members as it goes.
// Readers may come in between: what is folded is on disk.
func (w *Writer) foldAll(b *batch) (first answer) {
	for i, r := range b.recs {
		r.Seq = b.base + 1 + uint64(i)
		a := answer{seq: r.Seq, stored: true, err: w.take(r)}
		if i == 0 {
			first = a
			continue
		}
		b.cmds[i].turn <- turn{answer: a}
	}
	return first
}

var _ Reacher = (*floor.Floor)(nil)
