package booth_test

import (
	"errors"
	"slices"
	"testing"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/booth"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// A ground that one event takes away and the next one gives back, between two
// looks of the gate, is lost: the permit shows HOLD at once, and is revoked
// by the next look for what the first event did.
func TestAGroundThatCameBackBetweenTwoLooksIsLost(t *testing.T) {
	for name, c := range map[string]struct {
		cause string
		do    func(*house)
	}{
		"a fault and its repair": {floor.HoldBoothFault, func(h *house) {
			h.Tell(h.t, &boothv1.BoothFaulted{BoothId: "booth-1", What: "fan"})
			h.Tell(h.t, &boothv1.BoothReset{BoothId: "booth-1", What: "belt"})
		}},
		"a disturbance and its withdrawal": {floor.HoldStop, func(h *house) {
			h.at(&jobsv1.BeadDisturbed{SeamId: seam, How: "a sleeve"})
			h.withdraw(&jobsv1.BeadDisturbed{SeamId: seam})
		}},
		"another booth and back": {floor.HoldWrongBooth, func(h *house) {
			for _, b := range []string{"booth-2", "booth-1"} {
				h.Tell(h.t, &boothv1.LoadPlanned{LoadId: "2207-A", BoothId: b, Ro: "2207", SeamIds: []string{seam}})
			}
		}},
	} {
		t.Run(name, func(t *testing.T) {
			h := ready(t)
			h.permit()
			c.do(h)
			if s := h.state(); s.GetSign() != boothv1.Sign_SIGN_HOLD || !slices.Contains(names(s.GetReasons()), c.cause) {
				t.Errorf("before the next look: %s %v, want HOLD for %s", s.GetSign(), names(s.GetReasons()), c.cause)
			}
			h.step()
			if got := h.permits(); len(got) != 2 || !has(got[1], c.cause) {
				t.Errorf("permits: %v, want one revoked for %s", got, c.cause)
			}
			h.step()
			h.permit() // who asks again gets leave
		})
	}
}

// What another process tells is looked at event by event as well.
func TestAGroundThatAnotherProcessTookAndGaveBackIsLost(t *testing.T) {
	h := ready(t)
	h.permit()
	d := h.other(h.Journal)
	other := &house{Shop: h.Shop, t: t}
	shop := *h.Shop
	shop.Desk = d
	other.Shop = &shop
	other.Tell(t, &boothv1.BoothFaulted{BoothId: "booth-1", What: "fan"})
	other.Tell(t, &boothv1.BoothReset{BoothId: "booth-1", What: "belt"})
	if err := h.Writer.Step(t.Context()); err != nil {
		t.Fatal(err)
	}
	h.step()
	if got := h.permits(); len(got) != 2 || !has(got[1], floor.HoldBoothFault) {
		t.Errorf("permits: %v", got)
	}
}

// A gate that was not called for longer than readers bear silence has lost
// its permits, by a clock that nobody sets; while it is not called it shows
// HOLD, and gives no leave.
func TestAPausedGateLosesItsPermits(t *testing.T) {
	h := ready(t)
	running := time.Duration(0)
	d := h.other(h.Journal)
	g := booth.NewGate(d, booth.Options{Holder: "gate-b", Running: func() time.Duration { return running }})
	b := h.serve(d, g)
	ask := func() *boothv1.RequestPermitResponse {
		t.Helper()
		r, err := b.RequestPermit(t.Context(), &boothv1.RequestPermitRequest{Stamp: h.painter(), BoothId: "booth-1", LoadId: "2207-A", Untouched: true})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	step := func() {
		t.Helper()
		if _, err := g.Step(t.Context(), h.Time.Now()); err != nil {
			t.Fatal(err)
		}
	}
	sign := func() *boothv1.Gate {
		t.Helper()
		r, err := b.GetGate(t.Context(), &boothv1.GetGateRequest{BoothId: "booth-1"})
		if err != nil {
			t.Fatal(err)
		}
		return r.GetGate()
	}
	if r := ask(); r.GetPermit() != nil || !slices.Contains(names(r.GetReasons()), floor.HoldGatePaused) {
		t.Errorf("before its first look: %v", r)
	}
	step()
	if r := ask(); r.GetPermit() == nil {
		t.Fatalf("held by %v", names(r.GetReasons()))
	}
	running += booth.Silence
	if s := sign(); s.GetSign() != boothv1.Sign_SIGN_CLEAR {
		t.Errorf("after %s: %s", booth.Silence, s.GetSign())
	}
	running++
	if s := sign(); s.GetSign() != boothv1.Sign_SIGN_HOLD || !slices.Contains(names(s.GetReasons()), floor.HoldGatePaused) {
		t.Errorf("longer: %s %v", s.GetSign(), names(s.GetReasons()))
	}
	step()
	step()
	if err := h.Writer.Step(t.Context()); err != nil {
		t.Fatal(err)
	}
	if got := h.permits(); len(got) != 2 || !has(got[1], floor.HoldGatePaused) {
		t.Errorf("permits: %v", got)
	}
	if r := ask(); r.GetPermit() == nil {
		t.Errorf("asked again: held by %v", names(r.GetReasons()))
	}
}

// Each trouble of the process has its own name, the deepest cause's; one that
// is not known here has the name that all others share; none can be overridden.
func TestTroublesOfTheProcessComeBackByName(t *testing.T) {
	h := ready(t)
	full := fault.New(fault.Unavailable, floor.HoldDiskFull, "no room", "free some")
	gap := fault.New(fault.Corrupt, floor.HoldGap, "record 7 is missing", "verify")
	h.fault = errors.Join(full, fault.Because(gap, fault.Unavailable, floor.HoldFoldStopped, "stopped", ""), errors.New("something else"))
	r := h.ask()
	want := []string{floor.HoldDiskFull, floor.HoldGap, floor.HoldUnhealthy}
	if got := names(r.GetReasons()); r.GetPermit() != nil || !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
	_, err := h.Override(h.ctx(), &boothv1.OverrideRequest{
		Stamp: h.foreman(), BoothId: "booth-1", LoadId: "2207-A", Pin: "2468", Reason: "I know better", Minutes: 5,
	})
	if !fault.Is(err, "beyond-override") {
		t.Errorf("overridden: %v", err)
	}
	if got := h.permits(); got != nil {
		t.Errorf("permits: %v", got)
	}
}

// A health that cannot be asked for is no health.
func TestAHealthThatPanicsHolds(t *testing.T) {
	h := ready(t)
	d := h.other(h.Journal)
	g := booth.NewGate(d, booth.Options{Holder: "gate-b", Health: func() error { panic("broken") }})
	b := h.serve(d, g)
	if _, err := g.Step(t.Context(), h.Time.Now()); err != nil {
		t.Fatal(err)
	}
	r, err := b.RequestPermit(t.Context(), &boothv1.RequestPermitRequest{Stamp: h.painter(), BoothId: "booth-1", LoadId: "2207-A", Untouched: true})
	if err != nil || r.GetPermit() != nil || !slices.Contains(names(r.GetReasons()), floor.HoldPanic) {
		t.Errorf("%v, %v", r, err)
	}
}
