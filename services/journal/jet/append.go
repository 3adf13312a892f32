package jet

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
	"github.com/synadia-io/orbit.go/jetstreamext"

	"seamwright/services/fault"
	"seamwright/services/journal"
)

// codeBatchDuplicate is the server's refusal of a batch that holds an id
// which the stream remembers; the client library has no name for it.
const codeBatchDuplicate jetstream.ErrorCode = 10201

// attemptsFor is how long Append asks and sends again, in timeouts.
const attemptsFor = 3

// Append stores the records behind number expect. When an answer does not
// come in time it asks the stream what stands behind expect: its own records
// (stored), others (a conflict), nothing (it sends them again). Since every
// message expects that number, none of them can be stored twice or elsewhere.
func (j *Journal) Append(ctx context.Context, expect uint64, recs ...journal.Record) (uint64, error) {
	if err := journal.Check(recs...); err != nil {
		return 0, err
	}
	if err := j.open(); err != nil {
		return 0, err
	}
	return j.append(ctx, expect, recs, false)
}

// append is Append; sent says that the records may be stored, or on their
// way, from before.
func (j *Journal) append(ctx context.Context, expect uint64, recs []journal.Record, sent bool) (uint64, error) {
	give := time.Now().Add(attemptsFor * j.timeout)
	wait := retryMin
	for {
		last, err := j.attempt(ctx, expect, recs)
		taken, ok := errors.AsType[*journal.TakenError](err)
		var lost error // why the outcome of this attempt is not known
		switch {
		case err == nil:
			return last, nil
		case errors.Is(err, errMoved), ok && taken.Seq > expect: // it may be our own, of an earlier attempt
			if last, err = j.settle(ctx, expect, recs, sent); !errors.Is(err, errComing) {
				return last, err
			}
		case fault.KindOf(err) != fault.Internal:
			return 0, err
		default:
			lost, sent = err, true
			if last, err := j.Last(ctx); err == nil && last > expect {
				return j.settle(ctx, expect, recs, true)
			}
		}
		select {
		case <-time.After(wait):
		case <-ctx.Done():
		}
		if ctx.Err() != nil || time.Now().After(give) {
			if lost == nil && !sent {
				return 0, &journal.ConflictError{Expect: expect}
			}
			return 0, journal.Unsure(expect, cmp.Or(lost, errMoved))
		}
		wait = min(2*wait, retryMax)
	}
}

// errMoved is an attempt that met another last number than it expected.
var errMoved = errors.New("the stream's last sequence is another")

// errComing is an attempt that another one was before, whose record is not
// stored yet: of several servers the leader counts what it has handed to the
// others. Whether it will be stored shows in a moment.
var errComing = errors.New("another record is on its way to the servers")

// attempt sends the records once. An error that is not a fault and not
// errMoved leaves the outcome open.
func (j *Journal) attempt(ctx context.Context, expect uint64, recs []journal.Record) (uint64, error) {
	ctx, cancel := context.WithTimeout(ctx, j.timeout)
	defer cancel()
	if len(recs) == 1 {
		ack, err := j.js.PublishMsg(ctx, j.message(recs[0]), jetstream.WithExpectLastSequence(expect))
		if err != nil {
			return 0, j.outcome(ctx, recs, err)
		}
		if ack.Duplicate {
			return 0, &journal.TakenError{ID: recs[0].ID, Seq: ack.Sequence}
		}
		return ack.Sequence, nil
	}
	msgs := make([]*nats.Msg, len(recs))
	for i, r := range recs {
		msgs[i] = j.message(r)
	}
	msgs[0].Header.Set(jetstream.ExpectedLastSeqHeader, fmt.Sprint(expect))
	// Nothing is waited for but the last answer: it tells of a batch that the
	// server did not begin as well.
	ack, err := jetstreamext.PublishMsgBatch(ctx, j.js, msgs, jetstreamext.BatchFlowControl{})
	if err != nil {
		return 0, j.outcome(ctx, recs, err)
	}
	return ack.Sequence, nil
}

// outcome sorts the errors of one attempt.
func (j *Journal) outcome(ctx context.Context, recs []journal.Record, err error) error {
	api, ok := errors.AsType[*jetstream.APIError](err)
	if !ok {
		return err
	}
	switch api.ErrorCode {
	case jetstream.JSErrCodeStreamWrongLastSequence, jetstream.JSErrCodeStreamWrongLastSequenceConstant:
		return errMoved
	case codeBatchDuplicate:
		return j.findTaken(ctx, recs)
	}
	return unavailable(err)
}

// settle is called when the stream has gone beyond expect: it looks at who
// stands there. resent says that an earlier attempt of this call may have
// been stored.
func (j *Journal) settle(ctx context.Context, expect uint64, recs []journal.Record, resent bool) (uint64, error) {
	last, err := j.Last(ctx)
	if err != nil {
		return 0, journal.Unsure(expect, err)
	}
	switch {
	case last == expect:
		return 0, errComing
	case last < expect: // the caller is ahead of the stream
		return 0, &journal.ConflictError{Expect: expect, Last: last}
	}
	first, err := j.get(ctx, expect+1)
	if errors.Is(err, jetstream.ErrMsgNotFound) {
		return 0, &journal.GapError{Want: expect + 1}
	}
	if err != nil {
		return 0, journal.Unsure(expect, err)
	}
	switch {
	case first.ID != recs[0].ID:
		return 0, &journal.ConflictError{Expect: expect, Last: last}
	case resent && first.Same(recs[0]):
		// A batch is stored as a whole, so the first record speaks for all.
		return expect + uint64(len(recs)), nil
	}
	return 0, &journal.TakenError{ID: first.ID, Seq: expect + 1}
}

// get reads one record from the stream's leader.
func (j *Journal) get(ctx context.Context, seq uint64) (journal.Record, error) {
	m, err := j.stream.GetMsg(ctx, seq)
	if err != nil {
		return journal.Record{}, err
	}
	return decode(seq, m.Header, m.Data)
}

// findTaken looks up which id of a batch the stream remembers, since its
// refusal does not say. It reads the headers of the whole stream; a caller
// that keeps ids, as Writer does, never comes here.
func (j *Journal) findTaken(ctx context.Context, recs []journal.Record) error {
	ids := make(map[string]bool, len(recs))
	for _, r := range recs {
		ids[r.ID] = true
	}
	found := errors.New("found")
	var taken journal.TakenError
	err := j.Read(ctx, 1, journal.End, func(r journal.Record) error {
		if !ids[r.ID] {
			return nil
		}
		taken = journal.TakenError{ID: r.ID, Seq: r.Seq}
		return found
	})
	switch {
	case errors.Is(err, found):
		return &taken
	case err == nil:
		return unavailable(errors.New("the stream refuses a batch for an id that it does not hold"))
	}
	return err
}

// message gives a record its wire form. The message id is the command id,
// percent-encoded since headers are ASCII.
func (j *Journal) message(r journal.Record) *nats.Msg {
	m := &nats.Msg{Subject: j.prefix + r.Aggregate, Header: make(nats.Header, 24), Data: r.Payload}
	journal.ToLists(r, j.source, m.Header)
	m.Header.Set(jetstream.MsgIDHeader, journal.EscapeValue(r.ID))
	m.Header.Set(jetstream.ExpectedStreamHeader, j.name)
	return m
}

// decode undoes message. One of our headers that stands twice is none of ours.
func decode(seq uint64, header nats.Header, payload []byte) (journal.Record, error) {
	return journal.FromLists(seq, header, payload)
}
