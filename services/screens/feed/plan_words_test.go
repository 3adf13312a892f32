package feed

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/screens"
)

// What the plan has to say to everybody stands on the wall: that it is not
// kept, and what is sprayed before the shift ends.
func TestPlanWords(t *testing.T) {
	friday := time.Date(2026, 3, 6, 14, 0, 0, 0, time.UTC)
	v := &view{now: friday, kept: &boothv1.Plan{
		Planning: true, Trouble: "the plan could not be made (planted); loads stand where they stood",
		ShiftEnd: []*boothv1.ShiftEnd{
			{LoadId: "2207-A", LatestStart: timestamppb.New(friday.Add(70 * time.Minute)), OpensAgain: timestamppb.New(friday.Add(65 * time.Hour)), Planned: true},
			{LoadId: "2214-A", LatestStart: timestamppb.New(friday.Add(90 * time.Minute)), OpensAgain: timestamppb.New(friday.Add(17 * time.Hour))},
		},
	}}
	want := []screens.PlanWord{
		{Text: "Booth plan: the plan could not be made (planted); loads stand where they stood", Trouble: true},
		{Text: "Spray 2207-A by 15:10 today or scuff Monday"},
		{Text: "Spray 2214-A by 15:30 today or scuff tomorrow (the plan has it later)", Trouble: true},
	}
	if d := cmp.Diff(want, v.planWords()); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if got := (&view{now: friday}).planWords(); len(got) > 0 {
		t.Errorf("without a plan: %v", got)
	}
}

// The plan's hours are marked where they are not those of the screens.
func TestThePlansHoursAreMarked(t *testing.T) {
	noon := time.Date(2026, 3, 6, 12, 0, 0, 0, time.FixedZone("there", 3*3600))
	const why = "waits for roof ditch L until 14:10"
	for zone, want := range map[string]string{
		"": why + " (times in UTC).", "there": why, "+03:00": why, "Etc/GMT-5": why + " (times in Etc/GMT-5).",
	} {
		v := &view{now: noon, kept: &boothv1.Plan{TimeZone: zone}}
		if got := v.inPlan(why); got != want {
			t.Errorf("%q: %q, want %q", zone, got, want)
		}
		if got := v.inPlan("put there by hand"); got != "put there by hand" {
			t.Errorf("%q: %q", zone, got)
		}
	}
}
