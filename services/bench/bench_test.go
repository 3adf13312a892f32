package bench

import (
	"fmt"
	"log/slog"
	"sync"
	"sync/atomic"
	"testing"

	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/jobs"
	"seamwright/services/rpc"
)

// BenchmarkPost is what one fact costs on its way into the journal on this
// disk: bare, at the shop's desk, over gRPC, and until the wall board has it.
// It is for profiles; what is promised is measured by the command bench.
func BenchmarkPost(b *testing.B) {
	r := &rig{dir: b.TempDir(), log: slog.New(slog.DiscardHandler)}
	rec, err := sample()
	if err != nil {
		b.Fatal(err)
	}
	raw, err := newBare(b.Context(), r, rec)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(raw.stop)
	s, err := newShop(b.Context(), r, "shop", true)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		if err := s.stop(); err != nil {
			b.Error(err)
		}
	})
	conn, err := s.dial()
	if err != nil {
		b.Fatal(err)
	}
	client, desk, tablet := jobsv1.NewJobsServiceClient(conn), newTeller("desk", 1), newTeller("tablet", 1)
	for name, one := range map[string]func() error{
		"raw": func() error { return raw.publish(b.Context()) },
		"desk": func() error {
			_, err := s.app.Desk().Record(b.Context(), desk.command(desk.next()), jobs.Decide)
			return err
		},
		"grpc": func() error { _, err := client.Record(b.Context(), request(tablet.command(tablet.next()))); return err },
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if err := one(); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
	b.Run("screen", func(b *testing.B) { postsToBoard(b, s, client) })
}

func postsToBoard(b *testing.B, s *shop, client jobsv1.JobsServiceClient) {
	w, err := watchBoard(b.Context(), s.app.Addr().Screens)
	if err != nil {
		b.Fatal(err)
	}
	cars := &visitor{}
	for b.Loop() {
		resp, err := client.Record(b.Context(), cars.next())
		if err == nil {
			err = w.seen(b.Context(), resp.GetReceipt().GetSequence())
		}
		if err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkTogether is how many facts a second many appenders get through one
// desk.
func BenchmarkTogether(b *testing.B) {
	for _, workers := range []int{1, 8, 64, 256} {
		b.Run(fmt.Sprintf("appenders=%d", workers), func(b *testing.B) {
			s, err := newShop(b.Context(), &rig{dir: b.TempDir(), log: slog.New(slog.DiscardHandler)}, "shop", false)
			if err != nil {
				b.Fatal(err)
			}
			defer s.stop()
			var left atomic.Int64
			left.Store(int64(b.N))
			var all sync.WaitGroup
			b.ResetTimer()
			for i := range workers {
				all.Go(func() {
					for t := newTeller("desk", i); left.Add(-1) >= 0; {
						if _, err := s.app.Desk().Record(b.Context(), t.command(t.next()), jobs.Decide); err != nil {
							b.Error(err)
							return
						}
					}
				})
			}
			all.Wait()
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "facts/s")
		})
	}
}

// BenchmarkCheck is what it costs to see that a request is well formed.
func BenchmarkCheck(b *testing.B) {
	t := newTeller("tablet", 1)
	t.next() // a job
	r := request(t.command(t.next()))
	for b.Loop() {
		if err := rpc.Check(r); err != nil {
			b.Fatal(err)
		}
	}
}
