package planner

import (
	"testing"
	"time"

	"seamwright/services/calc/plan"
)

// Neither of two loads is late whichever goes first: the one whose promise is
// nearer does, wherever it stands in the list.
func TestTheNearerPromiseGoesFirstWhereNothingIsLate(t *testing.T) {
	for _, near := range []int{0, 1} {
		d := &Draft{At: monday, house: DefaultHouse()}
		d.Problem = plan.Problem{
			Start:  monday,
			Booths: []plan.Booth{{ID: "b1", Colour: "blue", Open: []plan.Interval{{From: monday, To: monday.Add(10 * time.Hour)}}}},
			Setups: map[string]map[string]time.Duration{"blue": {"blue": 0}},
		}
		for i := range 2 {
			due := monday.Add(72 * time.Hour)
			if i == near {
				due = monday.Add(8 * time.Hour)
			}
			d.Loads = append(d.Loads, Load{Due: due, Weight: 1})
			d.Problem.Loads = append(d.Problem.Loads, plan.Load{
				ID: string(rune('A' + i)), Booths: []string{"b1"}, Colour: "blue", Process: time.Hour, Due: due, Weight: 1,
				Wait: d.house.Wait * nearness(monday, due),
			})
		}
		s := DefaultSearch()
		s.Rounds = 20
		got, err := d.Solve(s)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range got.Loads {
			if first := l.Start.Equal(monday); first != (l.Index == near) {
				t.Errorf("near %d: load %s starts at %s", near, l.ID, l.Start.Format("15:04"))
			}
		}
	}
}
