package plan

import (
	"strings"
	"testing"
	"time"
)

// morning is half past seven of a day, and a booth that is open from then
// until noon and from one until five.
var morning = time.Date(2026, 3, 2, 7, 30, 0, 0, time.UTC)

func hour(h, m int) time.Time { return time.Date(2026, 3, 2, h, m, 0, 0, time.UTC) }

func oneBooth(loads ...Load) Problem {
	for i := range loads {
		loads[i].Booths = []string{"B1"}
		if loads[i].Process == 0 {
			loads[i].Process = time.Hour
		}
		if loads[i].Colour == "" {
			loads[i].Colour = "white"
		}
	}
	return Problem{
		Start:  morning,
		Booths: []Booth{{ID: "B1", Colour: "white", Open: []Interval{{morning, hour(12, 0)}, {hour(13, 0), hour(17, 0)}}}},
		Setups: map[string]map[string]time.Duration{
			"white": {"white": 0, "red": 20 * time.Minute, "grey": 0}, "red": {"white": 20 * time.Minute, "red": 0, "grey": 0}, "grey": {"grey": 0, "white": 0, "red": 0},
		},
		Loads: loads,
	}
}

// TestWhyNamesWhatBinds: the reason of each load, reckoned by hand.
func TestWhyNamesWhatBinds(t *testing.T) {
	at := func(h, m int) *Frozen { return &Frozen{"B1", hour(h, m)} }
	for name, c := range map[string]struct {
		problem Problem
		why     string // of the last load
		not     string
	}{
		"by hand while closed":       {oneBooth(Load{ID: "L", Frozen: at(18, 0)}), "frozen at 18:00, while B1 is closed", ""},
		"by hand into closing":       {oneBooth(Load{ID: "L", Frozen: at(16, 30)}), "frozen at 16:30, though B1 closes at 17:00, before it is out", ""},
		"by hand over the break":     {oneBooth(Load{ID: "L", Process: 3 * time.Hour, Frozen: at(11, 0)}), "frozen at 11:00, though B1 is closed from 12:00 to 13:00", ""},
		"by hand before the opening": {oneBooth(Load{ID: "L", Frozen: at(12, 30)}), "frozen at 12:30, before B1 opens at 13:00", ""},
		"by hand before its release": {oneBooth(Load{ID: "L", Frozen: at(8, 0), Release: hour(8, 40)}), "frozen at 08:00, 40 min before its release 08:40", ""},
		"by hand where it may be":    {oneBooth(Load{ID: "L", Frozen: at(8, 0), Release: hour(8, 0)}), "frozen at 08:00", ","},
		"begun while closed":         {oneBooth(Load{ID: "L", Process: 13 * time.Hour, Frozen: at(6, 0)}), "frozen at 06:00, though B1 is closed from 12:00 to 13:00", ""},
		"begun before the opening":   {oneBooth(Load{ID: "L", Process: 2 * time.Hour, Frozen: at(6, 0)}), "frozen at 06:00", ","},
		"no setup": {
			oneBooth(Load{ID: "K", Frozen: at(7, 30)}, Load{ID: "L", Colour: "grey"}), "behind K", "setup",
		},
		"a setup": {
			oneBooth(Load{ID: "K", Frozen: at(7, 30)}, Load{ID: "L", Colour: "red"}), "behind K, after 20 min of setup to red", "from",
		},
		"its release": {oneBooth(Load{ID: "L", Release: hour(9, 10)}), "waits for its release at 09:10", ""},
		"its release, over the break": {
			oneBooth(Load{ID: "L", Release: hour(11, 30)}), "waits for its release at 11:30, does not fit before B1 closes at 12:00, starts when it opens at 13:00", "",
		},
		"the load before it, over the break": {
			oneBooth(Load{ID: "K", Frozen: at(10, 30)}, Load{ID: "L", Process: 4 * time.Hour}),
			"behind K, the colour run white goes on, does not fit before B1 closes at 12:00, starts when it opens at 13:00", "",
		},
		"slack until the load behind": {
			oneBooth(Load{ID: "K", Frozen: at(9, 0)}, Load{ID: "L", Due: hour(12, 0), Weight: 1}), "30 min of slack if K behind it keeps its place", "",
		},
		"slack until it is late": {oneBooth(Load{ID: "L", Due: hour(10, 0), Weight: 1}), "90 min of slack before its car is late", ""},
		"long slack":             {oneBooth(Load{ID: "L", Due: hour(11, 51), Weight: 1}), "3 h 21 min of slack before its car is late", ""},
		"slack until its window closes": {
			oneBooth(Load{ID: "L", LatestStart: hour(8, 0)}), "30 min of slack before its window closes", "",
		},
		"long late": {oneBooth(Load{ID: "L", Due: morning.Add(-98 * time.Hour), Weight: 1}), "4 d 3 h late, due 26 Feb 05:30", ""},
		"no working hours left": {
			Problem{
				Start: morning, Booths: oneBooth().Booths, Setups: oneBooth().Setups, Loads: []Load{{ID: "L", Booths: []string{"B1"}, Colour: "white", Process: time.Hour}},
				Crews: []Crew{{ID: "bay 1", People: 1, Open: []Interval{{morning, hour(7, 40)}}}}, Tasks: []Task{{ID: "T", Load: "L", Crew: "bay 1", Length: 20 * time.Minute}},
			}, "no place: no working hours of bay 1 hold the 20 min of task T without a break; enter longer hours", "",
		},
		"no hours left": {
			oneBooth(Load{ID: "L", Release: hour(17, 0)}), "no place: B1 has no opening hours after 17:00; enter more hours", "",
		},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := Solve(c.problem, Options{Rounds: 20})
			if err != nil {
				t.Fatal(err)
			}
			last := len(c.problem.Loads) - 1
			for _, l := range got.Loads {
				if l.Index != last {
					continue
				}
				if !strings.HasPrefix(l.Why, c.why) && !strings.Contains(l.Why, "; "+c.why) || c.not != "" && strings.Contains(l.Why, c.not) {
					t.Errorf("why: %q, want %q without %q", l.Why, c.why, c.not)
				}
			}
		})
	}
}

// TestSlackIsWhatItSays: started later by its slack a load is not dearer, and
// a minute more is, or meets the load behind it, or does not fit any more.
func TestSlackIsWhatItSays(t *testing.T) {
	d := newDice(31)
	seen := 0
	for k := range rounds(t, 60, 400) {
		p := randomProblem(d, mix{loads: 5, booths: 1 + d.below(2), slots: 40, long: 5, windows: true})
		got := solved(t, p, Options{Seed: uint64(k), Rounds: 20})
		for i, l := range got.Loads {
			if l.SlackMin == nil || l.LateMin > 0 {
				continue
			}
			seen++
			for _, more := range []time.Duration{0, p.step()} {
				q := got
				q.Loads = append([]PlannedLoad(nil), got.Loads...)
				by := time.Duration(*l.SlackMin*float64(time.Minute)) + more
				x := &q.Loads[i]
				x.Start, x.End, x.SetupStart = x.Start.Add(by), x.End.Add(by), x.SetupStart.Add(by)
				if err := judge(&p, &q); (err == nil) != (more == 0) {
					t.Fatalf("%s with %s more than its slack of %g min: %v\n%s", l.ID, more, *l.SlackMin, err, show(p))
				}
			}
		}
	}
	if seen < 20 {
		t.Errorf("%d loads had slack", seen)
	}
}

// TestSlackWithThoseBehind: a load that starts later by what its reason says
// of those behind it, each of these as much later as it then must, costs
// nothing, and one step more does, or finds no place.
func TestSlackWithThoseBehind(t *testing.T) {
	d := newDice(33)
	seen := 0
	for k := range rounds(t, 80, 400) {
		p := randomProblem(d, mix{loads: 5, booths: 1 + d.below(2), slots: 50, long: 4, frozen: true, windows: true})
		got := solved(t, p, Options{Seed: uint64(k), Rounds: 20})
		m := compile(&p)
		c := m.courseOf(&p, &got)
		w := m.reasons(&p, c, m.before(c), Telling{})
		for i, l := range got.Loads {
			if !l.Placed() || p.Loads[l.Index].Frozen != nil || l.LateMin > 0 {
				continue
			}
			slack, _ := w.slack(int32(l.Index))
			most := w.along(int32(l.Index), slack)
			if most == slack {
				continue
			}
			seen++
			for _, more := range []int64{0, 1} {
				q := delayed(&p, got, i, time.Duration((most+more)*m.unit))
				if err := judge(&p, &q); (err == nil) != (more == 0) {
					t.Fatalf("%s by %d more than %d of %s: %v\n%s\n%s", l.ID, more, most, p.step(), err, show(p), show(got))
				}
			}
		}
	}
	if seen < 10 {
		t.Errorf("%d loads had more slack with those behind", seen)
	}
}

// delayed is a plan with a load later, and those behind it pushed on in steps
// until nothing overlaps and their booth is open.
func delayed(p *Problem, got Plan, i int, by time.Duration) Plan {
	out := got
	out.Loads = append([]PlannedLoad(nil), got.Loads...)
	shift := func(k int, by time.Duration) {
		x := &out.Loads[k]
		x.Start, x.End, x.SetupStart = x.Start.Add(by), x.End.Add(by), x.SetupStart.Add(by)
	}
	shift(i, by)
	for k := i + 1; k < len(out.Loads) && out.Loads[k].Booth == out.Loads[i].Booth; k++ {
		if p.Loads[out.Loads[k].Index].Frozen != nil {
			break
		}
		shut := func() bool {
			for _, b := range p.Booths {
				if b.ID == out.Loads[k].Booth {
					return Closed(b.ID, b.Open, out.Loads[k].Start, out.Loads[k].End, func(time.Time) string { return "" }) != ""
				}
			}
			return true
		}
		for n := 0; n < 200 && (out.Loads[k].SetupStart.Before(out.Loads[k-1].End) || shut()); n++ {
			shift(k, p.step())
		}
	}
	return out
}

// step is the least step of a problem's moments.
func (p *Problem) step() time.Duration { return time.Duration(p.commonUnit()) }

// TestExplainSaysTheSameAnew: a plan that is worded anew in the same words
// says what Solve said, and other words are taken.
func TestExplainSaysTheSameAnew(t *testing.T) {
	d := newDice(32)
	for k := range rounds(t, 40, 400) {
		p := randomProblem(d, mix{loads: 6, booths: 2, slots: 30, long: 5, frozen: true, windows: true})
		got := solved(t, p, Options{Seed: uint64(k), Rounds: 20})
		again := got
		again.Loads = append([]PlannedLoad(nil), got.Loads...)
		for i := range again.Loads {
			again.Loads[i].Why, again.Loads[i].SlackMin = "", nil
		}
		Explain(&p, &again, Telling{})
		if show(deref(again.Loads)) != show(deref(got.Loads)) {
			t.Fatalf("anew\n%s\nwas\n%s", show(deref(again.Loads)), show(deref(got.Loads)))
		}
	}
	p := oneBooth(Load{ID: "L"})
	got := solved(t, p, Options{Rounds: 5})
	Explain(&p, &got, Telling{
		Clock: func(t time.Time) string { return t.Add(time.Hour).Format("15.04") },
		Since: func(int) []Since { return []Since{{morning, "nothing"}, {hour(7, 31), "its beads are surely open"}} },
	})
	if !strings.HasPrefix(got.Loads[0].Why, "waits until its beads are surely open at 08.31; ") {
		t.Errorf("why: %q", got.Loads[0].Why)
	}
}

// deref are loads with their slack as a number.
func deref(ls []PlannedLoad) (out []any) {
	for _, l := range ls {
		x := -1.0
		if l.SlackMin != nil {
			x = *l.SlackMin
		}
		l.SlackMin = nil
		out = append(out, l, x)
	}
	return out
}
