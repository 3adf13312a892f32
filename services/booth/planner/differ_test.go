package planner

import (
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
)

// What a move does to the car is told against what was: a load that comes
// earlier and is late all the same does not "make its car late" by it.
func TestHowLateIsToldAgainstWhatWas(t *testing.T) {
	at := time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC)
	plan := func(late float64, move time.Duration) *boothv1.Plan {
		return &boothv1.Plan{Now: timestamppb.New(at), Loads: []*boothv1.PlannedLoad{
			{LoadId: "A", BoothId: "booth-1", Start: timestamppb.New(at.Add(move)), LateMin: late},
		}}
	}
	for _, c := range []struct {
		was, is float64
		want    string
	}{
		{0, 0, "A starts 10 min earlier, at 10:00 instead of 10:10"},
		{86, 75.2, "A starts 10 min earlier, at 10:00 instead of 10:10, makes its car 75 min late, it was 86 min"},
		{0, 75, "A starts 10 min earlier, at 10:00 instead of 10:10, makes its car 75 min late"},
		{86, 0, "A starts 10 min earlier, at 10:00 instead of 10:10, no longer makes its car late"},
		{387418, 387415, "A starts 10 min earlier, at 10:00 instead of 10:10"}, // 269 days in each case
		{86, 85.5, "A starts 10 min earlier, at 10:00 instead of 10:10"},
	} {
		got := Differences(plan(c.was, 10*time.Minute), plan(c.is, 0))
		if len(got) != 1 || got[0].GetWhat() != c.want {
			t.Errorf("from %g to %g min late: %v, want %q", c.was, c.is, got, c.want)
		}
	}
}

// What has no colour is told without one.
func TestNoColourIsNotTold(t *testing.T) {
	for text, want := range map[string]string{
		"behind K, the colour run no colour goes on":                        "behind K",
		"behind K, after 5 min of setup, the colour run no colour goes on":  "behind K, after 5 min of setup",
		"behind K, after 20 min of setup to no colour, 5 min of slack left": "behind K, after 20 min of setup, 5 min of slack left",
	} {
		if got := plain(text); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
