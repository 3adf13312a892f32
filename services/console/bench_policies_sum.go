package console

import (
	"fmt"
	"math"

	"seamwright/services/calc/quantity"
	"seamwright/services/sim"
)

// setOf is what the runs of one policy at one load came to.
func setOf(runs []policyRun) policySet {
	out := policySet{Load: runs[0].Load, Policy: runs[0].Order.Policy, Measures: map[string]spreadOfOne{}}
	for _, m := range measures {
		s := spreadOfOne{Min: math.Inf(1), Max: math.Inf(-1)}
		for _, r := range runs {
			x := m.of(r.Order)
			s.Mean += x / float64(len(runs))
			s.Min, s.Max = min(s.Min, x), max(s.Max, x)
		}
		for _, r := range runs {
			s.SD += (m.of(r.Order) - s.Mean) * (m.of(r.Order) - s.Mean)
		}
		if s.SD = math.Sqrt(s.SD / float64(max(len(runs)-1, 1))); len(runs) == 1 {
			s.SD = 0
		}
		out.Measures[m.key] = s
	}
	return out
}

// gains compares the plan with the other policies at each load, seed by seed.
func (a *policyAnswer) gains() {
	by := map[string]*sim.Tally{}
	key := func(load float64, p sim.Policy, seed uint64) string { return fmt.Sprint(load, p, seed) }
	for _, r := range a.Runs {
		by[key(r.Load, r.Order.Policy, r.Seed)] = r.Order
	}
	for _, set := range a.Sets {
		if set.Policy == sim.Planned || by[key(set.Load, sim.Planned, a.First)] == nil {
			continue
		}
		g := policyGains{Load: set.Load, Against: set.Policy}
		var late, lateOther, missed, missedOther float64
		for n := range a.Seeds {
			p, o := by[key(set.Load, sim.Planned, a.First+uint64(n))], by[key(set.Load, set.Policy, a.First+uint64(n))]
			late, lateOther = late+p.Tardiness, lateOther+o.Tardiness
			missed, missedOther = missed+float64(p.Missed), missedOther+float64(o.Missed)
			switch {
			case p.Tardiness < o.Tardiness:
				g.Better++
			case p.Tardiness > o.Tardiness:
				g.Worse++
			}
		}
		g.Tardiness, g.Missed = lower(late, lateOther), lower(missed, missedOther)
		a.Gains = append(a.Gains, g)
	}
}

// lower is by how many per cent of the other x lies below it.
func lower(x, other float64) *float64 {
	if other == 0 {
		return nil
	}
	p := 100 * (other - x) / other
	return &p
}

func (a *policyAnswer) Lines() []string {
	head := []string{"load", "policy"}
	for _, m := range measures {
		head = append(head, m.title)
	}
	rows := [][]string{head}
	for _, s := range a.Sets {
		row := []string{quantity.Round(s.Load, 0) + " %", string(s.Policy)}
		for _, m := range measures {
			x := s.Measures[m.key]
			row = append(row, quantity.Round(x.Mean, m.digits)+" ± "+quantity.Round(x.SD, m.digits))
		}
		rows = append(rows, row)
	}
	out := append(table(rows), "")
	percent := func(p *float64) string {
		if p == nil {
			return "no less, there were none,"
		}
		return quantity.Round(*p, 1) + " % lower"
	}
	for _, g := range a.Gains {
		out = append(out, fmt.Sprintf("at %g %% the plan's weighted tardiness is %s than %s's (less in %d seeds, more in %d), its missed windows %s",
			g.Load, percent(g.Tardiness), g.Against, g.Better, g.Worse, percent(g.Missed)))
	}
	return append(out, fmt.Sprintf("%d seeds from %d, cars come in on %d days; mean ± standard deviation over the seeds; the same cars and the same luck under every policy",
		a.Seeds, a.First, a.Days))
}
