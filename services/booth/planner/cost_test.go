package planner

import (
	"testing"
	"time"

	"seamwright/services/calc/plan"
	"seamwright/services/floor"
)

// costed is a draft of three loads, the first two of one car.
func costed() *Draft {
	due := monday.Add(4 * time.Hour)
	d := &Draft{At: monday, house: DefaultHouse()}
	for i, ro := range []floor.RO{"2207", "2207", "2208"} {
		d.Loads = append(d.Loads, Load{RO: ro, Due: due, Weight: 3})
		d.Problem.Loads = append(d.Problem.Loads, plan.Load{ID: string(rune('A' + i)), Due: due, Weight: 3, MissCost: 100, Wait: 1})
	}
	return d
}

// A car is late by its last load, once, however many of its loads are; a
// missed window is paid for each load; waiting is not.
func TestACarIsLateOnce(t *testing.T) {
	p := plan.Plan{Objective: 9999, Loads: []plan.PlannedLoad{
		{Index: 0, Booth: "b", LateMin: 36}, {Index: 1, Booth: "b", LateMin: 101}, {Index: 2, Booth: "b", LateMin: 10, Missed: true},
	}}
	if got := costed().cost(&p); got != 3*101+3*10+100 {
		t.Errorf("cost %g, want 433", got)
	}
}

// Loads are not moved for a plan that is dearer as people see it, whatever
// waiting it saves, nor for one that gains too little.
func TestADearerPlanIsNotTaken(t *testing.T) {
	d := costed()
	of := func(objective, late float64) *plan.Plan {
		return &plan.Plan{Objective: objective, Loads: []plan.PlannedLoad{{Index: 0, Booth: "b", LateMin: late}, {Index: 1, Booth: "b"}, {Index: 2, Booth: "b"}}}
	}
	s := DefaultSearch()
	old := of(1000, 40)
	for name, c := range map[string]struct {
		got  *plan.Plan
		want bool
	}{
		"dearer, less waiting":       {of(500, 41), false},
		"cheaper":                    {of(900, 10), true},
		"as dear, much less waiting": {of(900, 40), true},
		"as dear, less waiting":      {of(950, 40), false},
		"a little cheaper":           {of(980, 33), true},
		"hardly cheaper":             {of(990, 37), false},
	} {
		if got := d.worth(s, old, c.got); got != c.want {
			t.Errorf("%s: taken %t, want %t", name, got, c.want)
		}
	}
}
