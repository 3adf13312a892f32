package jet_test

import (
	"context"
	"fmt"
	"testing"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
	"google.golang.org/protobuf/types/known/wrapperspb"

	"seamwright/services/floor"
	"seamwright/services/journal"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/journaltest"
	"seamwright/services/journal/tree"
)

// BenchmarkAppend puts side by side, on one disk in one run: a bare
// synchronous publish with an id, Append, Append with the proof, and a whole
// command through the writer (decide, append, proof, fold).
func BenchmarkAppend(b *testing.B) {
	b.Run("raw publish", func(b *testing.B) {
		s := newShop(b, jet.Options{})
		s.open(b)
		js, err := jetstream.New(s.connect(b))
		if err != nil {
			b.Fatal(err)
		}
		payload := make([]byte, 200)
		for i := 0; b.Loop(); i++ {
			m := nats.NewMsg("shop.demo.seam.2207.roof")
			m.Data = payload
			if _, err := js.PublishMsg(b.Context(), m, jetstream.WithMsgID(fmt.Sprint(i))); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("append", func(b *testing.B) {
		appendLoop(b, newShop(b, jet.Options{}).open(b))
	})
	b.Run("append with proof", func(b *testing.B) {
		appendLoop(b, keeper(b))
	})
	b.Run("batch of 20 with proof", func(b *testing.B) {
		k := keeper(b)
		var last uint64
		for i := 0; b.Loop(); i++ {
			recs := make([]journal.Record, 20)
			for n := range recs {
				recs[n] = record(b, fmt.Sprintf("%d-%d", i, n))
			}
			var err error
			if last, err = k.Append(b.Context(), last, recs...); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("command", func(b *testing.B) {
		w := journal.NewWriter(keeper(b), journaltest.NewFold())
		ctx, cancel := context.WithCancel(b.Context())
		ended := make(chan struct{})
		go func() { defer close(ended); _ = w.Run(ctx) }()
		for i := 0; b.Loop(); i++ {
			if _, err := w.Do(ctx, func(uint64) ([]floor.Event, error) {
				return []floor.Event{event(fmt.Sprint(i))}, nil
			}); err != nil {
				b.Fatal(err)
			}
		}
		cancel()
		<-ended
	})
}

// BenchmarkRead is how fast a fold is given its journal at the start.
func BenchmarkRead(b *testing.B) {
	const records = 20_000
	s := newShop(b, jet.Options{})
	j := s.open(b)
	for last := uint64(0); last < records; {
		recs := make([]journal.Record, journal.MaxBatch)
		for n := range recs {
			recs[n] = record(b, fmt.Sprintf("%d-%d", last, n))
		}
		var err error
		if last, err = j.Append(b.Context(), last, recs...); err != nil {
			b.Fatal(err)
		}
	}
	for b.Loop() {
		if err := j.Read(b.Context(), 1, journal.End, func(journal.Record) error { return nil }); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(records)*float64(b.N)/b.Elapsed().Seconds(), "records/s")
}

func keeper(b *testing.B) journal.Journal {
	s := newShop(b, jet.Options{})
	k, _, err := tree.Open(b.Context(), s.open(b), s.dir+"/proof")
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { k.Close() })
	return k
}

func appendLoop(b *testing.B, j journal.Journal) {
	for i := 0; b.Loop(); i++ {
		if _, err := j.Append(b.Context(), uint64(i), record(b, fmt.Sprint(i))); err != nil {
			b.Fatal(err)
		}
	}
}

func event(id string) floor.Event {
	e := journaltest.Event(id, 1)
	e.Body = wrapperspb.Bytes(make([]byte, 200))
	return e
}

func record(b *testing.B, id string) journal.Record {
	r, err := journal.Encode(event(id))
	if err != nil {
		b.Fatal(err)
	}
	return r
}
