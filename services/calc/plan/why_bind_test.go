package plan

import (
	"strings"
	"testing"
	"time"
)

// workDay is a booth that is open from half past seven until five, with one
// person who does the tasks in the given hours; by hand, no source.
func workDay(open []Interval, loads []Load, tasks ...Task) Problem {
	p := oneBooth(loads...)
	p.Booths[0].Open = []Interval{{morning, hour(17, 0)}}
	p.Crews = []Crew{{ID: "body", People: 1, Open: open, RoundTheClock: open == nil}}
	for i := range tasks {
		tasks[i].Crew = "body"
		if tasks[i].Length == 0 {
			tasks[i].Length = 20 * time.Minute
		}
	}
	p.Tasks = tasks
	return p
}

const minute = time.Minute

// TestWhyNoPlaceNamesWhatLacks: what keeps the last load out, by hand.
func TestWhyNoPlaceNamesWhatLacks(t *testing.T) {
	early := []Interval{{morning, hour(8, 30)}}
	for name, c := range map[string]struct {
		problem Problem
		why     string
	}{
		"its crew's hours, taken by another task": {
			workDay(early, []Load{{ID: "K", Frozen: &Frozen{"B1", hour(8, 30)}}, {ID: "L"}}, Task{ID: "T1", Load: "K", Length: 40 * minute}, Task{ID: "T2", Load: "L", Length: 40 * minute}),
			"no place: body has no working hours left for task T2 beside task T1; enter more hours or people",
		},
		"hours too short for the task": {
			workDay(early, []Load{{ID: "L"}}, Task{ID: "T", Load: "L", Length: 61 * minute}),
			"no place: no working hours of body hold the 61 min of task T without a break; enter longer hours",
		},
		"hours that are over": {
			workDay(early, []Load{{ID: "L"}}, Task{ID: "T", Load: "L", Release: hour(8, 20)}),
			"no place: body has no working hours left for task T from 08:20 on; enter more hours",
		},
		"two of its own tasks in one hour": {
			workDay(early, []Load{{ID: "L"}}, Task{ID: "T1", Load: "L", Length: 40 * minute}, Task{ID: "T2", Load: "L", Length: 40 * minute}),
			"no place: its tasks do not all fit into the working hours of body beside those of other loads; enter more hours or people",
		},
		"tasks that are over when the booth closes": {
			workDay([]Interval{{morning, hour(8, 0)}, {hour(15, 0), hour(16, 30)}}, []Load{{ID: "L"}}, Task{ID: "T", Load: "L", Length: 60 * minute, MinLag: 30 * minute}),
			"no place: task T is over at 16:00 at the soonest and 30 min must pass then, and no open interval of its booths holds 60 min from then on; enter more hours of body or of a booth",
		},
		"a crew that is at work elsewhere while there is room": {
			workDay([]Interval{{morning, hour(16, 0)}}, []Load{{ID: "K", Frozen: &Frozen{"B1", hour(16, 0)}}, {ID: "L"}},
				Task{ID: "T1", Load: "K", Length: 8 * time.Hour, MinLag: 30 * minute}, Task{ID: "T2", Load: "L", Length: 30 * minute}),
			"no place: there is room for it at 08:00, but body cannot be done with task T2 before 16:00 beside other tasks; enter more hours or people, open the booth for longer or take another load out",
		},
		"a booth that frozen loads fill": {
			oneBooth(Load{ID: "K", Process: 4 * time.Hour, Frozen: &Frozen{"B1", hour(8, 0)}}, Load{ID: "J", Process: 4 * time.Hour, Frozen: &Frozen{"B1", hour(13, 0)}}, Load{ID: "L"}),
			"no place: frozen loads leave B1 no room of 60 min and the setup; open the booth for longer or move a frozen load",
		},
		"a booth that others fill": {
			oneBooth(Load{ID: "K", Process: 4 * time.Hour, MissCost: 5, LatestStart: morning}, Load{ID: "J", Process: 4 * time.Hour, MissCost: 5, LatestStart: hour(13, 0)}, Load{ID: "L"}),
			"no place: B1 has no room of 60 min and the setup beside the loads that stand there; open the booth for longer or take another load out",
		},
		"a booth that others fill once its tasks are over": {
			workDay(nil, []Load{{ID: "K", Frozen: &Frozen{"B1", hour(9, 0)}, Process: 8 * time.Hour}, {ID: "L"}}, Task{ID: "T", Load: "L", Length: 60 * minute}),
			"no place: frozen loads leave B1 no room of 60 min and the setup from 08:30 on, when task T can be over; open the booth for longer or move a frozen load",
		},
	} {
		t.Run(name, func(t *testing.T) {
			got := solved(t, c.problem, Options{Rounds: 50})
			if why := whyOf(&c.problem, &got); why != c.why {
				t.Errorf("why: %q\nwant %q", why, c.why)
			}
		})
	}
}

// whyOf is the reason of a problem's last load.
func whyOf(p *Problem, got *Plan) string {
	for _, l := range got.Loads {
		if l.Index == len(p.Loads)-1 {
			return l.Why
		}
	}
	return ""
}

// TestWhyMissedSaysWhatNoPlanKeeps: greatest lags and windows that nothing can
// keep are told with what breaks them.
func TestWhyMissedSaysWhatNoPlanKeeps(t *testing.T) {
	atMost := func(t Task, lag time.Duration) Task {
		t.MaxLag, t.HasMax = lag, true
		return t
	}
	for name, c := range map[string]struct {
		problem Problem
		why     string
	}{
		"tasks behind take longer": {
			workDay(nil, []Load{{ID: "L", MissCost: 9}}, atMost(Task{ID: "T1", Load: "L"}, 20*minute), Task{ID: "T2", Load: "L", MinLag: 15 * minute, After: []string{"T1"}}),
			"missed: more than 20 min after task T1, which no plan keeps: task T2 after it and 15 min that must pass then take 35 min",
		},
		"the least lag is longer": {
			workDay(nil, []Load{{ID: "L", MissCost: 9}}, atMost(Task{ID: "T1", Load: "L", MinLag: 30 * minute}, 20*minute)),
			"missed: more than 20 min after task T1, which no plan keeps: 30 min must pass",
		},
		"together with another load's": { // A, C 20 min, B 20 min: A is over 40 min before B, K at once after C, L at once after A
			workDay(nil, []Load{{ID: "K", MissCost: 99}, {ID: "L", MissCost: 9}},
				atMost(Task{ID: "A", Load: "L"}, 10*minute), Task{ID: "B", Load: "K", After: []string{"A"}}, atMost(Task{ID: "C", Load: "K"}, 5*minute), Task{ID: "D", Load: "L", After: []string{"C"}}),
			"missed: more than 10 min after task A; no plan keeps that and at most 5 min from task C to K as well",
		},
		"a crew that stops work long before a frozen load": {
			workDay([]Interval{{morning, hour(9, 0)}}, []Load{{ID: "L", Frozen: &Frozen{"B1", hour(11, 30)}, MissCost: 9}}, atMost(Task{ID: "T1", Load: "L"}, 120*minute)),
			"missed: more than 2 h after task T1, which no plan keeps: body stops work at 09:00",
		},
		"a crew that stops work in time for a frozen load": {
			workDay([]Interval{{morning, hour(9, 30)}}, []Load{{ID: "L", Frozen: &Frozen{"B1", hour(11, 30)}, MissCost: 9}}, atMost(Task{ID: "T1", Load: "L"}, 120*minute)),
			"",
		},
		"one that another plan keeps": {
			workDay(nil, []Load{{ID: "L", Frozen: &Frozen{"B1", hour(9, 0)}, MissCost: 9}}, atMost(Task{ID: "T1", Load: "L", Release: morning}, 20*minute), Task{ID: "T2", Load: "L", Length: 30 * minute}),
			"",
		},
		"a window that closes before the tasks are over": {
			workDay(nil, []Load{{ID: "L", LatestStart: hour(7, 45)}}, Task{ID: "T", Load: "L", MinLag: 10 * minute}),
			"missed: its window closed at 07:45, which no plan keeps: task T is over at 07:50 at the soonest and 10 min must pass then",
		},
		"a window that closes before the booth is free": {
			workDay(nil, []Load{{ID: "K", Frozen: &Frozen{"B1", morning}}, {ID: "L", Colour: "red", LatestStart: hour(8, 0)}}),
			"missed: its window closed at 08:00, which no plan keeps: no booth has a place for it before 08:30",
		},
		"a window that closes before the release": {
			workDay(nil, []Load{{ID: "L", Release: hour(8, 0), LatestStart: hour(7, 45)}}),
			"missed: its window closed at 07:45, before its release at 08:00",
		},
		"a frozen load that comes too soon": {
			workDay(nil, []Load{{ID: "L", Frozen: &Frozen{"B1", hour(7, 40)}}}, Task{ID: "T", Load: "L"}),
			"missed: task T is over at 07:50 at the soonest",
		},
	} {
		t.Run(name, func(t *testing.T) {
			got := solved(t, c.problem, Options{Rounds: 50})
			why := whyOf(&c.problem, &got)
			if c.why == "" && strings.Contains(why, "missed") || !strings.Contains(why+";", c.why+";") {
				t.Errorf("why: %q\nwant %q", why, c.why)
			}
		})
	}
}

// TestFrozenTooNear: the setup of the second of two frozen loads does not fit.
func TestFrozenTooNear(t *testing.T) {
	at := func(h, m int) *Frozen { return &Frozen{"B1", hour(h, m)} }
	for name, c := range map[string]struct {
		loads []Load
		why   string
	}{
		"behind a load":        {[]Load{{ID: "K", Colour: "red", Frozen: at(9, 0)}, {ID: "L", Frozen: at(10, 5)}}, "frozen at 10:05, 15 min short of the setup from red"},
		"behind the first gun": {[]Load{{ID: "L", Colour: "red", Frozen: at(7, 40)}}, "frozen at 07:40, 10 min short of the setup from white"},
		"it fits":              {[]Load{{ID: "K", Colour: "red", Frozen: at(9, 0)}, {ID: "L", Frozen: at(10, 20)}}, "frozen at 10:20"},
		"begun":                {[]Load{{ID: "L", Colour: "red", Frozen: at(7, 30)}}, "frozen at 07:30"},
	} {
		t.Run(name, func(t *testing.T) {
			p := oneBooth(c.loads...)
			got := solved(t, p, Options{Rounds: 5})
			if why := whyOf(&p, &got); why != c.why {
				t.Errorf("why: %q, want %q", why, c.why)
			}
		})
	}
}

// TestNotMissedForNothing: of a load that pays nothing for its lag and misses
// it, no task alone can be done so much later, among the others, that the lag
// is kept.
func TestNotMissedForNothing(t *testing.T) {
	d := newDice(5)
	seen := 0
	for k := range rounds(t, 2000, 20_000) {
		p := randomProblem(d, mix{loads: 3, tasks: 3 + d.below(4), booths: 1 + d.below(2), slots: 20, long: 3, frozen: true})
		got := solved(t, p, Options{Seed: uint64(k), Rounds: 20, More: tries(10_000)})
		stands, at := map[string]PlannedLoad{}, map[string]time.Time{}
		for _, l := range got.Loads {
			stands[l.ID] = l
		}
		for _, r := range got.Tasks {
			at[r.ID] = r.Start
		}
		for _, r := range got.Tasks {
			l := stands[p.Tasks[r.Index].Load]
			if !l.Missed || p.Loads[l.Index].MissCost > 0 || r.Start.IsZero() {
				continue
			}
			seen++
			for s := r.Start; s.Before(l.Start); s = s.Add(grain) {
				at[r.ID] = s
				if late, err := judgeTasks(&p, stands, at); err == nil && !late[l.ID] && crewHolds(&p, at) {
					t.Fatalf("problem %d: %s is missed (%s), and is not with %s at %s\n%s\n%s", k, l.ID, l.Why, r.ID, s, show(p), show(got))
				}
			}
			at[r.ID] = r.Start
		}
	}
	if seen < 20 {
		t.Errorf("%d tasks of missed loads were looked at", seen)
	}
}

// TestCheckLags: what no start can keep is refused by name and number.
func TestCheckLags(t *testing.T) {
	p := workDay(nil, []Load{{ID: "L"}}, Task{ID: "T1", Load: "L", MinLag: 10 * minute, MaxLag: 10 * minute, HasMax: true}, Task{ID: "T2", Load: "L", MinLag: 10 * minute})
	if err := p.CheckLags(); err != nil {
		t.Error(err)
	}
	p.Tasks[1].HasMax, p.Tasks[1].MaxLag = true, 90*time.Second
	const want = `tasks[1].max_lag_min: 1.5, task "T2": at least its min_lag_min, 10; no start of load "L" keeps both`
	if err := p.CheckLags(); err == nil || err.Error() != want {
		t.Errorf("%v, want %s", err, want)
	}
}

// TestKeptIsTold: an earlier plan that costs 200 is kept when a gain of more
// than the 170 that there are is asked for, and not otherwise.
func TestKeptIsTold(t *testing.T) {
	p := oneBooth(Load{ID: "K", Process: 50 * minute, Due: hour(8, 20), Weight: 1}, Load{ID: "L", Process: 30 * minute, Due: hour(8, 30), Weight: 10})
	old := Plan{Loads: []PlannedLoad{{ID: "K", Booth: "B1", Start: morning}, {ID: "L", Booth: "B1", Start: hour(8, 20)}}}
	for keep, cost := range map[float64]float64{0.86: 200, 0.84: 30} {
		got := solved(t, p, Options{Rounds: 20, From: &old, Keep: keep})
		if got.Objective != cost || (got.Kept != nil) != (cost == 200) {
			t.Errorf("keep %g: cost %g, kept %+v", keep, got.Objective, got.Kept)
		}
		if k := got.Kept; k != nil && (k.Gain != 170 || k.Asked != 172) {
			t.Errorf("keep %g: %+v, want a gain of 170 of 172 asked for", keep, *k)
		}
	}
}
