package plan

import (
	"strings"
	"testing"
	"time"
)

// TestWhatEndsMovingAlong: what would be next, if a load and those behind it
// started later still, is named; each reckoned by hand.
func TestWhatEndsMovingAlong(t *testing.T) {
	behind := func(b Load) Problem {
		b.ID, b.Release = "B", hour(8, 30)
		return oneBooth(Load{ID: "A", Due: hour(20, 0), Weight: 1, LatestStart: b.LatestStart.Add(4 * time.Hour)}, b)
	}
	for name, c := range map[string]struct {
		problem Problem
		begin   bool
		want    string
	}{
		"the next one is late":        {behind(Load{Due: hour(10, 0), Weight: 1, LatestStart: hour(16, 0)}), false, "no slack if B behind it keeps its place, 30 min if those behind it move along (then B is late)"},
		"the next one is late now":    {behind(Load{Due: hour(9, 10), Weight: 1, LatestStart: hour(16, 0)}), false, "no slack if B behind it keeps its place"},
		"its own hours":               {behind(Load{Process: 3*time.Hour + 30*time.Minute, LatestStart: hour(16, 0)}), false, "no slack if B behind it keeps its place, 3 h 30 min if those behind it move along (then A is still in when B1 closes)"},
		"the next one's window":       {behind(Load{LatestStart: hour(9, 0)}), false, "30 min if those behind it move along (then B's window closes)"},
		"its latest start, in a shop": {behind(Load{LatestStart: hour(9, 0)}), true, "30 min if those behind it move along (then B is past its latest start); latest start 13:00"},
	} {
		t.Run(name, func(t *testing.T) {
			stood := &Plan{Loads: []PlannedLoad{{ID: "A", Booth: "B1", Start: morning}, {ID: "B", Booth: "B1", Start: hour(8, 30)}}}
			got, err := Solve(c.problem, Options{Rounds: 20, From: stood, Keep: 1})
			if err != nil {
				t.Fatal(err)
			}
			Explain(&c.problem, &got, Telling{Begin: c.begin})
			for _, l := range got.Loads {
				if l.ID == "A" && !strings.Contains(l.Why, "; "+c.want) && !strings.Contains(l.Why, ", "+c.want) {
					t.Errorf("why: %q, want %q", l.Why, c.want)
				}
			}
		})
	}
}
