package booth_test

import (
	"slices"
	"testing"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/booth"
	"seamwright/services/floor"
)

// A clock that was set forward makes no bead older, and one that was set back
// none younger: who cured across it is judged at the safe side.
func TestABeadIsJudgedByWhatItHasSurelyWaited(t *testing.T) {
	h := open(t)
	h.furnish()
	h.lay()
	h.wait(40 * time.Minute)
	jumps := []floor.Jump{{Was: h.Time.Now(), By: 40 * time.Minute}}
	h.wait(40 * time.Minute) // on the clock, in no time at all
	d := h.other(h.Journal)
	g := booth.NewGate(d, booth.Options{Holder: "gate-b", Jumps: func() []floor.Jump { return jumps }})
	b := h.serve(d, g)
	ask := func() *boothv1.RequestPermitResponse {
		t.Helper()
		if err := d.Writer.Step(t.Context()); err != nil {
			t.Fatal(err)
		}
		if _, err := g.Step(t.Context(), h.Time.Now()); err != nil {
			t.Fatal(err)
		}
		r, err := b.RequestPermit(t.Context(), &boothv1.RequestPermitRequest{Stamp: h.painter(), BoothId: "booth-1", LoadId: "2207-A", Untouched: true})
		if err != nil {
			t.Fatal(err)
		}
		if id := r.GetPermit().GetPermitId(); id != "" {
			if _, err := b.ReturnPermit(t.Context(), &boothv1.ReturnPermitRequest{Stamp: h.painter(), PermitId: id}); err != nil {
				t.Fatal(err)
			}
		}
		return r
	}
	r := ask()
	if r.GetPermit() != nil || !slices.Contains(names(r.GetReasons()), floor.HoldNotOpen) {
		t.Fatalf("after 40 minutes and a clock set forward by as much: %v, want %s", r, floor.HoldNotOpen)
	}
	until := r.GetReasons()[0].GetUntil().AsTime()
	if left := until.Sub(h.Time.Now()); left < 20*time.Minute || left > 45*time.Minute {
		t.Errorf("it will be clear in %s", left)
	}
	kept := jumps
	jumps = nil
	if r := ask(); r.GetPermit() == nil {
		t.Errorf("by its moments alone it is open: %v", names(r.GetReasons()))
	}
	jumps = kept
	h.wait(until.Sub(h.Time.Now()) + time.Minute)
	if r := ask(); r.GetPermit() == nil {
		t.Errorf("when it has waited long enough: %v", names(r.GetReasons()))
	}
	jumps = append(jumps, floor.Jump{Was: h.Time.Now(), By: -48 * time.Hour})
	if r := ask(); r.GetPermit() != nil || !slices.Contains(names(r.GetReasons()), floor.HoldMayClose) && !slices.Contains(names(r.GetReasons()), floor.HoldClosed) {
		t.Errorf("a clock set back by two days: %v", names(r.GetReasons()))
	}
}
