package planner

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"seamwright/services/calc/plan"
	"seamwright/services/floor"
)

var monday = time.Date(2026, 3, 2, 7, 30, 0, 0, time.UTC)

// anyDraft is a shop of one or two booths with breaks, loads of cars that
// may share a car or follow each other, and places that some of them have.
func anyDraft(t *rapid.T) *Draft {
	d := &Draft{At: monday, house: DefaultHouse()}
	p := &d.Problem
	p.Start = monday
	min := func(name string, lo, hi int) time.Duration {
		return time.Duration(rapid.IntRange(lo, hi).Draw(t, name)) * 5 * time.Minute
	}
	colours := []string{"white", "blue", "red"}
	p.Setups = map[string]map[string]time.Duration{}
	for _, a := range colours {
		p.Setups[a] = map[string]time.Duration{}
		for _, b := range colours {
			p.Setups[a][b] = min("setup", 0, 6)
		}
	}
	for b := range rapid.IntRange(1, 2).Draw(t, "booths") {
		noon := monday.Add(4*time.Hour + min("break", 0, 6))
		p.Booths = append(p.Booths, plan.Booth{ID: fmt.Sprint("b", b+1), Colour: "white", Open: []plan.Interval{
			{From: monday, To: noon}, {From: noon.Add(30 * time.Minute), To: noon.Add(40 * time.Hour)},
		}})
	}
	crew := plan.Crew{ID: "bay", People: 1, Open: p.Booths[0].Open}
	for i := range rapid.IntRange(1, 7).Draw(t, "loads") {
		l := plan.Load{
			ID: fmt.Sprint("L", i+1), Colour: rapid.SampledFrom(colours).Draw(t, "colour"), Process: min("process", 6, 18),
			Release: monday.Add(min("release", 0, 60)), Due: monday.Add(min("due", 12, 200)), Weight: float64(rapid.IntRange(1, 3).Draw(t, "weight")), MissCost: 240,
		}
		for _, b := range p.Booths {
			if len(l.Booths) == 0 || rapid.Bool().Draw(t, "may") {
				l.Booths = append(l.Booths, b.ID)
			}
		}
		o := Load{ID: floor.LoadID(l.ID), RO: floor.RO(rapid.SampledFrom([]string{"1", "2", "3", fmt.Sprint("own", i)}).Draw(t, "car")), Due: l.Due, Weight: l.Weight}
		if rapid.Bool().Draw(t, "placed") {
			o.Booth, o.Start = floor.BoothID(l.Booths[0]), monday.Add(min("start", 0, 100))
		}
		for k := range d.Loads {
			if d.Loads[k].RO == o.RO && rapid.Bool().Draw(t, "follows") {
				o.after = append(o.after, k)
			}
		}
		d.Loads, p.Loads = append(d.Loads, o), append(p.Loads, l)
		if rapid.IntRange(0, 2).Draw(t, "task") == 0 {
			p.Tasks = append(p.Tasks, plan.Task{ID: "T" + l.ID, Load: l.ID, Crew: "bay", Length: min("length", 1, 4), MinLag: min("lag", 0, 12)})
			d.Works = append(d.Works, Work{Seam: floor.SeamID("1/" + l.ID), Name: "seam", What: Lay, Load: i})
		}
	}
	if len(p.Tasks) > 0 {
		p.Crews = []plan.Crew{crew}
	}
	return d
}

// TestPlansAreSound: whatever comes out keeps calendars, setups, releases,
// the work before, and each car in one booth at a time, in order.
func TestPlansAreSound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := anyDraft(t)
		s := DefaultSearch()
		s.Rounds = 20
		got, err := d.Solve(s)
		if err != nil {
			t.Fatal(err)
		}
		if len(got.Loads) != len(d.Loads) {
			t.Fatalf("%d loads in the plan of %d", len(got.Loads), len(d.Loads))
		}
		at := make([]plan.PlannedLoad, len(d.Loads))
		for _, l := range got.Loads {
			at[l.Index] = l
		}
		for _, b := range d.Problem.Booths {
			lane(t, d, b, at)
		}
		for _, w := range got.Tasks {
			q, l := d.Problem.Tasks[w.Index], at[d.Works[w.Index].Load]
			if l.Placed() && w.End.Add(q.MinLag).After(l.Start) {
				t.Fatalf("%s starts at %s, its work ends at %s and needs %s", l.ID, l.Start, w.End, q.MinLag)
			}
		}
		cars(t, d, at)
	})
}

func lane(t *rapid.T, d *Draft, b plan.Booth, at []plan.PlannedLoad) {
	var q []plan.PlannedLoad
	for _, l := range at {
		if l.Booth == b.ID {
			q = append(q, l)
		}
	}
	slices.SortFunc(q, func(x, y plan.PlannedLoad) int { return x.Start.Compare(y.Start) })
	free, gun := d.Problem.Start, b.Colour
	for _, l := range q {
		p := d.Problem.Loads[l.Index]
		if l.Start.Before(free.Add(d.Problem.Setups[gun][p.Colour])) || l.Start.Before(p.Release) || !l.End.Equal(l.Start.Add(p.Process)) {
			t.Fatalf("%s at %s to %s: the booth is free at %s, its release is %s", l.ID, l.Start, l.End, free, p.Release)
		}
		if !slices.Contains(p.Booths, b.ID) || !slices.ContainsFunc(b.Open, func(o plan.Interval) bool { return !l.Start.Before(o.From) && !l.End.After(o.To) }) {
			t.Fatalf("%s at %s to %s in %s, which may not take it or is closed", l.ID, l.Start, l.End, b.ID)
		}
		free, gun = l.End, p.Colour
	}
}

func cars(t *rapid.T, d *Draft, at []plan.PlannedLoad) {
	for i := range d.Loads {
		for k := range d.Loads {
			x, y := at[i], at[k]
			if i == k || d.Loads[i].RO != d.Loads[k].RO || !x.Placed() || !y.Placed() {
				continue
			}
			if slices.Contains(d.Loads[i].after, k) && x.Start.Before(y.End) {
				t.Fatalf("%s at %s must follow %s, which ends at %s", x.ID, x.Start, y.ID, y.End)
			}
			if x.Start.Before(y.End) && y.Start.Before(x.End) {
				t.Fatalf("car %s is in %s and in %s at once", d.Loads[i].RO, x.Booth, y.Booth)
			}
		}
	}
}

// TestALoadThatIsReadyGoesFirstWhereItCostsNothing: a load that waits for its
// bead leaves the booth to one that does not, though both are in time either way.
func TestALoadThatIsReadyGoesFirstWhereItCostsNothing(t *testing.T) {
	late := monday.Add(9 * time.Hour)
	d := &Draft{At: monday, house: DefaultHouse(), Problem: plan.Problem{
		Start: monday, Setups: map[string]map[string]time.Duration{"blue": {"blue": 5 * time.Minute}},
		Booths: []plan.Booth{{ID: "b", Colour: "blue", Open: []plan.Interval{{From: monday, To: late.Add(time.Hour)}}}},
		Loads: []plan.Load{
			{ID: "waits", Booths: []string{"b"}, Colour: "blue", Process: time.Hour, Release: monday.Add(2 * time.Hour), Due: late, Weight: 1},
			{ID: "ready", Booths: []string{"b"}, Colour: "blue", Process: time.Hour, Due: late.Add(time.Hour), Weight: 1},
		},
	}, Loads: []Load{{ID: "waits", RO: "1", Due: late, Booth: "b", Start: monday.Add(2 * time.Hour)}, {ID: "ready", RO: "2", Due: late, Booth: "b", Start: monday.Add(4 * time.Hour)}}}
	s := DefaultSearch()
	s.Rounds = 20
	got, err := d.Solve(s)
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range got.Loads {
		if l.ID == "ready" && !l.Start.Equal(monday.Add(5*time.Minute)) {
			t.Errorf("it starts at %s though the booth stands idle", l.Start)
		}
	}
}
