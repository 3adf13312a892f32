package rpc_test

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"net"
	"strings"
	"sync"
	"testing"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/status"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/fault"
	"seamwright/services/rpc"
)

// gate answers what the gate is asked.
type gate struct {
	boothv1.UnimplementedBoothServiceServer
}

func (gate) GetGate(context.Context, *boothv1.GetGateRequest) (*boothv1.GetGateResponse, error) {
	return &boothv1.GetGateResponse{}, nil
}

func (gate) Hear(context.Context, *boothv1.HearRequest) (*boothv1.HearResponse, error) {
	return &boothv1.HearResponse{}, nil
}

func (gate) RequestPermit(context.Context, *boothv1.RequestPermitRequest) (*boothv1.RequestPermitResponse, error) {
	return &boothv1.RequestPermitResponse{}, nil
}

func (gate) WatchGate(_ *boothv1.WatchGateRequest, s grpc.ServerStreamingServer[boothv1.WatchGateResponse]) error {
	return s.Send(&boothv1.WatchGateResponse{})
}

// flooded is a server that lets most calls of a client in at a time, with one
// client at that limit: its calls stand in the handler until free is called.
type flooded struct {
	addr    string
	client  *grpc.ClientConn // of the flood
	entered chan string      // terminals whose calls came to the handler
	free    func()
	answers chan error // of the flood's calls
	swarm   chan error // of calls of many terminals
}

func flood(t *testing.T, most int) *flooded {
	t.Helper()
	f := &flooded{entered: make(chan string, 1000), answers: make(chan error, most), swarm: make(chan error, rpc.MaxConnCalls)}
	hold := make(chan struct{})
	f.free = sync.OnceFunc(func() { close(hold) })
	t.Cleanup(f.free)
	s := rpc.NewServer(rpc.Options{Log: slog.New(slog.NewTextHandler(io.Discard, nil)), MaxCalls: most}, func(r grpc.ServiceRegistrar) {
		jobsv1.RegisterJobsServiceServer(r, &held{entered: f.entered, hold: hold})
		boothv1.RegisterBoothServiceServer(r, gate{})
	})
	t.Cleanup(s.Stop)
	t.Cleanup(f.free)
	addr, err := s.Listen("127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	f.addr = addr.String()
	s.Healthy(true)
	f.client = f.dial(t)
	for range most {
		go func() {
			_, err := jobsv1.NewJobsServiceClient(f.client).Record(context.WithoutCancel(t.Context()), from("flooder"))
			f.answers <- err
		}()
	}
	for range most {
		<-f.entered
	}
	return f
}

// dial makes a connection without the client side of this package, so that
// the test sees what is on the wire.
func (f *flooded) dial(t *testing.T, opts ...grpc.DialOption) *grpc.ClientConn {
	t.Helper()
	c, err := grpc.NewClient("passthrough:///"+f.addr, append(opts, grpc.WithTransportCredentials(insecure.NewCredentials()))...)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c
}

// held keeps the facts of the flood and answers all others.
type held struct {
	jobsv1.UnimplementedJobsServiceServer
	entered chan string
	hold    chan struct{}
}

func (h *held) Record(_ context.Context, r *jobsv1.RecordRequest) (*jobsv1.RecordResponse, error) {
	h.entered <- r.GetStamp().GetTerminal()
	if r.GetStamp().GetTerminal() == "flooder" || r.GetStamp().GetActor() == "Flood" {
		<-h.hold
	}
	return &jobsv1.RecordResponse{}, nil
}

// ListJobs is a query, held for everybody.
func (h *held) ListJobs(_ context.Context, _ *jobsv1.ListJobsRequest) (*jobsv1.ListJobsResponse, error) {
	h.entered <- "query"
	<-h.hold
	return &jobsv1.ListJobsResponse{}, nil
}

func (h *held) WatchFloor(_ *jobsv1.WatchFloorRequest, s grpc.ServerStreamingServer[jobsv1.WatchFloorResponse]) error {
	if err := s.Send(&jobsv1.WatchFloorResponse{}); err != nil {
		return err
	}
	<-s.Context().Done()
	return s.Context().Err()
}

func from(terminal string) *jobsv1.RecordRequest {
	r := laid(&jobsv1.BeadLaid{})
	r.Stamp.Terminal = terminal
	return r
}

// refusedFor checks that an answer is a refusal which names the client, the
// limit and what to do.
func refusedFor(t *testing.T, err error, client string, limit int) {
	t.Helper()
	s := status.Convert(err)
	f := rpc.FromStatus(s)
	if s.Code() != codes.ResourceExhausted || f.Kind != fault.Unavailable || f.Reason != rpc.ReasonTooManyCalls {
		t.Fatalf("%v (%v), want %s", err, f, rpc.ReasonTooManyCalls)
	}
	for _, want := range []string{client, fmt.Sprintf("at most %d", limit), "same command id"} {
		if !strings.Contains(f.Error(), want) {
			t.Errorf("%q does not say %q", f, want)
		}
	}
}

// A client over its limit is refused by name while its other calls still
// stand, so at once, and is let in again when one of them is answered.
func TestOneCallTooManyIsRefusedAtOnceAndClearly(t *testing.T) {
	f := flood(t, 3)
	jobs := jobsv1.NewJobsServiceClient(f.client)
	for range 20 {
		_, err := jobs.Record(t.Context(), from("flooder"))
		refusedFor(t, err, "flooder", 3)
	}
	if len(f.entered) > 0 {
		t.Fatal("a call that was refused came to the handler")
	}
	f.free()
	for range 3 {
		if err := <-f.answers; err != nil {
			t.Errorf("a call within the limit: %v", err)
		}
	}
	if _, err := jobs.Record(t.Context(), from("flooder")); err != nil {
		t.Errorf("after the flood: %v", err)
	}
}

// Neither another terminal nor the same name at another address is refused
// while somebody floods; one that sends a call at a time, as an import does,
// never is.
func TestAFloodTakesNobodyElsesShare(t *testing.T) {
	f := flood(t, 3)
	elsewhere := f.dial(t, grpc.WithContextDialer(func(ctx context.Context, addr string) (net.Conn, error) {
		d := net.Dialer{LocalAddr: &net.TCPAddr{IP: net.IPv4(127, 0, 0, 2)}}
		return d.DialContext(ctx, "tcp", addr)
	}))
	ctx, cancel := context.WithCancel(t.Context())
	var spin sync.WaitGroup
	for range 4 {
		spin.Go(func() {
			for ctx.Err() == nil {
				_, _ = jobsv1.NewJobsServiceClient(f.client).Record(ctx, from("flooder"))
			}
		})
	}
	defer spin.Wait()
	defer cancel()
	for range 200 {
		if _, err := jobsv1.NewJobsServiceClient(f.client).Record(t.Context(), from("import")); err != nil {
			t.Fatalf("one call at a time: %v", err)
		}
	}
	done := make(chan error)
	for range 3 {
		go func() {
			_, err := jobsv1.NewJobsServiceClient(elsewhere).Record(ctx, from("flooder"))
			done <- err
		}()
	}
	for n := 0; n < 3; {
		if terminal := <-f.entered; terminal == "flooder" {
			n++
		}
	}
	f.free()
	for range 3 {
		if err := <-done; err != nil {
			t.Errorf("the same name elsewhere: %v", err)
		}
	}
}

// What the gate is asked and told passes on the flooder's own connection and
// for the flooder's own terminal, and so does the health service.
func TestTheGateIsNeverShed(t *testing.T) {
	f := flood(t, 2)
	booth := boothv1.NewBoothServiceClient(f.client)
	stamp := from("flooder").Stamp
	calls := map[string]func() error{
		"GetGate": func() error {
			_, err := booth.GetGate(t.Context(), &boothv1.GetGateRequest{BoothId: "B1"})
			return err
		},
		"Hear": func() error {
			_, err := booth.Hear(t.Context(), &boothv1.HearRequest{Terminal: "flooder"})
			return err
		},
		"RequestPermit": func() error {
			_, err := booth.RequestPermit(t.Context(), &boothv1.RequestPermitRequest{Stamp: stamp, BoothId: "B1", LoadId: "2207-A"})
			return err
		},
		"WatchGate": func() error {
			w, err := booth.WatchGate(t.Context(), &boothv1.WatchGateRequest{BoothId: "B1"})
			if err == nil {
				_, err = w.Recv()
			}
			return err
		},
		"health": func() error {
			_, err := healthpb.NewHealthClient(f.client).Check(t.Context(), &healthpb.HealthCheckRequest{})
			return err
		},
	}
	for name, call := range calls {
		for range 30 { // many more than the limit
			if err := call(); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		}
	}
	_, err := jobsv1.NewJobsServiceClient(f.client).Record(t.Context(), from("flooder"))
	refusedFor(t, err, "flooder", 2) // the flood was on all the time
}

// Queries have no stamp: they are their connection's, and so are streams.
func TestQueriesAndWatchesAreTheirConnections(t *testing.T) {
	f := flood(t, 2)
	c := f.dial(t)
	jobs := jobsv1.NewJobsServiceClient(c)
	for range 2 {
		go func() { _, _ = jobs.ListJobs(context.WithoutCancel(t.Context()), &jobsv1.ListJobsRequest{}) }()
		<-f.entered
	}
	_, err := jobs.ListJobs(t.Context(), &jobsv1.ListJobsRequest{})
	refusedFor(t, err, "the connection from 127.0.0.1", 2)
	if _, err := jobs.Record(t.Context(), from("tablet")); err != nil {
		t.Errorf("a terminal on the connection with many queries: %v", err)
	}
	watch := func(c *grpc.ClientConn) error {
		w, err := jobsv1.NewJobsServiceClient(c).WatchFloor(t.Context(), &jobsv1.WatchFloorRequest{})
		if err == nil {
			_, err = w.Recv()
		}
		return err
	}
	for range rpc.MaxWatches {
		if err := watch(c); err != nil {
			t.Fatal(err)
		}
	}
	refusedFor(t, watch(c), "the connection from 127.0.0.1", rpc.MaxWatches)
	if err := watch(f.dial(t)); err != nil {
		t.Errorf("on another connection: %v", err)
	}
}

// A connection does not get further by naming ever other terminals.
func TestManyTerminalsOnOneConnectionAreBounded(t *testing.T) {
	f := flood(t, 1)
	c := f.dial(t)
	call := func(ctx context.Context, terminal string) error {
		r := from(terminal)
		r.Stamp.Actor = "Flood"
		_, err := jobsv1.NewJobsServiceClient(c).Record(ctx, r)
		return err
	}
	for i := range rpc.MaxConnCalls {
		go func() { f.swarm <- call(context.WithoutCancel(t.Context()), fmt.Sprint("t", i)) }()
	}
	for range rpc.MaxConnCalls {
		<-f.entered
	}
	refusedFor(t, call(t.Context(), "one-more"), "the connection from 127.0.0.1", rpc.MaxConnCalls)
	f.free()
	for range rpc.MaxConnCalls {
		if err := <-f.swarm; err != nil {
			t.Fatal(err)
		}
	}
	if err := call(t.Context(), "one-more"); err != nil {
		t.Errorf("after the flood: %v", err)
	}
}
