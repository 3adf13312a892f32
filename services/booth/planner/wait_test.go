package planner

import (
	"slices"
	"strings"
	"testing"
	"time"

	"seamwright/services/calc/plan"
	"seamwright/services/floor"
)

// Nothing is late whichever way they go: loads of one colour are put together
// all the same, and what has begun is not parted from its place.
func TestLoadsOfAColourAreTogether(t *testing.T) {
	const setup = 25 * time.Minute
	for name, c := range map[string]struct {
		wait   float64
		frozen bool
		want   string
	}{
		"as they stand without a price": {0, false, "blue red blue"},
		"together":                      {3, false, "blue blue red"},
		"behind what has begun":         {3, true, "red blue blue"},
	} {
		t.Run(name, func(t *testing.T) {
			d := &Draft{At: monday, house: DefaultHouse()}

			d.Problem = plan.Problem{
				Start:  monday,
				Booths: []plan.Booth{{ID: "b1", Colour: "blue", Open: []plan.Interval{{From: monday, To: monday.Add(40 * time.Hour)}}}},
				Setups: map[string]map[string]time.Duration{"blue": {"red": setup, "blue": 0}, "red": {"blue": setup, "red": 0}},
			}
			at := monday
			for i, colour := range []string{"blue", "red", "blue"} {
				l := plan.Load{
					ID: string(rune('A' + i)), Booths: []string{"b1"}, Colour: colour, Process: time.Hour,
					Due: monday.Add(30 * time.Hour), Weight: 1, MissCost: 240, Wait: c.wait,
				}
				if i > 0 {
					at = at.Add(setup)
				}
				o := Load{ID: floor.LoadID(l.ID), RO: floor.RO(l.ID), Due: l.Due, Weight: 1, Booth: "b1", Start: at}
				if c.frozen && colour == "red" {
					l.Frozen = &plan.Frozen{Booth: "b1", Start: monday.Add(setup)}
					o.Begun, o.Start = true, l.Frozen.Start
				}
				at = at.Add(time.Hour)
				d.Loads, d.Problem.Loads = append(d.Loads, o), append(d.Problem.Loads, l)
			}
			s := DefaultSearch()
			s.Rounds = 50
			got, err := d.Solve(s)
			if err != nil {
				t.Fatal(err)
			}
			slices.SortFunc(got.Loads, func(a, b plan.PlannedLoad) int { return a.Start.Compare(b.Start) })
			var order []string
			for _, l := range got.Loads {
				order = append(order, d.Problem.Loads[l.Index].Colour)
			}
			if is := strings.Join(order, " "); is != c.want {
				t.Errorf("the order is %s, want %s", is, c.want)
			}
		})
	}
}
