package plan

import (
	"testing"
	"time"
)

// changed is the day at two in the afternoon: what has begun is frozen, one
// car comes late and one more is there.
func changed(p Problem, old *Plan) Problem {
	now := p.Start.Add(2 * time.Hour)
	q := p
	q.Start = now
	q.Loads = append([]Load(nil), p.Loads...)
	for _, r := range old.Loads {
		if r.Placed() && r.Start.Before(now) {
			q.Loads[r.Index].Frozen = &Frozen{r.Booth, r.Start}
		}
	}
	for i := len(q.Loads) - 1; i >= 0; i-- {
		if q.Loads[i].Frozen == nil {
			q.Loads[i].Release = now.Add(5 * time.Hour)
			break
		}
	}
	more := q.Loads[1]
	more.ID, more.Frozen, more.Release = "new", nil, now
	q.Loads = append(q.Loads, more)
	return q
}

// TestReplanKeepsWhatHasBegun plans anew after an event: frozen loads stay
// (the evaluator sees to that), changes are told, a warm start comes near a
// cold one in a fraction of its time.
func TestReplanKeepsWhatHasBegun(t *testing.T) {
	d := newDice(9)
	sum, cold := 0.0, 0.0
	for range rounds(t, 4, 20) {
		p := boothDay(d, 40, 2)
		old := solved(t, p, Options{Seed: 1, More: tries(10_000)})
		q := changed(p, &old)
		warm := solved(t, q, Options{Seed: 1, From: &old, More: tries(500)})
		full := solved(t, q, Options{Seed: 1, More: tries(20_000)})
		sum += warm.Objective
		cold += full.Objective
		told := map[string]bool{}
		for _, c := range warm.Changes {
			told[c.ID] = true
			if c.What == "" {
				t.Errorf("%s: change without words", c.ID)
			}
		}
		if !told["new"] {
			t.Error("the new load is not told as a change")
		}
		was := map[string]PlannedLoad{}
		for _, r := range old.Loads {
			was[r.ID] = r
		}
		for _, r := range warm.Loads {
			if o := was[r.ID]; told[r.ID] == (o.Booth == r.Booth && o.Start.Equal(r.Start)) {
				t.Errorf("%s: told as changed %v, stood %s %s, stands %s %s", r.ID, told[r.ID], o.Booth, o.Start, r.Booth, r.Start)
			}
		}
	}
	if sum > 1.10*cold {
		t.Errorf("warm starts cost %g, cold ones with 40 times as long %g", sum, cold)
	}
}

// TestOldPlanIsKept leaves a plan alone when a change gains too little.
func TestOldPlanIsKept(t *testing.T) {
	d := newDice(11)
	p := boothDay(d, 12, 1)
	best := solved(t, p, Options{Seed: 1})
	for best.Objective == 0 {
		p = boothDay(d, 12, 1)
		best = solved(t, p, Options{Seed: 1})
	}
	var worse, kept Plan
	for i := 1; i < len(best.Loads) && kept.Objective <= best.Objective; i++ {
		worse = best
		worse.Loads = append([]PlannedLoad(nil), best.Loads...)
		worse.Loads[i-1].Start, worse.Loads[i].Start = worse.Loads[i].Start, worse.Loads[i-1].Start
		kept = solved(t, p, Options{Seed: 1, From: &worse, Keep: 1})
	}
	if kept.Objective <= best.Objective {
		t.Fatal("no swap of neighbours costs anything: take another problem")
	}
	if kept.Optimal || kept.LowerBound > best.Objective {
		t.Errorf("kept at %g: bound %g, optimal %v; the best costs %g", kept.Objective, kept.LowerBound, kept.Optimal, best.Objective)
	}
	if free := solved(t, p, Options{Seed: 1, From: &worse}); free.Objective != best.Objective || len(free.Changes) == 0 {
		t.Errorf("with no threshold: %g, %d changes; the best costs %g", free.Objective, len(free.Changes), best.Objective)
	}
}

// What a change must gain is a share of the cost that is told, whether or not
// some load has no place: what is counted for that is no cost to gain from.
func TestALoadWithoutAPlaceKeepsNoOtherWhereItIs(t *testing.T) {
	p := Problem{
		Start:  monday,
		Booths: []Booth{{ID: "B1", Colour: "red", Open: []Interval{{monday, monday.Add(8 * time.Hour)}}}},
		Setups: map[string]map[string]time.Duration{"red": {"red": 0}},
		Loads: []Load{
			{ID: "A", Booths: []string{"B1"}, Colour: "red", Process: time.Hour, Due: monday.Add(time.Hour), Weight: 1},
			{ID: "B", Booths: []string{"B1"}, Colour: "red", Process: time.Hour},
			{ID: "Z", Booths: []string{"B1"}, Colour: "red", Process: 20 * time.Hour},
		},
	}
	from := &Plan{Loads: []PlannedLoad{{ID: "B", Booth: "B1", Start: monday}, {ID: "A", Booth: "B1", Start: monday.Add(time.Hour)}}}
	for keep, want := range map[float64]float64{0.5: 0, 1.5: 60} {
		if got := solved(t, p, Options{Seed: 1, Rounds: 20, From: from, Keep: keep}); got.Objective != want {
			t.Errorf("keeping at a share of %g it costs %g, want %g", keep, got.Objective, want)
		}
	}
}
