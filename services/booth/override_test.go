package booth_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

func (h *house) override(change func(*boothv1.OverrideRequest)) (*boothv1.OverrideResponse, error) {
	h.t.Helper()
	req := &boothv1.OverrideRequest{Stamp: h.foreman(), BoothId: "booth-1", LoadId: "2207-A", Pin: "2468", Reason: "customer waits, seam is under trim", Minutes: 10}
	if change != nil {
		change(req)
	}
	return h.Override(h.ctx(), req)
}

// held is a house whose load holds for a bead that was touched.
func held(t *testing.T) *house {
	t.Helper()
	h := ready(t)
	h.at(&jobsv1.BeadDisturbed{SeamId: seam, How: "a sleeve"})
	return h
}

func TestAnOverrideIsShownAsOne(t *testing.T) {
	h := held(t)
	r, err := h.override(nil)
	if err != nil || !r.GetPermit().GetOverride() || !slices.Equal(names(r.GetOverReasons()), []string{floor.HoldStop}) {
		t.Fatal(r, err)
	}
	if got := r.GetPermit().GetStartBy().AsTime().Sub(h.Time.Now()); got != 10*time.Minute {
		t.Errorf("good for %s, want 10m", got)
	}
	ev, _, _ := h.Floor.Event(r.GetSequence())
	b := ev.Body.(*boothv1.PermitIssued)
	if b.GetOverrideBy() != "Ansa Vellacorn" || b.GetOverrideReason() != "customer waits, seam is under trim" || len(b.GetOverReasons()) != 1 {
		t.Errorf("in the journal: %v", b)
	}
	h.step()
	if s := h.state(); s.GetSign() != boothv1.Sign_SIGN_OVERRIDE || !slices.Equal(names(s.GetReasons()), []string{floor.HoldStop}) {
		t.Errorf("shown as %v", s)
	}
	// What comes up later is answered for too, but not a fault of the booth.
	h.pass(6 * time.Minute)
	h.step()
	if s := h.state(); s.GetSign() != boothv1.Sign_SIGN_OVERRIDE {
		t.Errorf("with a silent bay: %v", s)
	}
	h.Tell(t, &boothv1.BoothFaulted{BoothId: "booth-1", What: "fan"})
	if s := h.state(); s.GetSign() != boothv1.Sign_SIGN_HOLD {
		t.Errorf("with a booth fault: %v", s)
	}
	h.step()
	if got := h.permits(); !slices.Equal(got, []string{"override", "revoked " + floor.HoldBoothFault}) {
		t.Errorf("permits: %v", got)
	}
}

// A foreman answers for what he was shown. A fact about a seam that he could
// not know ends his override: another stop, also on a seam that he overrode one
// of, or a bead that was never laid.
func TestAnOverrideEndsForAFactAboutASeam(t *testing.T) {
	for name, c := range map[string]struct {
		tell func(h *house, laid *floorv1.Receipt)
		want string
	}{
		"another stop": {func(h *house, _ *floorv1.Receipt) { h.at(&jobsv1.BeadDisturbed{SeamId: seam, How: "a hose"}) }, floor.HoldStop},
		"a recall": {func(h *house, _ *floorv1.Receipt) {
			h.Tell(t, &materialsv1.LotRecalled{LotId: "L1", Why: "lumps"})
		}, floor.HoldStop},
		"never laid": {func(h *house, laid *floorv1.Receipt) {
			h.Tell(t, &jobsv1.FactWithdrawn{Sequence: laid.GetSequence(), Why: "another car"})
		}, floor.HoldNotLaid},
	} {
		t.Run(name, func(t *testing.T) {
			h := open(t)
			h.furnish()
			laid := h.lay()
			h.wait(80 * time.Minute)
			h.at(&jobsv1.BeadDisturbed{SeamId: seam, How: "a sleeve"})
			if _, err := h.override(nil); err != nil {
				t.Fatal(err)
			}
			h.step()
			if s := h.state(); s.GetSign() != boothv1.Sign_SIGN_OVERRIDE {
				t.Fatalf("before it: %v", s)
			}
			c.tell(h, laid)
			if s := h.state(); s.GetSign() != boothv1.Sign_SIGN_HOLD {
				t.Errorf("after it: %v", s)
			}
			h.step()
			if got := h.permits(); len(got) != 2 || !strings.HasPrefix(got[1], "revoked") || !strings.Contains(got[1], c.want) {
				t.Errorf("permits: %v, want it revoked for %s", got, c.want)
			}
		})
	}
}

func TestAnOverrideEndsInItsTime(t *testing.T) {
	h := held(t)
	if _, err := h.override(func(r *boothv1.OverrideRequest) { r.Minutes = 15 }); err != nil {
		t.Fatal(err)
	}
	h.pass(15*time.Minute + time.Millisecond)
	if s := h.state(); s.GetSign() != boothv1.Sign_SIGN_HOLD {
		t.Errorf("after 15 minutes: %v", s)
	}
	h.step()
	if got := h.permits(); len(got) != 2 {
		t.Errorf("permits: %v", got)
	}
}

func TestWhatAnOverrideWants(t *testing.T) {
	h := held(t)
	for name, c := range map[string]struct {
		change func(*boothv1.OverrideRequest)
		kind   fault.Kind
	}{
		"a wrong PIN":      {func(r *boothv1.OverrideRequest) { r.Pin = "1111" }, fault.Denied},
		"no PIN":           {func(r *boothv1.OverrideRequest) { r.Pin = "" }, fault.Invalid},
		"a painter":        {func(r *boothv1.OverrideRequest) { r.Stamp = h.painter() }, fault.Denied},
		"a painter's role": {func(r *boothv1.OverrideRequest) { r.Stamp.Role = floorv1.Role_ROLE_PAINTER }, fault.Denied},
		"a painter as foreman": {func(r *boothv1.OverrideRequest) {
			r.Stamp = h.painter()
			r.Stamp.Role = floorv1.Role_ROLE_FOREMAN
		}, fault.Denied},
		"a stranger":     {func(r *boothv1.OverrideRequest) { r.Stamp.Actor = "Nobody Inparticular" }, fault.Denied},
		"no reason":      {func(r *boothv1.OverrideRequest) { r.Reason = "" }, fault.Invalid},
		"16 minutes":     {func(r *boothv1.OverrideRequest) { r.Minutes = 16 }, fault.Invalid},
		"no minutes":     {func(r *boothv1.OverrideRequest) { r.Minutes = 0 }, fault.Invalid},
		"a past":         {func(r *boothv1.OverrideRequest) { r.Stamp.Age.Kind = floorv1.AgeKind_AGE_KIND_CLAIMED }, fault.Invalid},
		"unknown load":   {func(r *boothv1.OverrideRequest) { r.LoadId = "9999-A" }, fault.Refused},
		"the wrong room": {func(r *boothv1.OverrideRequest) { r.BoothId = "booth-2" }, fault.Refused},
	} {
		if r, err := h.override(c.change); fault.KindOf(err) != c.kind {
			t.Errorf("%s: %v, %v; want a fault of kind %v", name, r, err, c.kind)
		}
	}
	if got := h.permits(); len(got) != 0 {
		t.Errorf("permits: %v", got)
	}
	clear := ready(t)
	if r, err := clear.override(nil); !fault.Is(err, "nothing-to-override") {
		t.Errorf("with nothing to override: %v, %v", r, err)
	}
}

// What no foreman can answer for.
func TestWhatIsBeyondOverride(t *testing.T) {
	for _, name := range []string{
		floor.HoldBoothFault, floor.HoldBoothBusy, floor.HoldWrongBooth, floor.HoldJobEnded, floor.HoldUnhealthy,
		floor.HoldBoothUnknown, floor.HoldLoadUnknown, floor.HoldLoadSprayed,
	} {
		h := ready(t)
		holds[name](h)
		if r, err := h.override(nil); !fault.Is(err, "beyond-override") {
			t.Errorf("%s: %v, %v", name, r, err)
		}
	}
	h := ready(t)
	h.permit()
	if r, err := h.override(nil); !fault.Is(err, "beyond-override") {
		t.Errorf("over a running permit: %v, %v", r, err)
	}
}
