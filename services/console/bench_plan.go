package console

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"

	"seamwright/services/calc/plan"
	"seamwright/services/calc/plan/published"
	"seamwright/services/calc/quantity"
	"seamwright/services/fault"
)

// BenchPlan measures the planner on published instances.
type BenchPlan struct {
	Dir    string // with the folders wt-orlib, wtsds-cicirello, rcpsp-max
	Budget string // for each instance
	Every  string // takes only every so many-th instance
	Seed   string
	Set    string // only this one; empty: all
}

type benchAnswer struct {
	Sets []benchSet `json:"sets"`
}

// benchSet is how one set went. Gaps are means in % of the best known, those
// of the rules of thumb beside it.
type benchSet struct {
	Set          string   `json:"set"`
	Instances    int      `json:"instances"`
	AtBest       int      `json:"at_best"`
	GapPercent   *float64 `json:"gap_percent"`
	FirstCome    *float64 `json:"first_come_gap_percent"`
	EarliestDue  *float64 `json:"earliest_due_gap_percent"`
	Wrong        int      `json:"wrong"` // told to be possible what is not, or the other way round
	MedianMillis float64  `json:"median_ms_to_best"`
	WorstMillis  float64  `json:"worst_ms"`
}

// planBench is one measurement under way.
type planBench struct {
	q      BenchPlan
	budget time.Duration
	every  int
	seed   uint64
	out    benchAnswer
}

// Run measures.
func (q BenchPlan) Run(o Out) error {
	b := planBench{q: q, out: benchAnswer{Sets: []benchSet{}}}
	var err error
	if b.budget, err = time.ParseDuration(q.Budget); err != nil || b.budget <= 0 || b.budget > time.Hour {
		return fault.Bad("--budget", show(q.Budget), "a time like 1s or 300ms, at most 1h")
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
	known := false
	for _, set := range []struct {
		name string
		run  func() error
	}{
		{"wt40", func() error { return b.tardiness("wt40", 40, "wt40.txt", "wtopt40.txt") }},
		{"wt50", func() error { return b.tardiness("wt50", 50, "wt50.txt", "wtopt50.txt") }},
		{"wt100", func() error { return b.tardiness("wt100", 100, "wt100.txt", "wtbest100b.txt") }},
		{"wtsds", b.setups},
		{"j10", func() error { return b.projects("j10") }},
		{"ubo10", func() error { return b.projects("ubo10") }},
	} {
		if q.Set != "" && q.Set != set.name {
			continue
		}
		known = true
		if err := set.run(); err != nil {
			return err
		}
	}
	if !known {
		return fault.Bad("--set", show(q.Set), "one of wt40, wt50, wt100, wtsds, j10, ubo10")
	}
	return o.put(b.out)
}

func (b *planBench) text(path ...string) (string, error) {
	name := filepath.Join(append([]string{b.q.Dir}, path...)...)
	data, err := os.ReadFile(name)
	if err != nil {
		return "", fault.Bad("DIR", show(name), "a folder with the published instances; "+reason(err))
	}
	return string(data), nil
}

// single measures instances of the plain single machine.
func (b *planBench) single(name string, instances []plan.Single, best []float64) error {
	var gap, first, due float64
	var took []float64
	set := benchSet{Set: name}
	for k := 0; k < len(instances); k += b.every {
		s := instances[k]
		begun := time.Now()
		found := begun
		got, err := s.Solve(plan.Options{
			Seed: b.seed, More: func() bool { return time.Since(begun) < b.budget },
			Better: func(float64) { found = time.Now() },
		})
		if err != nil {
			return err
		}
		set.Instances++
		if got.Cost <= best[k] {
			set.AtBest++
		}
		gap += published.Gap(got.Cost, best[k])
		first += published.Gap(s.Cost(published.FirstCome(s)), best[k])
		due += published.Gap(s.Cost(published.EarliestDue(s)), best[k])
		took = append(took, found.Sub(begun).Seconds()*1000)
		set.WorstMillis = max(set.WorstMillis, time.Since(begun).Seconds()*1000)
	}
	slices.Sort(took)
	n := float64(set.Instances) / 100
	gap, first, due = gap/n, first/n, due/n
	set.GapPercent, set.FirstCome, set.EarliestDue, set.MedianMillis = &gap, &first, &due, took[len(took)/2]
	b.out.Sets = append(b.out.Sets, set)
	return nil
}

func (b *planBench) tardiness(name string, n int, file, bestFile string) error {
	in, err := b.text("wt-orlib", file)
	if err != nil {
		return err
	}
	values, err := b.text("wt-orlib", bestFile)
	if err != nil {
		return err
	}
	instances, best, err := published.WeightedTardiness(n, in, values)
	if err != nil {
		return err
	}
	return b.single(name, instances, best)
}

func (b *planBench) setups() error {
	values, err := b.text("wtsds-cicirello", "best-found.csv")
	if err != nil {
		return err
	}
	orders, err := published.Orders(values)
	if err != nil {
		return err
	}
	var instances []plan.Single
	var best []float64
	for _, o := range orders {
		in, err := b.text("wtsds-cicirello", "wt_sds_"+o.Instance+".instance")
		if err != nil {
			return err
		}
		s, err := published.Setups(in)
		if err != nil {
			return err
		}
		instances, best = append(instances, s), append(best, o.Cost)
	}
	return b.single("wtsds", instances, best)
}

// projects measures projects with lags: proved and right counts as at best.
func (b *planBench) projects(name string) error {
	values, err := b.text("rcpsp-max", "optimum-"+name+".csv")
	if err != nil {
		return err
	}
	optima, err := published.Optima(values)
	if err != nil {
		return err
	}
	set := benchSet{Set: name}
	var took []float64
	for k := 0; k < len(optima); k += b.every {
		in, err := b.text("rcpsp-max", name, optima[k].File)
		if err != nil {
			return err
		}
		p, err := published.Project(in)
		if err != nil {
			return err
		}
		begun := time.Now()
		got, err := p.Solve(plan.Options{More: func() bool { return time.Since(begun) < b.budget }})
		if err != nil {
			return err
		}
		ms := time.Since(begun).Seconds() * 1000
		took, set.WorstMillis = append(took, ms), max(set.WorstMillis, ms)
		set.Instances++
		if (got.Start == nil) == optima[k].None && got.Makespan == optima[k].Makespan {
			set.AtBest++
		} else if got.Start != nil && (optima[k].None || got.Makespan < optima[k].Makespan) || got.Proved {
			set.Wrong++
		}
	}
	slices.Sort(took)
	set.MedianMillis = took[len(took)/2]
	b.out.Sets = append(b.out.Sets, set)
	return nil
}

func (a benchAnswer) Lines() []string {
	rows := [][]string{{"set", "instances", "at the best", "mean gap", "first come", "earliest due", "median to it", "longest"}}
	gap := func(x *float64) string {
		if x == nil {
			return "-"
		}
		return quantity.Round(*x, 3) + " %"
	}
	for _, s := range a.Sets {
		best := fmt.Sprintf("%d", s.AtBest)
		if s.Wrong > 0 {
			best += fmt.Sprintf(", %d wrong", s.Wrong)
		}
		rows = append(rows, []string{
			s.Set, fmt.Sprintf("%d", s.Instances), best, gap(s.GapPercent), gap(s.FirstCome), gap(s.EarliestDue),
			quantity.Round(s.MedianMillis, 1) + " ms", quantity.Round(s.WorstMillis, 1) + " ms",
		})
	}
	return table(rows)
}
