package rpc_test

import (
	"context"
	"io"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"google.golang.org/grpc"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/fault"
	"seamwright/services/rpc"
)

// book is a rpc.Book that the test writes.
type book struct {
	mu      sync.Mutex
	at      map[string][]string
	changed chan struct{}
}

func newBook() *book { return &book{at: map[string][]string{}, changed: make(chan struct{})} }

func (b *book) Where(service string) ([]string, <-chan struct{}) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.Clone(b.at[service]), b.changed
}

func (b *book) put(service string, at ...string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.at[service] = at
	close(b.changed)
	b.changed = make(chan struct{})
}

// counted is a jobs service that counts what it records, and stores what it
// is told under its command ids as the real one does.
type counted struct {
	jobsv1.UnimplementedJobsServiceServer
	mu     sync.Mutex
	got    []string
	record func(ctx context.Context, id string) error
}

func (c *counted) Record(ctx context.Context, r *jobsv1.RecordRequest) (*jobsv1.RecordResponse, error) {
	c.mu.Lock()
	c.got = append(c.got, r.GetStamp().GetCommandId())
	c.mu.Unlock()
	return &jobsv1.RecordResponse{}, c.record(ctx, r.GetStamp().GetCommandId())
}

func (c *counted) calls() []string { c.mu.Lock(); defer c.mu.Unlock(); return slices.Clone(c.got) }

// instance starts a jobs service and tells its address.
func instance(t *testing.T, record func(ctx context.Context, id string) error) (*counted, *rpc.Server, string) {
	t.Helper()
	c := &counted{record: record}
	s := rpc.NewServer(rpc.Options{Log: quietLog()}, func(r grpc.ServiceRegistrar) { jobsv1.RegisterJobsServiceServer(r, c) })
	t.Cleanup(s.Stop)
	at, err := s.Listen("127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	return c, s, at.String()
}

func router(t *testing.T, b rpc.Book) *rpc.Router {
	t.Helper()
	r, err := rpc.NewRouter(b)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := r.Close(); err != nil {
			t.Error(err)
		}
	})
	return r
}

func told(id string) *jobsv1.RecordRequest {
	return &jobsv1.RecordRequest{
		Stamp: &floorv1.Stamp{CommandId: id, Actor: "Ansa Vellacorn", Terminal: "desk", Role: floorv1.Role_ROLE_FOREMAN, Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE}},
		Fact:  &jobsv1.RecordRequest_JobOpened{JobOpened: &jobsv1.JobOpened{Ro: "2207", Vehicle: "blue hatchback"}},
	}
}

func fine(context.Context, string) error { return nil }

func TestACommandGoesToAnotherInstanceWhenOneDies(t *testing.T) {
	b := newBook()
	r := router(t, b)
	first, server, at1 := instance(t, fine)
	second, _, at2 := instance(t, fine)
	b.put("jobs", at1, at2)
	jobs := jobsv1.NewJobsServiceClient(r)
	if _, err := jobs.Record(t.Context(), told("open-0001")); err != nil {
		t.Fatal(err)
	}
	server.Stop() // the book still names it
	if _, err := jobs.Record(t.Context(), told("open-0002")); err != nil {
		t.Fatal(err)
	}
	if a, b := first.calls(), second.calls(); !slices.Equal(a, []string{"open-0001"}) || !slices.Equal(b, []string{"open-0002"}) {
		t.Errorf("the first was told %v, the second %v", a, b)
	}
}

// An answer that was lost leaves open whether the command took effect: it is
// sent again under its id.
func TestACommandWhoseAnswerWasLostIsSentAgain(t *testing.T) {
	b := newBook()
	r := router(t, b)
	var once sync.Once
	c, _, at := instance(t, func(context.Context, string) (err error) {
		once.Do(func() {
			err = fault.New(fault.Unavailable, "append-outcome-unknown", "no answer", "send it again")
		})
		return err
	})
	b.put("jobs", at)
	if _, err := jobsv1.NewJobsServiceClient(r).Record(t.Context(), told("open-0001")); err != nil {
		t.Fatal(err)
	}
	if got := c.calls(); !slices.Equal(got, []string{"open-0001", "open-0001"}) {
		t.Errorf("told %v", got)
	}
}

func TestWhatWillNotPassIsNotSentAgain(t *testing.T) {
	for reason, kind := range map[string]fault.Kind{"fold-stopped": fault.Unavailable, "not-a-foreman": fault.Denied, "command-id-reused": fault.Exists} {
		c, _, at := instance(t, func(context.Context, string) error { return fault.New(kind, reason, "no", "") })
		b := newBook()
		b.put("jobs", at)
		if _, err := jobsv1.NewJobsServiceClient(router(t, b)).Record(t.Context(), told("open-0001")); !fault.Is(err, reason) {
			t.Errorf("%s: %v", reason, err)
		}
		if got := c.calls(); len(got) != 1 {
			t.Errorf("%s: told %d times", reason, len(got))
		}
	}
}

// A service that starts while a command waits gets it.
func TestACommandWaitsForItsService(t *testing.T) {
	b := newBook()
	r := router(t, b)
	done := make(chan error, 1)
	go func() {
		_, err := jobsv1.NewJobsServiceClient(r).Record(t.Context(), told("open-0001"))
		done <- err
	}()
	c, _, at := instance(t, fine)
	b.put("jobs", at)
	if err := <-done; err != nil || len(c.calls()) != 1 {
		t.Errorf("%v, told %v", err, c.calls())
	}
}

func TestNobodyThereIsSaidAtOnceToAQuery(t *testing.T) {
	r := router(t, newBook())
	begun := time.Now()
	_, err := boothv1.NewBoothServiceClient(r).GetGate(t.Context(), &boothv1.GetGateRequest{BoothId: "booth-1"})
	if !fault.Is(err, rpc.ReasonUnheard) || !strings.Contains(err.Error(), "seamwright serve booth") {
		t.Errorf("got %v", err)
	}
	if took := time.Since(begun); took > 5*time.Second {
		t.Errorf("the answer took %s", took)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 200*time.Millisecond)
	defer cancel()
	if _, err := jobsv1.NewJobsServiceClient(r).Record(ctx, told("open-0001")); fault.KindOf(err) != fault.Unavailable {
		t.Errorf("a command nobody takes: %v", err)
	}
	if err := r.Invoke(t.Context(), "/seamwright.none.v1.None/Do", &jobsv1.RecordRequest{}, &jobsv1.RecordResponse{}); fault.KindOf(err) != fault.Internal {
		t.Errorf("a service that no shop has: %v", err)
	}
}

// A connection learns a moment after the book that nobody is there, and first
// speaks of it in words that no reader of a screen understands.
func TestWhoIsMissingIsNamedInEachAnswer(t *testing.T) {
	_, _, at := instance(t, fine)
	for range 100 {
		b := newBook()
		b.put("booth", at)
		r := router(t, b)
		ask := func() error {
			_, err := boothv1.NewBoothServiceClient(r).GetGate(t.Context(), &boothv1.GetGateRequest{BoothId: "booth-1"})
			return err
		}
		if err := ask(); fault.Is(err, rpc.ReasonUnheard) {
			t.Fatalf("the booth service is there: %v", err)
		}
		b.put("booth")
		if err := ask(); !fault.Is(err, rpc.ReasonUnheard) {
			t.Fatalf("nobody is there: %v", err)
		}
		stream, err := boothv1.NewBoothServiceClient(r).WatchGate(t.Context(), &boothv1.WatchGateRequest{BoothId: "booth-1"})
		if err == nil {
			_, err = stream.Recv()
		}
		if !fault.Is(err, rpc.ReasonUnheard) {
			t.Fatalf("nobody is there to watch: %v", err)
		}
	}
}

func TestAServiceThatWaitsSaysSo(t *testing.T) {
	w, at, err := rpc.Wait("127.0.0.1:0", quietLog())
	if err != nil {
		t.Fatal(err)
	}
	c, err := rpc.Dial(at.String())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	h, err := healthpb.NewHealthClient(c).Check(t.Context(), &healthpb.HealthCheckRequest{})
	if err != nil || h.GetStatus() != healthpb.HealthCheckResponse_NOT_SERVING {
		t.Errorf("health %v, %v", h, err)
	}
	if _, err := jobsv1.NewJobsServiceClient(c).Record(t.Context(), told("open-0001")); !fault.Is(err, rpc.ReasonStarting) {
		t.Errorf("a command: %v", err)
	}
	w.Stop()
	next := rpc.NewServer(rpc.Options{Log: quietLog()}, func(grpc.ServiceRegistrar) {})
	defer next.Stop()
	if _, err := next.Listen(at.String()); err != nil {
		t.Errorf("the address is not free for the service itself: %v", err)
	}
}

func quietLog() *slog.Logger { return slog.New(slog.NewTextHandler(io.Discard, nil)) }
