package console

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"seamwright/services/calc/quantity"
	"seamwright/services/fault"
)

// BenchPlan measures the planner: on published instances, beside first come,
// first served and earliest due date first, and on booth days drawn by chance.
type BenchPlan struct {
	Dir      string // with the folders wt-orlib, wtsds-cicirello, rcpsp-max
	Budget   string // for each instance; empty: what the set is to be reached in
	Every    string // takes only every so many-th instance
	Seed     string
	Set      string    // only this one; empty: all but those that take long
	Wall     bool      // budgets and times are of the clock on the wall
	Progress io.Writer // told of each set when it is done; nil: nobody
}

type benchAnswer struct {
	Sets []benchSet `json:"sets"`
	Wall bool       `json:"wall"` // else times are the program's own on the processor
}

// benchSet is how one set went. Gaps are in % of the best known: the mean over
// the instances whose best is not 0, and that of the sums over all.
type benchSet struct {
	Set          string      `json:"set"`
	What         string      `json:"what"`
	BudgetMillis float64     `json:"budget_ms"`
	Instances    int         `json:"instances"`
	AtBest       int         `json:"at_best"`
	GapPercent   *float64    `json:"gap_percent"`
	Pooled       *float64    `json:"pooled_gap_percent"`
	FirstCome    *float64    `json:"first_come_gap_percent"`
	EarliestDue  *float64    `json:"earliest_due_gap_percent"`
	Wrong        int         `json:"wrong"` // told to be possible what is not, or the other way round
	MedianMillis float64     `json:"median_ms"`
	WorstMillis  float64     `json:"worst_ms"`
	ToReach      string      `json:"to_reach"`
	Met          *bool       `json:"met"` // null: not the whole set in its own budget
	NewBests     []benchBest `json:"new_bests"`
}

// benchBest is an order that costs less than the best known.
type benchBest struct {
	Instance string  `json:"instance"`
	Cost     float64 `json:"cost"`
	Was      float64 `json:"was"`
	Order    []int   `json:"order"`
}

// planBench is one measurement under way.
type planBench struct {
	q      BenchPlan
	budget time.Duration // 0: by set
	every  int
	seed   uint64
	now    func() time.Duration
	out    benchAnswer
}

// benchTask is a set, what it is to be reached in, and how that is seen.
type benchTask struct {
	set, what string
	budget    time.Duration
	slow      bool // only when it is asked for
	run       func(b *planBench, s *benchSet, budget time.Duration) error
	toReach   string
	met       func(s *benchSet) bool
}

func benchTasks() []benchTask {
	tardiness := func(n int, in, best string) func(*planBench, *benchSet, time.Duration) error {
		return func(b *planBench, s *benchSet, budget time.Duration) error {
			return b.tardiness(s, budget, n, in, best)
		}
	}
	best := func(n int, gap float64) func(*benchSet) bool {
		return func(s *benchSet) bool { return s.AtBest >= n && *s.GapPercent <= gap }
	}
	gap := func(most float64) func(*benchSet) bool {
		return func(s *benchSet) bool { return *s.GapPercent <= most && *s.Pooled <= most }
	}
	projects := func(s *benchSet) bool { return s.Wrong == 0 && 20*s.AtBest >= 19*s.Instances }
	proof := func(ms float64) func(*benchSet) bool {
		return func(s *benchSet) bool { return s.AtBest == s.Instances && s.MedianMillis <= ms }
	}
	return []benchTask{
		{"wt40", "weighted tardiness, 40 jobs", 300 * time.Millisecond, false, tardiness(40, "wt40.txt", "wtopt40.txt"), "125 at the optimum", best(125, 1)},
		{"wt50", "weighted tardiness, 50 jobs", 300 * time.Millisecond, false, tardiness(50, "wt50.txt", "wtopt50.txt"), "124 at the optimum", best(124, 1)},
		{"wt100", "weighted tardiness, 100 jobs", time.Second, false, tardiness(100, "wt100.txt", "wtbest100b.txt"), "gap at most 0.05 %, 105 at the best", best(105, 0.05)},
		{"wtsds", "the same with setups, 60 jobs", time.Second, false, (*planBench).setups, "both gaps at most 1.5 %", gap(1.5)},
		{"wtsds-5s", "the same for longer", 5 * time.Second, true, (*planBench).setups, "both gaps at most 0.5 %", gap(0.5)},
		{"j10", "projects with lags, 10 activities", time.Second, false, (*planBench).projects, "95 % right, none wrong", projects},
		{"ubo10", "projects with lags, 10 activities", time.Second, false, (*planBench).projects, "95 % right, none wrong", projects},
		{"booth12", "one booth, 12 loads, windows, setups", time.Second, false, proofs(12), "all proved, median at most 5 ms", proof(5)},
		{"booth16", "one booth, 16 loads, windows, setups", time.Second, false, proofs(16), "all proved, median at most 50 ms", proof(50)},
		{"replan40", "40 loads after an event, from the old plan", 50 * time.Millisecond, false, (*planBench).replans, "within 5 % of 2 s from nothing", gap(5)},
	}
}

// Run measures.
func (q BenchPlan) Run(o Out) error {
	b := planBench{q: q, out: benchAnswer{Sets: []benchSet{}, Wall: q.Wall}, now: processorTime}
	if q.Wall {
		begun := time.Now()
		b.now = func() time.Duration { return time.Since(begun) }
	}
	if err := b.options(); err != nil {
		return err
	}
	var names []string
	for _, t := range benchTasks() {
		names = append(names, t.set)
		if q.Set != t.set && (q.Set != "" || t.slow) {
			continue
		}
		if err := b.one(t); err != nil {
			return err
		}
	}
	if len(b.out.Sets) == 0 {
		return fault.Bad("--set", show(q.Set), fmt.Sprintf("one of %s", strings.Join(names, ", ")))
	}
	return o.put(b.out)
}

// one measures a set and judges it.
func (b *planBench) one(t benchTask) error {
	budget := b.budget
	if budget == 0 {
		budget = t.budget
	}
	s := benchSet{Set: t.set, What: t.what, ToReach: t.toReach, NewBests: []benchBest{}, BudgetMillis: budget.Seconds() * 1000}
	if err := t.run(b, &s, budget); err != nil {
		return err
	}
	if b.every == 1 && budget == t.budget {
		met := t.met(&s)
		s.Met = &met
	}
	b.out.Sets = append(b.out.Sets, s)
	if b.q.Progress != nil {
		fmt.Fprintf(b.q.Progress, "%s done: %d instances\n", s.Set, s.Instances)
	}
	return nil
}

func (b *planBench) options() error {
	q, err := b.q, error(nil)
	if q.Budget != "" {
		if b.budget, err = time.ParseDuration(q.Budget); err != nil || b.budget <= 0 || b.budget > time.Hour {
			return fault.Bad("--budget", show(q.Budget), "a time like 1s or 300ms, at most 1h")
		}
	}
	every, err := number("--every", q.Every, "a whole number from 1")
	if err != nil {
		return err
	}
	if b.every = int(every); float64(b.every) != every || b.every < 1 {
		return fault.Bad("--every", show(q.Every), "a whole number from 1")
	}
	seed, err := number("--seed", q.Seed, "a whole number from 0")
	if err != nil {
		return err
	}
	if b.seed = uint64(max(seed, 0)); float64(b.seed) != seed {
		return fault.Bad("--seed", show(q.Seed), "a whole number from 0")
	}
	return nil
}

// until gives what ends a search after a budget from now on.
func (b *planBench) until(budget time.Duration) func() bool {
	begun := b.now()
	return func() bool { return b.now()-begun < budget }
}

func (b *planBench) text(path ...string) (string, error) {
	name := filepath.Join(append([]string{b.q.Dir}, path...)...)
	data, err := os.ReadFile(name)
	if err != nil {
		return "", fault.Bad("DIR", show(name), "a folder with the published instances; "+reason(err))
	}
	return string(data), nil
}

// took notes how long the instances of a set took.
func (s *benchSet) took(times []float64) {
	slices.Sort(times)
	s.Instances = len(times)
	s.MedianMillis, s.WorstMillis = times[len(times)/2], times[len(times)-1]
}

func (a benchAnswer) Lines() []string {
	rows := [][]string{{"set", "instances", "budget", "at the best", "mean gap", "of the sums", "first come", "earliest due", "median", "longest", "to reach", ""}}
	gap := func(x *float64) string {
		if x == nil {
			return "-"
		}
		return quantity.Round(*x, 3) + " %"
	}
	ms := func(x float64) string { return quantity.Round(x, 1) + " ms" }
	var bests []string
	for _, s := range a.Sets {
		best := fmt.Sprintf("%d", s.AtBest)
		if s.Wrong > 0 {
			best += fmt.Sprintf(", %d wrong", s.Wrong)
		}
		verdict := ""
		if s.Met != nil {
			if verdict = "missed"; *s.Met {
				verdict = "met"
			}
		}
		rows = append(rows, []string{
			s.Set, fmt.Sprintf("%d", s.Instances), ms(s.BudgetMillis), best, gap(s.GapPercent), gap(s.Pooled),
			gap(s.FirstCome), gap(s.EarliestDue), ms(s.MedianMillis), ms(s.WorstMillis), s.ToReach, verdict,
		})
		for _, n := range s.NewBests {
			bests = append(bests, fmt.Sprintf("%s %s: %s, was %s", s.Set, n.Instance, quantity.Round(n.Cost, 0), quantity.Round(n.Was, 0)))
		}
	}
	clock := "times are the program's own on the processor; one thread"
	if a.Wall {
		clock = "times are of the clock on the wall; one thread"
	}
	out := append(table(rows), "", clock+"; gaps in % of the best known: the mean where that is not 0, and that of the sums")
	if len(bests) > 0 {
		out = append(append(out, "", "better than the best known (the orders are in the answer to --json)"), bests...)
	}
	return out
}
