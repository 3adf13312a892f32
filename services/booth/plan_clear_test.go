package booth_test

import (
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/booth"
	"seamwright/services/fault"
)

// A load is not put at a start that the plan could not keep: while another one
// is in the booth or was put there by hand, or while it has a permit itself.
func TestALoadIsNotPutWhereItCannotStand(t *testing.T) {
	put := func(h *planned, ro string, in time.Duration) error {
		_, err := h.Record(t.Context(), &boothv1.RecordRequest{Stamp: h.foreman(), Fact: &boothv1.RecordRequest_LoadPlanned{LoadPlanned: &boothv1.LoadPlanned{
			LoadId: ro + "-A", BoothId: "booth-1", Ro: ro, Colour: "blue", SeamIds: []string{ro + "/rd-l"},
			Start: timestamppb.New(h.Time.Now().Add(in)), Keep: boothv1.Keep_KEEP_START,
		}}})
		return err
	}
	shop := func() *planned {
		h := ready(t).keeper(booth.PlanOptions{})
		h.job("2208")
		h.read(21)
		return h
	}
	wants := func(err error, kind fault.Kind, says string) {
		t.Helper()
		if fault.KindOf(err) != kind || err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%v, want %q", err, says)
		}
	}

	h := shop()
	if err := put(h, "2208", 3*time.Hour); err != nil {
		t.Fatal(err)
	}
	wants(put(h, "2207", 3*time.Hour+10*time.Minute), fault.Invalid, "clear of load 2208-A, which is in booth-1 from")
	if err := put(h, "2208", 3*time.Hour+20*time.Minute); err != nil {
		t.Errorf("moved over its own place: %v", err)
	}
	if err := put(h, "2207", 30*time.Minute); err != nil {
		t.Errorf("clear of it: %v", err)
	}

	h = shop()
	r, err := h.RequestPermit(t.Context(), &boothv1.RequestPermitRequest{Stamp: h.painter(), BoothId: "booth-1", LoadId: "2207-A", Untouched: true})
	if err != nil || r.GetPermit() == nil {
		t.Fatalf("%v, %v", r, err)
	}
	before := h.seq()
	wants(put(h, "2207", 3*time.Hour), fault.Refused, "a permit for 2207-A runs in booth-1")
	wants(put(h, "2208", 10*time.Minute), fault.Invalid, "it is in it or about to be")
	h.Tell(t, &boothv1.SprayStarted{BoothId: "booth-1", LoadId: "2207-A", PermitId: r.GetPermit().GetPermitId()})
	wants(put(h, "2208", 10*time.Minute), fault.Invalid, "clear of load 2207-A, which is in booth-1 from")
	if h.seq() != before+1 {
		t.Errorf("the journal went from %d to %d, want the spraying only", before, h.seq())
	}
}
