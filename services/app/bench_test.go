package app_test

import (
	"testing"
	"time"

	"seamwright/services/app"
	"seamwright/services/clock"
	"seamwright/services/cures"
	"seamwright/services/floor"
	"seamwright/services/journal"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/natsd"
	"seamwright/services/journal/tree"
	"seamwright/services/past"
)

// events is how many events the journals of these benchmarks hold.
const events = 100_000

// keptShop fills a folder with a shop's journal and its proof, and stops.
func keptShop(tb testing.TB, dir string, seed uint64, n int) *past.Shop {
	tb.Helper()
	server, err := natsd.Start(natsd.Options{StoreDir: app.StoreFolder(dir), Name: "demo", Logger: quiet()})
	if err != nil {
		tb.Fatal(err)
	}
	defer server.Stop()
	nc, err := server.Connect("journal")
	if err != nil {
		tb.Fatal(err)
	}
	defer nc.Close()
	j, err := jet.Open(tb.Context(), nc, jet.Options{Shop: "shop"})
	if err != nil {
		tb.Fatal(err)
	}
	k, _, err := tree.Open(tb.Context(), j, app.ProofFolder(dir))
	if err != nil {
		tb.Fatal(err)
	}
	s, err := past.Fill(tb.Context(), k, seed, n)
	if err != nil {
		tb.Fatal(err)
	}
	if err := k.Close(); err != nil {
		tb.Fatal(err)
	}
	return s
}

// journalOn starts the server on a shop's folder and gives a function that
// opens the journal there, without its proof.
func journalOn(tb testing.TB, dir string) (open func() *jet.Journal) {
	tb.Helper()
	server, err := natsd.Start(natsd.Options{StoreDir: app.StoreFolder(dir), Logger: quiet()})
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(server.Stop)
	nc, err := server.Connect("journal")
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(nc.Close)
	return func() *jet.Journal {
		j, err := jet.Open(tb.Context(), nc, jet.Options{Shop: "shop"})
		if err != nil {
			tb.Fatal(err)
		}
		return j
	}
}

func perEvent(b *testing.B) {
	b.ReportMetric(events*float64(b.N)/b.Elapsed().Seconds(), "events/s")
}

// BenchmarkReplay is how fast a journal is folded: only read from disk, only
// decoded and folded, and all of it with the proof.
func BenchmarkReplay(b *testing.B) {
	dir := b.TempDir()
	keptShop(b, dir, 1, events)
	open := journalOn(b, dir)
	j := open()
	var recs []journal.Record
	b.Run("read", func(b *testing.B) {
		for b.Loop() {
			recs = recs[:0]
			if err := j.Read(b.Context(), 1, journal.End, func(r journal.Record) error {
				recs = append(recs, r)
				return nil
			}); err != nil {
				b.Fatal(err)
			}
		}
		perEvent(b)
	})
	b.Run("leaf", func(b *testing.B) {
		for b.Loop() {
			for _, r := range recs {
				tree.Leaf(r)
			}
		}
		perEvent(b)
	})
	var evs []floor.Event
	b.Run("decode", func(b *testing.B) {
		for b.Loop() {
			evs = evs[:0]
			for _, r := range recs {
				ev, err := journal.Decode(r)
				if err != nil {
					b.Fatal(err)
				}
				evs = append(evs, ev)
			}
		}
		perEvent(b)
	})
	b.Run("fold", func(b *testing.B) {
		for b.Loop() {
			f := floor.New()
			for _, ev := range evs {
				if err := f.Apply(ev); err != nil {
					b.Fatal(err)
				}
			}
		}
		perEvent(b)
	})
	recs, evs = nil, nil
	b.Run("all", func(b *testing.B) {
		for b.Loop() {
			k, _, _, err := app.Replay(b.Context(), open(), app.ProofFolder(dir))
			if err != nil {
				b.Fatal(err)
			}
			if err := k.Close(); err != nil {
				b.Fatal(err)
			}
		}
		perEvent(b)
	})
}

// BenchmarkStart is how long a shop's program takes from its start to its
// readiness, and its keeper to its first announcement.
func BenchmarkStart(b *testing.B) {
	dir := b.TempDir()
	s := keptShop(b, dir, 1, events)
	var keeper time.Duration
	for b.Loop() {
		a, err := app.New(app.Options{Dir: dir, Log: quiet(), Clock: clock.NewDriven(s.Now()), GRPC: "127.0.0.1:0"})
		if err != nil {
			b.Fatal(err)
		}
		if err := a.Start(b.Context()); err != nil {
			b.Fatal(err)
		}
		b.StopTimer()
		begun := time.Now()
		if _, err := cures.NewKeeper(a.Desk()).Step(b.Context(), s.Now()); err != nil {
			b.Fatal(err)
		}
		keeper += time.Since(begun)
		if err := a.Stop(); err != nil {
			b.Fatal(err)
		}
		b.StartTimer()
	}
	b.ReportMetric(keeper.Seconds()/float64(b.N), "s/keeper")
}
