package booth_test

import (
	"slices"
	"testing"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

func TestWhoMayAskAndWhen(t *testing.T) {
	h := ready(t)
	for role, word := range floorv1.Role_name {
		st := h.Stamp(floorv1.Role(role))
		if role == 0 || st.Role == floorv1.Role_ROLE_PAINTER || st.Role == floorv1.Role_ROLE_FOREMAN {
			continue
		}
		r, err := h.RequestPermit(t.Context(), &boothv1.RequestPermitRequest{Stamp: st, BoothId: "booth-1", LoadId: "2207-A"})
		if !fault.Is(err, "not-a-painter") {
			t.Errorf("%s: %v, %v", word, r, err)
		}
	}
	for _, kind := range []floorv1.AgeKind{floorv1.AgeKind_AGE_KIND_MEASURED, floorv1.AgeKind_AGE_KIND_CLAIMED, floorv1.AgeKind_AGE_KIND_SIGNED} {
		st := h.foreman()
		st.Age.Kind = kind
		if r, err := h.RequestPermit(t.Context(), &boothv1.RequestPermitRequest{Stamp: st, BoothId: "booth-1", LoadId: "2207-A"}); fault.KindOf(err) != fault.Invalid {
			t.Errorf("%s: %v, %v", kind, r, err)
		}
	}
	if got := h.permits(); len(got) != 0 {
		t.Errorf("permits: %v", got)
	}
	r, err := h.RequestPermit(t.Context(), &boothv1.RequestPermitRequest{Stamp: h.foreman(), BoothId: "booth-1", LoadId: "2207-A"})
	if err != nil || r.GetPermit() == nil || r.GetPermit().GetOverride() {
		t.Errorf("a foreman: %v, %v", r, err)
	}
}

// A silent bay is answered for by the painter, by name, and for this permit.
func TestThePainterConfirmsThatNothingWasTouched(t *testing.T) {
	h := ready(t)
	h.pass(6 * time.Minute)
	h.read(21)
	if r := h.ask(); !slices.Equal(names(r.GetReasons()), []string{floor.HoldSilent}) {
		t.Fatalf("silent bay: %v", r)
	}
	r, err := h.RequestPermit(t.Context(), &boothv1.RequestPermitRequest{Stamp: h.painter(), BoothId: "booth-1", LoadId: "2207-A", Untouched: true})
	if err != nil || r.GetPermit() == nil {
		t.Fatal(r, err)
	}
	ev, _, _ := h.Floor.Event(r.GetSequence())
	if got := ev.Body.(*boothv1.PermitIssued).GetUntouchedBy(); got != "Sel Thrushgate" {
		t.Errorf("confirmed by %q", got)
	}
	h.step()
	if got := h.permits(); len(got) != 1 {
		t.Errorf("permits: %v", got)
	}
}

// Many ask at once: one gets the permit, the others the reason.
func TestOfManyWhoAskAtOnceOneGetsThePermit(t *testing.T) {
	h := ready(t)
	var asks []*boothv1.RequestPermitRequest
	for range 8 {
		asks = append(asks, &boothv1.RequestPermitRequest{Stamp: h.painter(), BoothId: "booth-1", LoadId: "2207-A"})
	}
	given := make(chan bool, len(asks))
	for _, req := range asks {
		go func() {
			r, err := h.RequestPermit(t.Context(), req)
			if err != nil {
				t.Error(err)
			}
			given <- r.GetPermit() != nil
		}()
	}
	n := 0
	for range asks {
		if <-given {
			n++
		}
	}
	if got := h.permits(); n != 1 || !slices.Equal(got, []string{"issued"}) {
		t.Errorf("%d permits were given, the journal holds %v", n, got)
	}
}

// The same override told twice is one permit too.
func TestTheSameOverrideGivesOnePermit(t *testing.T) {
	h := held(t)
	req := &boothv1.OverrideRequest{Stamp: h.foreman(), BoothId: "booth-1", LoadId: "2207-A", Pin: "2468", Reason: "under trim", Minutes: 5}
	first, err := h.Override(t.Context(), req)
	if err != nil {
		t.Fatal(err)
	}
	again, err := h.Override(t.Context(), req)
	if err != nil || again.GetPermit().GetPermitId() != first.GetPermit().GetPermitId() {
		t.Errorf("again: %v, %v; want %v", again, err, first)
	}
	plain := &boothv1.RequestPermitRequest{Stamp: h.foreman(), BoothId: "booth-1", LoadId: "2207-A"}
	plain.Stamp.CommandId = req.Stamp.CommandId
	if r, err := h.RequestPermit(t.Context(), plain); !fault.Is(err, "command-id-reused") {
		t.Errorf("its id for a plain permit: %v, %v", r, err)
	}
}
