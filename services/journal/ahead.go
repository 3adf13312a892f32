package journal

import (
	"context"
	"runtime"
	"sync"

	"seamwright/services/floor"
)

// How far a reading runs ahead of what takes it in.
const (
	chunkOf     = 128 // records that are worked on as one piece
	chunksAhead = 8
)

// ReadAhead reads like j.Read, but reads, works and takes at the same time:
// work is called for several records at once, by as many workers as the
// machine has processors, take in the caller's goroutine for one record after
// the other, in order, with what work made of it. newWork makes one worker's
// function, which only that worker calls. An error of take ends it and is
// returned; so does an error of the journal, once every record before it was
// taken.
func ReadAhead[T any](ctx context.Context, j Journal, from, to uint64, newWork func() func(Record) T, take func(Record, T) error) error {
	ctx, cancel := context.WithCancel(ctx)
	a := &ahead[T]{todo: make(chan *chunk[T], chunksAhead), order: make(chan *chunk[T], chunksAhead)}
	var all sync.WaitGroup
	defer all.Wait()
	defer cancel()
	for range runtime.GOMAXPROCS(0) {
		all.Go(func() { a.work(newWork()) })
	}
	var failed error
	all.Go(func() {
		defer close(a.order)
		defer close(a.todo)
		failed = a.read(ctx, j, from, to)
	})
	for c := range a.order {
		<-c.done
		for i, r := range c.recs {
			if err := take(r, c.made[i]); err != nil {
				return err
			}
		}
	}
	return failed
}

// ahead is one ReadAhead under way.
type ahead[T any] struct {
	todo  chan *chunk[T] // to be worked on
	order chan *chunk[T] // the same, in order
}

// chunk is a few records and what was made of them.
type chunk[T any] struct {
	recs []Record
	made []T
	done chan struct{}
}

// read cuts the journal into chunks. What comes before an error is handed on.
func (a *ahead[T]) read(ctx context.Context, j Journal, from, to uint64) error {
	var recs []Record
	hand := func() error {
		c := &chunk[T]{recs: recs, made: make([]T, len(recs)), done: make(chan struct{})}
		recs = nil
		select {
		case a.todo <- c:
		case <-ctx.Done():
			return ctx.Err()
		}
		select {
		case a.order <- c:
			return nil
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	err := j.Read(ctx, from, to, func(r Record) error {
		if recs == nil {
			recs = make([]Record, 0, chunkOf)
		}
		if recs = append(recs, r); len(recs) < chunkOf {
			return nil
		}
		return hand()
	})
	if len(recs) > 0 && ctx.Err() == nil {
		if stopped := hand(); stopped != nil {
			return stopped
		}
	}
	return err
}

func (a *ahead[T]) work(fn func(Record) T) {
	for c := range a.todo {
		for i, r := range c.recs {
			c.made[i] = fn(r)
		}
		close(c.done)
	}
}

// Events reads and decodes ahead, and hands on every record in order with its
// event or the error of its decoding.
func Events(ctx context.Context, j Journal, from, to uint64, each func(Record, floor.Event, error)) error {
	type decoded struct {
		ev  floor.Event
		err error
	}
	return ReadAhead(ctx, j, from, to, func() func(Record) decoded {
		d := NewDecoder()
		return func(r Record) (e decoded) {
			e.ev, e.err = d.Decode(r)
			return e
		}
	}, func(r Record, e decoded) error {
		each(r, e.ev, e.err)
		return nil
	})
}
