package console

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"syscall"
	"time"

	"seamwright/services/calc/plan"
)

// processorTime is how long this process has been on the processors. It goes
// on only while the process does, whatever else the machine is busy with.
func processorTime() time.Duration {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// drawn is how many booth problems are drawn for a set.
const drawn = 25

// boothDays draws a problem: loads with releases, due times and colours over
// some days of 9.5 hours, half of them with a window that costs when missed.
func boothDays(r *rand.Rand, loads, booths int) plan.Problem {
	start := time.Date(2026, 3, 2, 7, 30, 0, 0, time.UTC)
	at := func(min int) time.Time { return start.Add(time.Duration(min) * time.Minute) }
	minutes := func(n int) time.Duration { return time.Duration(n) * time.Minute }
	colours := []string{"white", "silver", "red", "black"}
	p := plan.Problem{Start: start, Setups: map[string]map[string]time.Duration{}}
	for _, a := range colours {
		p.Setups[a] = map[string]time.Duration{}
		for _, b := range colours {
			p.Setups[a][b] = minutes(15 + 5*r.IntN(6))
		}
		p.Setups[a][a] = minutes(5)
	}
	days := 1 + loads/6/booths
	for b := range booths {
		x := plan.Booth{ID: fmt.Sprintf("B%d", b+1), Colour: "white"}
		for k := range days + 4 {
			x.Open = append(x.Open, plan.Interval{From: at(k * 1440), To: at(k*1440 + 570)})
		}
		p.Booths = append(p.Booths, x)
	}
	for j := range loads {
		day := r.IntN(days)
		l := plan.Load{
			ID: fmt.Sprintf("L%d", j+1), Colour: colours[r.IntN(4)], Process: minutes(45 + 5*r.IntN(13)),
			Release: at(day*1440 + 5*r.IntN(60)), Weight: float64(1 + r.IntN(9)), Tail: minutes(30 * r.IntN(5)),
			Due: at((day+r.IntN(2))*1440 + 240 + 5*r.IntN(72)),
		}
		if r.IntN(2) == 0 {
			l.LatestStart, l.MissCost = l.Release.Add(minutes(60+5*r.IntN(100))), float64(100*r.IntN(10))
		}
		for _, b := range p.Booths {
			l.Booths = append(l.Booths, b.ID)
		}
		p.Loads = append(p.Loads, l)
	}
	return p
}

// proofs measures how long it takes until a plan of one booth is proved; what
// is proved counts as at the best.
func proofs(loads int) func(*planBench, *benchSet, time.Duration) error {
	return func(b *planBench, set *benchSet, budget time.Duration) error {
		r := rand.New(rand.NewPCG(b.seed, uint64(loads)))
		var own, first, due gaps
		var took []float64
		for k := range drawn {
			p := boothDays(r, loads, 1)
			if k%b.every != 0 {
				continue
			}
			begun := b.now()
			got, err := plan.Solve(p, plan.Options{Seed: b.seed, More: b.until(budget)})
			if err != nil {
				return err
			}
			took = append(took, (b.now()-begun).Seconds()*1000)
			if got.Optimal {
				set.AtBest++
			}
			own.add(got.Objective, got.LowerBound)
			if err := rules(p, got.LowerBound, &first, &due); err != nil {
				return err
			}
		}
		set.took(took)
		set.GapPercent, set.Pooled, set.FirstCome, set.EarliestDue = own.mean(), own.pooled(), first.mean(), due.mean()
		return nil
	}
}

// rules adds what the two rules of thumb cost beside the best.
func rules(p plan.Problem, best float64, first, due *gaps) error {
	for _, r := range []struct {
		to *gaps
		by func(l *plan.Load) time.Time
	}{
		{first, func(l *plan.Load) time.Time { return l.Release }},
		{due, func(l *plan.Load) time.Time { return l.Due }},
	} {
		cost, err := inOrderOf(p, r.by)
		if err != nil {
			return err
		}
		r.to.add(cost, best)
	}
	return nil
}

// inOrderOf is what it costs to take loads as they come by a rule, each as
// early as it can stand; with several booths they take turns.
func inOrderOf(p plan.Problem, by func(l *plan.Load) time.Time) (float64, error) {
	order := make([]int, len(p.Loads))
	for j := range order {
		order[j] = j
	}
	slices.SortStableFunc(order, func(a, b int) int { return by(&p.Loads[a]).Compare(by(&p.Loads[b])) })
	var from plan.Plan
	for k, j := range order {
		l := &p.Loads[j]
		booth := l.Booths[k%len(l.Booths)]
		if l.Frozen != nil {
			booth = l.Frozen.Booth
		}
		from.Loads = append(from.Loads, plan.PlannedLoad{ID: l.ID, Booth: booth, Start: p.Start.Add(time.Duration(k) * time.Minute), Index: j})
	}
	got, err := plan.Solve(p, plan.Options{Rounds: 1, More: func() bool { return false }, From: &from, Keep: math.MaxFloat64})
	return got.Objective, err
}

// replans measures plans of 40 loads made anew from the old plan after one
// event, beside plans from nothing in 40 times as long, which is 2 s: what has
// begun stays, one car comes hours late and one more is there.
func (b *planBench) replans(set *benchSet, budget time.Duration) error {
	long := 40 * budget
	r := rand.New(rand.NewPCG(b.seed, 40))
	var own, first, due gaps
	var took []float64
	for k := range 10 {
		p := boothDays(r, 40, 1+k%2)
		if k%b.every != 0 {
			continue
		}
		old, err := plan.Solve(p, plan.Options{Seed: b.seed, More: b.until(long)})
		if err != nil {
			return err
		}
		p = later(p, &old)
		cold, err := plan.Solve(p, plan.Options{Seed: b.seed, More: b.until(long)})
		if err != nil {
			return err
		}
		begun := b.now()
		warm, err := plan.Solve(p, plan.Options{Seed: b.seed, More: b.until(budget), From: &old})
		if err != nil {
			return err
		}
		took = append(took, (b.now()-begun).Seconds()*1000)
		if warm.Objective <= cold.Objective {
			set.AtBest++
		}
		own.add(warm.Objective, cold.Objective)
		if err := rules(p, cold.Objective, &first, &due); err != nil {
			return err
		}
	}
	set.took(took)
	set.GapPercent, set.Pooled, set.FirstCome, set.EarliestDue = own.mean(), own.pooled(), first.mean(), due.mean()
	return nil
}

// later is a problem two hours on.
func later(p plan.Problem, old *plan.Plan) plan.Problem {
	now := p.Start.Add(2 * time.Hour)
	p.Start, p.Loads = now, slices.Clone(p.Loads)
	for _, l := range old.Loads {
		if l.Placed() && l.Start.Before(now) {
			p.Loads[l.Index].Frozen = &plan.Frozen{Booth: l.Booth, Start: l.Start}
		}
	}
	for j := len(p.Loads) - 1; j >= 0; j-- {
		if p.Loads[j].Frozen == nil {
			p.Loads[j].Release = now.Add(5 * time.Hour)
			break
		}
	}
	more := p.Loads[1]
	more.ID, more.Frozen, more.Release = "new", nil, now
	p.Loads = append(p.Loads, more)
	return p
}
