package bench

import (
	"context"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	healthpb "google.golang.org/grpc/health/grpc_health_v1"

	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/jobs"
)

// postToAck: one poster over TCP against one raw publisher.
func postToAck(ctx context.Context, r *rig) ([]Figure, error) {
	return beside(ctx, r, func(s *shop, b *bare) ([]Figure, error) {
		conn, err := s.dial()
		if err != nil {
			return nil, err
		}
		client, t := jobsv1.NewJobsServiceClient(conn), newTeller("tablet", 1)
		post := func() error {
			_, err := client.Record(ctx, request(t.command(t.next())))
			return err
		}
		publish := func() error { return b.publish(ctx) }
		p, err := take(pick(r, 11, 3), typical(r, publish), typical(r, post))
		if err != nil {
			return nil, err
		}
		f := Figure{Name: "post-to-ack", What: "one poster over gRPC, post to durable acknowledgement", Unit: "ms"}
		out := []Figure{f.against("raw sync publish", p, atMost(1.5))}
		// What is left to the shop beside its journal and the way to it.
		health := healthpb.NewHealthClient(conn)
		ask := func() error { _, err := health.Check(ctx, &healthpb.HealthCheckRequest{}); return err }
		if p, err = take(pick(r, 5, 2), typical(r, publish), typical(r, ask)); err != nil {
			return nil, err
		}
		f = Figure{Name: "idle-call", What: "a call over gRPC that does nothing", Unit: "ms"}
		return append(out, f.against("raw sync publish", p)), nil
	})
}

// typical is the median time of one thing, in milliseconds.
func typical(r *rig, one func() error) func() (float64, error) {
	return func() (float64, error) {
		took := make([]float64, pick(r, 250, 20))
		var err error
		for i := range took {
			if took[i], err = timed(one); err != nil {
				return 0, err
			}
		}
		return median(took), nil
	}
}

// appenders: goroutines at the shop's desk against one raw publisher.
func appenders(ctx context.Context, r *rig) ([]Figure, error) {
	return beside(ctx, r, func(s *shop, b *bare) ([]Figure, error) {
		var out []Figure
		for _, c := range []struct {
			n      int
			target float64
		}{{8, 0.9}, {64, 2}, {256, 5}} {
			tellers := make([]*teller, c.n)
			for i := range tellers {
				tellers[i] = newTeller(fmt.Sprintf("desk-%d", c.n), i)
			}
			p, err := rates(ctx, r, b, c.n, func(i int) error {
				_, err := s.app.Desk().Record(ctx, tellers[i].command(tellers[i].next()), jobs.Decide)
				return err
			})
			if err != nil {
				return nil, err
			}
			f := Figure{Name: fmt.Sprintf("appenders-%d", c.n), What: fmt.Sprintf("%d appenders in one process, durable events", c.n), Unit: "1/s"}
			out = append(out, f.against("one raw publisher", p, atLeast(c.target)))
		}
		return out, nil
	})
}

// posters: 64 clients over TCP against one raw publisher.
func posters(ctx context.Context, r *rig) ([]Figure, error) {
	return beside(ctx, r, func(s *shop, b *bare) ([]Figure, error) {
		const n = 64
		clients, tellers := make([]jobsv1.JobsServiceClient, n), make([]*teller, n)
		for i := range clients {
			conn, err := s.dial()
			if err != nil {
				return nil, err
			}
			clients[i], tellers[i] = jobsv1.NewJobsServiceClient(conn), newTeller("tablet", i)
		}
		p, err := rates(ctx, r, b, n, func(i int) error {
			_, err := clients[i].Record(ctx, request(tellers[i].command(tellers[i].next())))
			return err
		})
		if err != nil {
			return nil, err
		}
		f := Figure{Name: "posters-64", What: "64 posters over gRPC, durable facts", Unit: "1/s"}
		return []Figure{f.against("one raw publisher", p, atLeast(1))}, nil
	})
}

// beside opens a shop and bare JetStream on the same disk.
func beside(ctx context.Context, r *rig, measure func(*shop, *bare) ([]Figure, error)) (_ []Figure, err error) {
	rec, err := sample()
	if err != nil {
		return nil, err
	}
	b, err := newBare(ctx, r, rec)
	if err != nil {
		return nil, err
	}
	defer b.stop()
	s, err := newShop(ctx, r, "shop", false)
	if err != nil {
		return nil, err
	}
	defer func() {
		if e := s.stop(); err == nil {
			err = e
		}
	}()
	return measure(s, b)
}

// rates lets n workers go for a while, in turn with one raw publisher.
func rates(ctx context.Context, r *rig, b *bare, n int, one func(worker int) error) (pairs, error) {
	span := pick(r, 1500*time.Millisecond, 60*time.Millisecond)
	return take(pick(r, 7, 2),
		func() (float64, error) { return b.rate(ctx, span) },
		func() (float64, error) { return together(n, span, one) })
}

// together runs n workers side by side for a while and gives what they did
// per second. What was begun in time is finished and counted, in the time
// that it took.
func together(n int, span time.Duration, one func(worker int) error) (float64, error) {
	var done atomic.Int64
	var first atomic.Pointer[error]
	var all sync.WaitGroup
	begun := time.Now()
	for i := range n {
		all.Go(func() {
			for time.Since(begun) < span && first.Load() == nil {
				if err := one(i); err != nil {
					first.CompareAndSwap(nil, &err)
					return
				}
				done.Add(1)
			}
		})
	}
	all.Wait()
	if err := first.Load(); err != nil {
		return 0, *err
	}
	return float64(done.Load()) / time.Since(begun).Seconds(), nil
}
