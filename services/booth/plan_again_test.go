package booth_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/testing/protocmp"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/booth"
)

// The same floor at the same moment gives the same plan and the same events,
// whichever service plans and however often.
func TestTheSameFloorGivesTheSamePlan(t *testing.T) {
	play := func() (*boothv1.Plan, []string) {
		h := furnished(t)
		for i, ro := range []string{"2301", "2302", "2303", "2304", "2305"} {
			h.job(ro)
			h.promise(ro, time.Duration(3+i%2)*time.Hour, float64(1+i%3))
		}
		h.think()
		h.Tell(t, &boothv1.BoothFaulted{BoothId: "booth-1", What: "fan"})
		h.think()
		h.Tell(t, &boothv1.BoothReset{BoothId: "booth-1"})
		h.lay()
		return h.think(), h.told()
	}
	a, toldA := play()
	b, toldB := play()
	if d := cmp.Diff(a, b, protocmp.Transform()); d != "" {
		t.Errorf("plans differ:\n%s", d)
	}
	if d := cmp.Diff(toldA, toldB); d != "" || len(toldA) == 0 {
		t.Errorf("%d moves, others the second time:\n%s", len(toldA), d)
	}
}

// What happens within the debounce is planned for once, after it; what does
// not matter is not planned for.
func TestPlansAreMadeOnceForWhatComesTogether(t *testing.T) {
	h := furnished(t).keeper(booth.PlanOptions{Debounce: 20 * time.Second, Every: 10 * time.Minute})
	step := func() time.Time {
		t.Helper()
		next, err := h.plan.Step(t.Context(), h.Time.Now())
		if err != nil {
			t.Fatal(err)
		}
		return next
	}
	step()
	made, at := h.shown().GetNumber(), h.Time.Now()
	for _, ro := range []string{"2301", "2302", "2303"} {
		h.job(ro)
		h.pass(5 * time.Second)
		if next := step(); !next.Equal(at.Add(20 * time.Second)) {
			t.Errorf("it wants to be called at %s, want 20 s after its plan", next)
		}
	}
	if n := h.shown().GetNumber(); n != made {
		t.Errorf("within the debounce %d plans were made", n-made)
	}
	h.pass(5 * time.Second)
	if next := step(); !next.Equal(h.Time.Now().Add(10 * time.Minute)) {
		t.Errorf("with nothing to do it wants to be called at %s", next)
	}
	if n := h.shown(); n.GetNumber() != made+1 || len(n.GetLoads()) != 4 {
		t.Errorf("after it: plan %d, %d loads", n.GetNumber()-made, len(n.GetLoads()))
	}
	h.pass(time.Minute)
	h.at(&jobsv1.PhotoAttached{SeamId: seam, Sha256: zeros, MediaType: "image/jpeg"})
	h.read(21.2)
	step()
	if n := h.shown().GetNumber(); n != made+1 {
		t.Error("a picture and a reading were planned for at once")
	}
	h.pass(9 * time.Minute)
	step()
	if n := h.shown().GetNumber(); n != made+2 {
		t.Error("after ten minutes no plan was made with the new air")
	}
}
