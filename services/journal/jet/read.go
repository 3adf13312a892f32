package jet

import (
	"context"
	"errors"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"

	"seamwright/services/journal"
)

const (
	retryMin   = 20 * time.Millisecond
	retryMax   = 2 * time.Second  // between two attempts to make a reader
	forgetIdle = 30 * time.Second // the server drops a reader that went away
)

// Read calls fn for the records from number from to number to, or to the one
// that was last when it began. With Options.Silence it is an unavailable fault,
// "journal-silent", when no record comes for so long.
func (j *Journal) Read(ctx context.Context, from, to uint64, fn func(journal.Record) error) error {
	last, err := j.Last(ctx)
	if err != nil {
		return err
	}
	to = min(to, last)
	from = max(from, 1)
	if from > to {
		return nil
	}
	if j.silence > 0 {
		var end func()
		ctx, fn, end = j.watch(ctx, to, fn)
		defer end()
	}
	done := errors.New("read to the end")
	err = j.Follow(ctx, from, func(r journal.Record) error {
		if r.Seq > to { // the end itself is missing
			return &journal.GapError{Want: to, Got: r.Seq}
		}
		if err := fn(r); err != nil {
			return err
		}
		if r.Seq == to {
			return done
		}
		return nil
	})
	if errors.Is(err, done) {
		return nil
	}
	return err
}

// Follow calls fn for the records from number from on. It makes a new
// consumer whenever the old one fails, behind the last record handed over. It
// ends with the connection when that is closed for good.
func (j *Journal) Follow(ctx context.Context, from uint64, fn func(journal.Record) error) error {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	go func() { // so that Close ends a reader that waits
		select {
		case <-j.closed:
			cancel(journal.Closed())
		case <-ctx.Done():
		}
	}()
	f := follower{j: j, next: max(from, 1), fn: fn}
	wait := retryMin
	for {
		before := f.next
		err := f.run(ctx)
		if ctx.Err() != nil {
			return context.Cause(ctx)
		}
		if final, ok := errors.AsType[*finalError](err); ok {
			return final.err
		}
		if j.nc.IsClosed() { // for good: an interrupted one comes back by itself
			return journal.Closed()
		}
		if f.next > before {
			wait = retryMin
		}
		select {
		case <-time.After(wait):
		case <-ctx.Done():
		}
		wait = min(2*wait, retryMax)
	}
}

// follower is one Follow under way.
type follower struct {
	j    *Journal
	next uint64 // the number to be handed over next
	fn   func(journal.Record) error
}

// finalError ends Follow; any other error only ends a consumer.
type finalError struct{ err error }

func (e *finalError) Error() string { return e.err.Error() }

// errReread asks for a new consumer at once.
var errReread = errors.New("the reader has lost its place")

// run follows with one consumer until it fails.
func (f *follower) run(ctx context.Context) error {
	cons, err := f.j.stream.CreateConsumer(ctx, jetstream.ConsumerConfig{
		DeliverPolicy: jetstream.DeliverByStartSequencePolicy, OptStartSeq: f.next,
		AckPolicy: jetstream.AckNonePolicy, ReplayPolicy: jetstream.ReplayInstantPolicy,
		InactiveThreshold: forgetIdle, MemoryStorage: true, Replicas: 1,
	})
	if err != nil {
		return err
	}
	defer f.drop(ctx, cons)
	p, err := f.j.newPuller(cons.CachedInfo().Name)
	if err != nil {
		return err
	}
	defer p.stop()
	for {
		m, err := p.next(ctx)
		if err != nil {
			return err
		}
		if m == nil {
			if err := f.missed(ctx); err != nil {
				return err
			}
			continue
		}
		if err := f.hand(ctx, m); err != nil {
			return err
		}
	}
}

// hand gives one message to the function, if it is the next one.
func (f *follower) hand(ctx context.Context, m *nats.Msg) error {
	seq, err := streamSeq(m.Reply)
	if err != nil {
		return err
	}
	switch {
	case seq < f.next:
		return nil
	case seq > f.next:
		return f.hole(ctx, seq)
	}
	r, err := decode(seq, m.Header, m.Data)
	if err == nil {
		err = f.fn(r)
	}
	if err != nil {
		return &finalError{err}
	}
	f.next++
	return nil
}

// hole asks the stream itself whether the next record is missing: a reader
// may lose messages on the way that the store still has.
func (f *follower) hole(ctx context.Context, got uint64) error {
	_, err := f.j.stream.GetMsg(ctx, f.next)
	switch {
	case errors.Is(err, jetstream.ErrMsgNotFound):
		return &finalError{&journal.GapError{Want: f.next, Got: got}}
	case err != nil:
		return err
	}
	return errReread
}

// missed looks, after a silence, whether the stream has the next record or
// ought to have it.
func (f *follower) missed(ctx context.Context) error {
	last, err := f.j.Last(ctx)
	if err != nil || last < f.next {
		return err
	}
	return f.hole(ctx, 0)
}

// drop tells the server that the consumer is done with; if it does not hear
// it, it forgets the consumer by itself.
func (f *follower) drop(ctx context.Context, cons jetstream.Consumer) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), time.Second)
	defer cancel()
	_ = f.j.stream.DeleteConsumer(ctx, cons.CachedInfo().Name)
}
