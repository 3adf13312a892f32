package rpc_test

import (
	"bytes"
	"context"
	"errors"
	"io"
	"log/slog"
	"net"
	"strings"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"
	"google.golang.org/grpc"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"
	reflectionpb "google.golang.org/grpc/reflection/grpc_reflection_v1"

	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/fault"
	"seamwright/services/rpc"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// floorless answers as a handler would that went wrong in a chosen way.
type floorless struct {
	jobsv1.UnimplementedJobsServiceServer
	record func(context.Context) error
}

func (f *floorless) Record(ctx context.Context, _ *jobsv1.RecordRequest) (*jobsv1.RecordResponse, error) {
	return &jobsv1.RecordResponse{}, f.record(ctx)
}

func (f *floorless) WatchFloor(_ *jobsv1.WatchFloorRequest, s grpc.ServerStreamingServer[jobsv1.WatchFloorResponse]) error {
	if err := s.Send(&jobsv1.WatchFloorResponse{}); err != nil {
		return err
	}
	<-s.Context().Done()
	return context.Cause(s.Context())
}

// logs is a log that may be written to and read at once.
type logs struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *logs) Write(p []byte) (int, error) { l.mu.Lock(); defer l.mu.Unlock(); return l.b.Write(p) }

func (l *logs) String() string { l.mu.Lock(); defer l.mu.Unlock(); return l.b.String() }

// serve starts a server and gives a client of each of the three ways in.
func serve(t *testing.T, record func(context.Context) error) (*rpc.Server, map[string]jobsv1.JobsServiceClient, *logs) {
	t.Helper()
	log := &logs{}
	s := rpc.NewServer(rpc.Options{Log: slog.New(slog.NewTextHandler(log, &slog.HandlerOptions{Level: slog.LevelDebug}))},
		func(r grpc.ServiceRegistrar) { jobsv1.RegisterJobsServiceServer(r, &floorless{record: record}) })
	t.Cleanup(s.Stop)
	addr, err := s.Listen("127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	clients := make(map[string]jobsv1.JobsServiceClient)
	for name, dial := range map[string]func() (*grpc.ClientConn, error){
		"in process": s.Dial, "over TCP": func() (*grpc.ClientConn, error) { return rpc.Dial(addr.String()) },
	} {
		c, err := dial()
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { c.Close() })
		clients[name] = jobsv1.NewJobsServiceClient(c)
	}
	clients["without the wire"] = jobsv1.NewJobsServiceClient(s.Direct())
	return s, clients, log
}

func TestAPanicIsAnInternalErrorAndTheServerGoesOn(t *testing.T) {
	broken := true
	_, clients, log := serve(t, func(context.Context) error {
		if broken {
			panic("lost in the stock room")
		}
		return nil
	})
	for name, c := range clients {
		broken = true
		_, err := c.Record(t.Context(), laid(&jobsv1.BeadLaid{}))
		if fault.KindOf(err) != fault.Internal || strings.Contains(err.Error(), "stock room") {
			t.Errorf("%s: %v, want a neutral internal fault", name, err)
		}
		broken = false
		if _, err := c.Record(t.Context(), laid(&jobsv1.BeadLaid{})); err != nil {
			t.Errorf("%s, after the panic: %v", name, err)
		}
	}
	if !strings.Contains(log.String(), "lost in the stock room") {
		t.Error("the log does not tell what happened")
	}
}

func TestAnUnknownErrorKeepsItsTextInTheLog(t *testing.T) {
	_, clients, log := serve(t, func(context.Context) error { return errors.New("disk sda1 on fire") })
	_, err := clients["over TCP"].Record(t.Context(), laid(&jobsv1.BeadLaid{}))
	if fault.KindOf(err) != fault.Internal || strings.Contains(err.Error(), "sda1") {
		t.Errorf("got %v", err)
	}
	for _, want := range []string{"disk sda1 on fire", "code=Internal", "method=/seamwright.jobs.v1.JobsService/Record", "took="} {
		if !strings.Contains(log.String(), want) {
			t.Errorf("the log lacks %q:\n%s", want, log)
		}
	}
}

func TestIllFormedRequestsDoNotReachTheHandler(t *testing.T) {
	reached := false
	_, clients, _ := serve(t, func(context.Context) error { reached = true; return nil })
	for name, c := range clients {
		_, err := c.Record(t.Context(), laid(&jobsv1.BeadLaid{SeamId: "roof ditch"}))
		f, ok := errors.AsType[*fault.Error](err)
		if !ok || f.Kind != fault.Invalid || len(f.Fields) != 1 || f.Fields[0].Path != "bead_laid.seam_id" || f.Fields[0].Value != `"roof ditch"` {
			t.Errorf("%s: %#v", name, err)
		}
	}
	if reached {
		t.Error("the handler was reached")
	}
}

func TestACallHasADeadline(t *testing.T) {
	var left time.Duration
	_, clients, _ := serve(t, func(ctx context.Context) error {
		at, ok := ctx.Deadline()
		if !ok {
			return errors.New("no deadline")
		}
		left = time.Until(at)
		return nil
	})
	for name, c := range clients {
		if _, err := c.Record(t.Context(), laid(&jobsv1.BeadLaid{})); err != nil || left > 15*time.Second || left < 10*time.Second {
			t.Errorf("%s: %s left, %v; want the client's 15 s", name, left, err)
		}
	}
}

// A call that runs out of time says what to look at, whoever noticed first.
func TestACallThatRunsOutOfTime(t *testing.T) {
	_, clients, _ := serve(t, func(ctx context.Context) error {
		<-ctx.Done()
		return ctx.Err()
	})
	for name, c := range clients {
		ctx, cancel := context.WithTimeout(t.Context(), 20*time.Millisecond)
		_, err := c.Record(ctx, laid(&jobsv1.BeadLaid{}))
		cancel()
		if fault.KindOf(err) != fault.Unavailable || !strings.Contains(err.Error(), "did not get done in time") || strings.Contains(err.Error(), "context") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestStopEndsStreamsAndSaysSo(t *testing.T) {
	s, clients, _ := serve(t, nil)
	for name, c := range clients {
		stream, err := c.WatchFloor(t.Context(), &jobsv1.WatchFloorRequest{})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := stream.Recv(); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		defer func() {
			if _, err := stream.Recv(); fault.KindOf(err) != fault.Unavailable || errors.Is(err, io.EOF) {
				t.Errorf("%s: the stream ended with %v, want unavailable", name, err)
			}
		}()
	}
	begun := time.Now()
	s.Stop()
	if took := time.Since(begun); took > 2*time.Second {
		t.Errorf("Stop took %s with two watchers", took)
	}
}

func TestATakenPortIsNamed(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	s, _, _ := serve(t, nil)
	if _, err := s.Listen(l.Addr().String()); !fault.Is(err, "port-taken") || !strings.Contains(err.Error(), l.Addr().String()) {
		t.Errorf("got %v", err)
	}
}

func TestNobodyAtTheAddress(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	addr := l.Addr().String()
	l.Close()
	c, err := rpc.Dial(addr)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	_, err = jobsv1.NewJobsServiceClient(c).ListJobs(t.Context(), &jobsv1.ListJobsRequest{})
	if fault.KindOf(err) != fault.Unavailable || !strings.Contains(err.Error(), "check that a shop runs") {
		t.Errorf("got %v", err)
	}
}

func TestHealthAndReflection(t *testing.T) {
	s, _, _ := serve(t, nil)
	c, err := s.Dial()
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	for _, ok := range []bool{true, false} {
		s.Healthy(ok)
		r, err := healthpb.NewHealthClient(c).Check(t.Context(), &healthpb.HealthCheckRequest{})
		if err != nil || (r.Status == healthpb.HealthCheckResponse_SERVING) != ok {
			t.Errorf("Healthy(%v): %v, %v", ok, r, err)
		}
	}
	names, err := reflectionpb.NewServerReflectionClient(c).ServerReflectionInfo(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if err := names.Send(&reflectionpb.ServerReflectionRequest{MessageRequest: &reflectionpb.ServerReflectionRequest_ListServices{}}); err != nil {
		t.Fatal(err)
	}
	r, err := names.Recv()
	if err != nil || !strings.Contains(r.String(), "seamwright.jobs.v1.JobsService") {
		t.Errorf("reflection: %v, %v", r, err)
	}
	if err := names.CloseSend(); err != nil {
		t.Error(err)
	}
}
