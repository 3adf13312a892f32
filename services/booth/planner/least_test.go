package planner

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"seamwright/services/calc/plan"
	"seamwright/services/floor"
)

// A change at the head of the queue moves what gains by it, and does not
// shuffle what is sprayed tomorrow for next to nothing.
func TestNoMoreIsMovedThanGains(t *testing.T) {
	tomorrow := monday.Add(24 * time.Hour)
	d := &Draft{At: monday, house: DefaultHouse()}
	d.Problem = plan.Problem{
		Start:  monday,
		Booths: []plan.Booth{{ID: "b1", Colour: "blue", Open: []plan.Interval{{From: monday, To: monday.Add(150 * time.Minute)}, {From: tomorrow, To: tomorrow.Add(9 * time.Hour)}}}},
		Setups: map[string]map[string]time.Duration{"blue": {"blue": 0}},
	}
	add := func(id string, process, stood, due time.Duration, wait float64) {
		l := plan.Load{ID: id, Booths: []string{"b1"}, Colour: "blue", Process: process, Due: monday.Add(due), Weight: 1, MissCost: 240, Wait: wait}
		d.Problem.Loads = append(d.Problem.Loads, l)
		d.Loads = append(d.Loads, Load{ID: floor.LoadID(id), RO: floor.RO(id), Due: l.Due, Weight: 1, Booth: "b1", Start: monday.Add(stood)})
	}
	add("A", 90*time.Minute, 0, 5*time.Hour, 0)
	add("B", time.Hour, 90*time.Minute, time.Hour, 0)       // 90 min late as it stands
	add("C", 2*time.Hour, 24*time.Hour, 60*time.Hour, 0.05) // D before C would gain 3 weighted minutes of waiting
	add("D", time.Hour, 26*time.Hour, 60*time.Hour, 0.05)
	s := DefaultSearch()
	s.Rounds = 50
	free, err := plan.Solve(d.Problem, plan.Options{Seed: 1, Rounds: 50})
	if err != nil {
		t.Fatal(err)
	}
	if got := ordered(&free); got != "B A D C" {
		t.Fatalf("alone the search finds %s: this test asks nothing", got)
	}
	got, err := d.Solve(s)
	if err != nil {
		t.Fatal(err)
	}
	if is := ordered(&got); is != "B A C D" {
		t.Errorf("the order is %s, want B A C D", is)
	}
}

func ordered(p *plan.Plan) string {
	ls := slices.Clone(p.Loads)
	slices.SortFunc(ls, func(a, b plan.PlannedLoad) int { return a.Start.Compare(b.Start) })
	var ids []string
	for _, l := range ls {
		ids = append(ids, l.ID)
	}
	return strings.Join(ids, " ")
}

// Whatever is kept, the plan is worth the change, and what is left of the new
// one would not be worth another; a plan that was settled once stays.
func TestTheLeastChangeIsWorthIt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := anyDraft(t)
		from := d.standing()
		if from == nil {
			return
		}
		s := DefaultSearch()
		s.Rounds, s.Solve = 20, plan.Solve
		got, err := s.Solve(d.Problem, plan.Options{Seed: 1, Rounds: 20, More: s.within(), From: from})
		if err != nil {
			t.Fatal(err)
		}
		old, err := d.again(s, from)
		if err != nil {
			t.Fatal(err)
		}
		if !d.worth(s, &old, &got) {
			return
		}
		mix := d.least(s, &old, &got)
		if !d.worth(s, &old, &mix) || d.worth(s, &mix, &got) || unplaced(&mix) > unplaced(&got) {
			t.Fatalf("old %g, new %g, kept %g", old.Objective, got.Objective, mix.Objective)
		}
	})
}
