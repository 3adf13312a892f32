package console

import (
	"strconv"
	"time"

	"seamwright/services/calc/plan"
	"seamwright/services/calc/plan/published"
	"seamwright/services/fault"
)

// gaps adds up costs beside the best known ones.
type gaps struct {
	share, sum, best float64
	n                int // with a best above 0
}

func (g *gaps) add(cost, best float64) {
	g.sum += cost
	g.best += best
	if best > 0 {
		g.share += cost/best - 1
		g.n++
	}
}

// mean is the mean gap in % where the best known is not 0; nil without any.
func (g *gaps) mean() *float64 {
	if g.n == 0 {
		return nil
	}
	x := 100 * g.share / float64(g.n)
	return &x
}

// pooled is the gap of the sums in %; nil when the best are all 0.
func (g *gaps) pooled() *float64 {
	if g.best == 0 {
		return nil
	}
	x := 100 * (g.sum/g.best - 1)
	return &x
}

// single measures instances of the plain single machine: the time is that
// until the best that was found.
func (b *planBench) single(set *benchSet, budget time.Duration, names []string, instances []plan.Single, best []float64) error {
	var own, first, due gaps
	var took []float64
	for k := 0; k < len(instances); k += b.every {
		s := instances[k]
		begun := b.now()
		found := begun
		got, err := s.Solve(plan.Options{Seed: b.seed, More: b.until(budget), Better: func(float64) { found = b.now() }})
		if err != nil {
			return err
		}
		cost := s.Cost(got.Order)
		if cost != got.Cost || !permutation(got.Order, len(s.Process)) {
			return fault.New(fault.Internal, "plan", "an order that is none or costs otherwise than told", "")
		}
		if cost <= best[k] {
			set.AtBest++
		}
		if cost < best[k] {
			set.NewBests = append(set.NewBests, benchBest{names[k], cost, best[k], got.Order})
		}
		own.add(cost, best[k])
		first.add(s.Cost(published.FirstCome(s)), best[k])
		due.add(s.Cost(published.EarliestDue(s)), best[k])
		took = append(took, (found-begun).Seconds()*1000)
	}
	set.took(took)
	set.GapPercent, set.Pooled, set.FirstCome, set.EarliestDue = own.mean(), own.pooled(), first.mean(), due.mean()
	return nil
}

// permutation reports whether an order names each of n jobs once.
func permutation(order []int, n int) bool {
	seen := make([]bool, n)
	for _, j := range order {
		if j < 0 || j >= n || seen[j] {
			return false
		}
		seen[j] = true
	}
	return len(order) == n
}

func (b *planBench) tardiness(set *benchSet, budget time.Duration, n int, file, bestFile string) error {
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
	names := make([]string, len(best))
	for k := range names {
		names[k] = strconv.Itoa(k + 1)
	}
	return b.single(set, budget, names, instances, best)
}

func (b *planBench) setups(set *benchSet, budget time.Duration) error {
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
	var names []string
	for _, o := range orders {
		in, err := b.text("wtsds-cicirello", "wt_sds_"+o.Instance+".instance")
		if err != nil {
			return err
		}
		s, err := published.Setups(in)
		if err != nil {
			return err
		}
		instances, best, names = append(instances, s), append(best, o.Cost), append(names, o.Instance)
	}
	return b.single(set, budget, names, instances, best)
}

// projects measures projects with lags: what is right counts as at the best.
func (b *planBench) projects(set *benchSet, budget time.Duration) error {
	values, err := b.text("rcpsp-max", "optimum-"+set.Set+".csv")
	if err != nil {
		return err
	}
	optima, err := published.Optima(values)
	if err != nil {
		return err
	}
	var took []float64
	for k := 0; k < len(optima); k += b.every {
		want := optima[k]
		in, err := b.text("rcpsp-max", set.Set, want.File)
		if err != nil {
			return err
		}
		p, err := published.Project(in)
		if err != nil {
			return err
		}
		begun := b.now()
		got, err := p.Solve(plan.Options{More: b.until(budget)})
		if err != nil {
			return err
		}
		took = append(took, (b.now()-begun).Seconds()*1000)
		switch {
		case (got.Start == nil) == want.None && got.Makespan == want.Makespan:
			set.AtBest++
		case got.Start == nil && !want.None, got.Start != nil && (want.None || got.Makespan < want.Makespan), got.Proved:
			set.Wrong++
		}
	}
	set.took(took)
	return nil
}
