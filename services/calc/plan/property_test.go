package plan

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// TestEveryPlanHolds lets the evaluator look at plans of all sizes and kinds,
// solved for a few rounds: nothing overlaps, calendars, setups and lags are
// kept or the load is told as missed, frozen loads stay, the cost adds up.
func TestEveryPlanHolds(t *testing.T) {
	d := newDice(3)
	for k := range rounds(t, 100, 2000) {
		x := mix{
			loads: d.below(16), tasks: d.below(2) * d.below(20), booths: 1 + d.below(3), slots: 10 + d.below(60), long: 1 + d.below(6),
			frozen: d.below(2) == 0, windows: true, waits: d.below(2) == 0, tightCalendar: d.below(3) == 0,
		}
		if x.loads == 0 {
			x.tasks = 0
		}
		p := randomProblem(d, x)
		got := solved(t, p, Options{Seed: uint64(k), Rounds: 3, More: tries(3_000)})
		if again := solved(t, p, Options{Seed: uint64(k), Rounds: 3, More: tries(3_000)}); cmp.Diff(got, again) != "" {
			t.Fatalf("problem %d: another plan with the same seed:\n%s", k, cmp.Diff(got, again))
		}
		latestHolds(t, &p, &got)
	}
}

// tries ends a search after so many questions for time: a clock that counts.
func tries(n int) func() bool {
	return func() bool { n--; return n > 0 }
}

// latestHolds sees that no task alone could start later than its latest
// start when all the others start at theirs.
func latestHolds(t *testing.T, p *Problem, got *Plan) {
	t.Helper()
	stands := map[string]PlannedLoad{}
	for _, r := range got.Loads {
		stands[r.ID] = r
	}
	at := map[string]time.Time{}
	for _, r := range got.Tasks {
		at[r.ID] = r.LatestStart
	}
	for _, r := range got.Tasks {
		if r.Start.IsZero() {
			continue
		}
		if r.LatestStart.Before(r.Start) {
			t.Fatalf("task %s: latest start %s before its start %s", r.ID, r.LatestStart, r.Start)
		}
		for s := r.LatestStart.Add(grain); !s.After(stands[p.Tasks[r.Index].Load].Start); s = s.Add(grain) {
			at[r.ID] = s
			if _, err := judgeTasks(p, stands, at); err == nil && crewHolds(p, at) {
				t.Fatalf("task %s could start at %s, told at latest %s\n%s\n%s", r.ID, s, r.LatestStart, show(*p), show(*got))
			}
		}
		at[r.ID] = r.LatestStart
	}
}

// crewHolds checks every moment, also where other tasks begin.
func crewHolds(p *Problem, at map[string]time.Time) bool {
	for i := range p.Tasks {
		if s := at[p.Tasks[i].ID]; !s.IsZero() && judgeCrew(p, &p.Tasks[i], s, at) != nil {
			return false
		}
	}
	return true
}

// TestLongerSearchIsNeverWorse runs the same search for longer and longer.
func TestLongerSearchIsNeverWorse(t *testing.T) {
	d := newDice(4)
	for range 6 {
		p := boothDay(d, 24, 2)
		best := -1.0
		for _, n := range []int{1, 10, 100, 1000, 10_000, 50_000} {
			got := solved(t, p, Options{Seed: 5, More: tries(n)})
			if best >= 0 && got.Objective > best+1e-6 {
				t.Fatalf("%d tries give %g, fewer gave %g", n, got.Objective, best)
			}
			best = got.Objective
		}
	}
}
