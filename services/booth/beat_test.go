package booth_test

import (
	"context"
	"testing"
	"time"

	"google.golang.org/grpc"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/booth"
	"seamwright/services/fault"
)

// watch opens a stream of beats that ends with the test.
func (h *house) watch(id string) (grpc.ServerStreamingClient[boothv1.WatchGateResponse], context.CancelFunc) {
	h.t.Helper()
	ctx, cancel := context.WithTimeout(h.ctx(), 2*time.Minute)
	h.t.Cleanup(cancel)
	w, err := h.WatchGate(ctx, &boothv1.WatchGateRequest{BoothId: id})
	if err != nil {
		h.t.Fatal(err)
	}
	return w, cancel
}

func next(t *testing.T, w grpc.ServerStreamingClient[boothv1.WatchGateResponse]) *boothv1.Gate {
	t.Helper()
	r, err := w.Recv()
	if err != nil {
		t.Fatal(err)
	}
	return r.GetGate()
}

// A watcher that keeps up sees every beat, each one more than the last, with
// the sign of its moment.
func TestBeatsAdvanceByOne(t *testing.T) {
	h := ready(t)
	w, _ := h.watch("booth-1")
	last := next(t, w)
	if last.GetSign() != boothv1.Sign_SIGN_HOLD || last.GetHolder() != "gate-a" {
		t.Errorf("before anybody asked: %v", last)
	}
	h.permit()
	for n := range 4 {
		h.pass(time.Second)
		h.step()
		g := next(t, w)
		if g.GetBeat() != last.GetBeat()+1 || g.GetSign() != boothv1.Sign_SIGN_CLEAR || !g.GetNow().AsTime().Equal(h.Time.Now()) {
			t.Errorf("beat %d after %d: %v", g.GetBeat(), last.GetBeat(), g)
		}
		last = g
		if n == 3 {
			h.fault = context.DeadlineExceeded
		}
	}
	h.step()
	if g := next(t, w); g.GetSign() != boothv1.Sign_SIGN_HOLD || g.GetBeat() != last.GetBeat()+1 {
		t.Errorf("unhealthy: %v", g)
	}
}

// A gate that is not stepped any more is silent: its watchers get nothing,
// and what can be asked for does not advance.
func TestAStoppedGateFallsSilent(t *testing.T) {
	h := ready(t)
	h.permit()
	h.step()
	beat := h.state().GetBeat()
	w, cancel := h.watch("booth-1")
	next(t, w)
	got := make(chan *boothv1.Gate, 1)
	done := make(chan struct{})
	go func() {
		defer close(done)
		if r, err := w.Recv(); err == nil {
			got <- r.GetGate()
		}
	}()
	h.pass(5 * time.Second) // and nobody looks
	for range 3 {
		if s := h.state(); s.GetBeat() != beat {
			t.Errorf("beat %d without a look, after %d", s.GetBeat(), beat)
		}
	}
	cancel()
	<-done
	select {
	case g := <-got:
		t.Errorf("a beat of a stopped gate: %v", g)
	default:
	}
}

// A watcher that does not read misses beats, and then gets the newest. More
// beats are made than any buffer on the way holds.
func TestASlowWatcherGetsTheNewest(t *testing.T) {
	h := ready(t)
	w, _ := h.watch("booth-1")
	first := next(t, w)
	const beats = 8_000
	for range beats {
		h.step()
	}
	want := first.GetBeat() + beats
	last, seen := first.GetBeat(), 0
	for last < want {
		g := next(t, w)
		if g.GetBeat() <= last {
			t.Fatalf("beat %d after %d", g.GetBeat(), last)
		}
		last = g.GetBeat()
		seen++
	}
	if last != want {
		t.Errorf("the last beat is %d, want %d", last, want)
	}
	if seen == beats {
		t.Errorf("all %d beats waited for a watcher that did not read", seen)
	}
}

func TestUnknownBooths(t *testing.T) {
	h := ready(t)
	if r, err := h.GetGate(t.Context(), &boothv1.GetGateRequest{BoothId: "booth-9"}); fault.KindOf(err) != fault.NotFound {
		t.Errorf("shown: %v, %v", r, err)
	}
	w, _ := h.watch("booth-9")
	if r, err := w.Recv(); fault.KindOf(err) != fault.NotFound {
		t.Errorf("watched: %v, %v", r, err)
	}
	r, err := h.RequestPermit(t.Context(), &boothv1.RequestPermitRequest{Stamp: h.painter(), BoothId: "booth-9", LoadId: "2207-A"})
	if err != nil || r.GetPermit() != nil || len(r.GetReasons()) == 0 {
		t.Errorf("asked: %v, %v", r, err)
	}
}

// A gate in driven time that nobody watches says when it wants to be called:
// each second while a permit runs, else only when the journal moves.
func TestAQuietGateLooksWhileAPermitRuns(t *testing.T) {
	h := ready(t)
	d := h.other(h.Journal)
	g := booth.NewGate(d, booth.Options{Holder: "gate-q", Quiet: true})
	b := h.serve(d, g)
	if at, err := g.Step(t.Context(), h.Time.Now()); err != nil || !at.IsZero() {
		t.Errorf("without a permit: %s, %v", at, err)
	}
	if r, err := b.RequestPermit(t.Context(), &boothv1.RequestPermitRequest{Stamp: h.painter(), BoothId: "booth-1", LoadId: "2207-A", Untouched: true}); err != nil || r.GetPermit() == nil {
		t.Fatal(r, err)
	}
	if at, err := g.Step(t.Context(), h.Time.Now()); err != nil || !at.Equal(h.Time.Now().Add(time.Second)) {
		t.Errorf("with a permit: %s, %v", at, err)
	}
}
