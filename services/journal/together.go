package journal

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"seamwright/services/fault"
)

// together appends a batch, answers its members, and hands the lead on. Of a
// chain the first ones may be stored and the others not.
func (w *Writer) together(b *batch) {
	defer w.queue.leave()
	n, err := w.appendAll(b)
	if err == nil {
		w.lost, w.batched = 0, len(b.cmds)
		return
	}
	rest := b.cmds[n:]
	if at, moved := movedOn(err, b.base+uint64(n)); moved {
		// A batch is long on its way: one that loses against another process
		// again and again must not starve, so they try singly.
		if w.lost++; w.lost > 1 {
			w.pause = len(b.cmds)
		}
		_ = w.catchUp(context.WithoutCancel(b.cmds[0].ctx), at) // who is next finds out what the matter is
		w.again(rest, false)
		return
	}
	if t, ok := errors.AsType[*TakenError](err); ok {
		if i := slices.IndexFunc(b.recs, func(r Record) bool { return r.ID == t.ID }); i >= n {
			b.cmds[i].turn <- turn{answer: answer{seq: t.Seq}}
			w.again(slices.Delete(rest, i-n, i-n+1), false)
			return
		}
	}
	if fault.Is(err, ReasonUnknown) {
		for i, c := range rest {
			c.turn <- turn{answer: answer{err: unsureOf(b.base+uint64(n+i), err)}}
		}
		return
	}
	// Refused, and not for what one of them is: each finds out by itself.
	w.pause = pauseRefused
	w.again(rest, true)
}

// appendAll appends a batch, whoever of its callers goes away meanwhile, and
// takes what was stored. A panic of the journal is an outcome that is not
// known: the others wait for an answer.
func (w *Writer) appendAll(b *batch) (n int, err error) {
	defer func() {
		if p := recover(); p != nil {
			n = b.stored
			err = Unsure(b.base+uint64(n), fmt.Errorf("panic: %v", p))
		}
	}()
	ctx := context.WithoutCancel(b.cmds[0].ctx)
	if b.chain {
		defer func() { w.queue.putBack(b.waiting()) }()
		_, err = Chain(ctx, w.journal, b.base, func() (Record, bool) { return w.behind(b) }, func() { w.took(b) })
		return b.stored, err
	}
	if _, err = w.journal.Append(ctx, b.base, b.recs...); err != nil {
		return 0, err
	}
	for range b.recs {
		w.took(b)
	}
	return b.stored, nil
}

// behind is the next record that may follow in a chain. Once all that were
// sent are stored it ends: who leads is not kept for those who come later. So
// it does for an urgent one.
func (w *Writer) behind(b *batch) (Record, bool) {
	for b.sent == len(b.cmds) {
		if b.sent == b.stored || b.sent >= chainMost || w.queue.hurry() || !w.more(b, w.fold.(Reacher)) {
			return Record{}, false
		}
	}
	b.sent++
	return b.recs[b.sent-1], true
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

// took folds the next one of a batch that was stored, and answers it. Readers
// may come in between: what is folded is on disk.
func (w *Writer) took(b *batch) {
	i := b.stored
	r := b.recs[i]
	r.Seq = b.base + 1 + uint64(i)
	a := answer{seq: r.Seq, stored: true, err: w.take(r)}
	b.stored++
	for _, k := range b.change[i] {
		b.writes[k]--
	}
	b.cmds[i].turn <- turn{answer: a}
}
