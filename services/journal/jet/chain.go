package jet

import (
	"context"
	"errors"
	"time"

	"github.com/nats-io/nats.go/jetstream"

	"seamwright/services/journal"
)

// Chain stores records one after the other behind number expect. The server
// syncs one while the next is on its way. Each expects the number before its
// own and the id of the record before it, so that none is stored behind a
// stranger's record that came in between.
//
// Servers that keep the journal together are sent one record at a time: version
// 2.15 of the server looks at that id only when each of them stores the record,
// and takes one that does not fit for a disk that cannot be written, upon which
// all of them give the stream up.
func (j *Journal) Chain(ctx context.Context, expect uint64, next func() (journal.Record, bool), stored func()) (int, error) {
	if err := j.open(); err != nil {
		return 0, err
	}
	if j.together {
		return j.oneByOne(ctx, expect, next, stored)
	}
	l := line{j: j, expect: expect, stored: stored}
	for !l.broken {
		for r, ok := next(); ok; r, ok = next() {
			l.send(r)
		}
		if l.n == len(l.recs) {
			return l.n, nil
		}
		l.await()
	}
	// What is left was refused, or its answer did not come: Append finds out
	// which, and sends again what is not there.
	l.settle()
	for l.n < len(l.recs) {
		r := l.recs[l.n : l.n+1]
		if err := journal.Check(r...); err != nil {
			return l.n, err
		}
		if _, err := j.append(ctx, expect+uint64(l.n), r, l.lost); err != nil {
			return l.n, err
		}
		l.one()
	}
	return l.n, nil
}

// oneByOne waits for each record before it sends another.
func (j *Journal) oneByOne(ctx context.Context, expect uint64, next func() (journal.Record, bool), stored func()) (n int, err error) {
	for r, ok := next(); ok; r, ok = next() {
		if _, err := j.Append(ctx, expect+uint64(n), r); err != nil {
			return n, err
		}
		n++
		stored()
	}
	return n, nil
}

// line is the records of one chain.
type line struct {
	j      *Journal
	expect uint64
	stored func()
	recs   []journal.Record
	sent   []jetstream.PubAckFuture // of the first records
	n      int                      // stored
	heard  int                      // answers that came; each is given once
	broken bool                     // no more are sent: one was refused, or is in doubt
	lost   bool                     // the outcome of record n is not known
	until  time.Time                // answers are waited for; zero: each for the usual time
}

func (l *line) one() {
	l.n++
	l.stored()
}

// send sends a record behind the others.
func (l *line) send(r journal.Record) {
	i := len(l.recs)
	l.recs = append(l.recs, r)
	if l.broken || journal.Check(r) != nil {
		l.broken = true
		return
	}
	// The library does not send it again by itself: it would come behind those
	// that were sent after it.
	opts := []jetstream.PublishOpt{jetstream.WithExpectLastSequence(l.expect + uint64(i)), jetstream.WithRetryAttempts(0)}
	if i > 0 {
		opts = append(opts, jetstream.WithExpectLastMsgID(journal.EscapeValue(l.recs[i-1].ID)))
	}
	f, err := l.j.js.PublishMsgAsync(l.j.message(r), opts...)
	if err != nil {
		l.broken = true
		return
	}
	l.sent = append(l.sent, f)
}

// await waits for the answer to the first record that has none.
func (l *line) await() {
	if l.n == len(l.sent) {
		return
	}
	switch stored, open := l.answer(l.n); {
	case stored:
		l.one()
	default:
		l.broken, l.lost = true, open
	}
}

// settle waits for every answer, so that nothing is on its way any more. A
// record that is stored vouches for those before it.
func (l *line) settle() {
	l.until = time.Now().Add(l.j.timeout)
	for i := max(l.n, l.heard); i < len(l.sent); i++ {
		stored, open := l.answer(i)
		if stored {
			for l.n <= i {
				l.one()
			}
			l.lost = false
		}
		l.lost = l.lost || open
	}
}

// answer waits for the answer to record i: stored; else open says whether the
// outcome is not known.
func (l *line) answer(i int) (stored, open bool) {
	wait := l.j.timeout
	if !l.until.IsZero() {
		wait = time.Until(l.until)
	}
	limit := time.NewTimer(wait)
	defer limit.Stop()
	select {
	case ack := <-l.sent[i].Ok():
		l.heard = i + 1
		return !ack.Duplicate && ack.Sequence == l.expect+uint64(i)+1, false
	case err := <-l.sent[i].Err():
		l.heard = i + 1
		_, refused := errors.AsType[*jetstream.APIError](err)
		return false, !refused
	case <-limit.C:
		return false, true
	}
}
