package plan

import (
	"slices"
	"testing"
	"time"
)

// plain is a problem that amounts to a chain.
func plain(d *dice, loads int) Problem {
	p := boothDay(d, loads, 1)
	p.Booths[0].Open = []Interval{{monday.Add(-time.Hour), monday.Add(10000 * time.Hour)}}
	for j := range p.Loads {
		p.Loads[j].Release, p.Loads[j].LatestStart = time.Time{}, time.Time{}
		p.Loads[j].Due = monday.Add(time.Duration(d.below(100*loads)) * time.Minute)
		if d.below(5) == 0 {
			p.Loads[j].Due = time.Time{}
		}
	}
	return p
}

// TestStepsAreReckonedRight compares what a step is said to change with the
// cost of the whole order after it, and the bounds' choice with trying all.
func TestStepsAreReckonedRight(t *testing.T) {
	d := newDice(21)
	const big = 1e18
	for range rounds(t, 40, 400) {
		p := plain(d, 3+d.below(12))
		c := compile(&p).chainOf()
		if c == nil {
			t.Fatal("a plain problem makes no chain")
		}
		c.pull = poolPull * float64(d.below(2))
		order := d.order(c.n)
		c.take(order)
		was := c.total
		after := func(s step) float64 {
			c.do(s)
			v := c.total - was
			c.take(order)
			return v
		}
		least := 0.0
		for i := range c.n {
			for j := i + 1; j < c.n; j++ {
				if j > i+1 {
					if got, want := c.swap(i, j, big), after(step{i, 0, j}); got != want {
						t.Fatalf("swap %d %d: %g, is %g", i, j, got, want)
					}
					least = min(least, after(step{i, 0, j}))
				}
				for m := i + 1; m <= j; m++ {
					got, want := c.exchange(i, m, j+1, big), after(step{i, m, j + 1})
					if got != want {
						t.Fatalf("exchange %d %d %d: %g, is %g", i, m, j+1, got, want)
					}
					if m-i <= blockMost || j+1-m <= blockMost {
						least = min(least, want)
					}
				}
			}
		}
		found := 0.0
		for i := range c.n {
			if s, v := c.best(i, 0); v < 0 {
				if want := after(s); v != want {
					t.Fatalf("best at %d: %+v told %g, is %g", i, s, v, want)
				}
				found = min(found, v)
			}
		}
		if found != least {
			t.Fatalf("best step changes %g, the least of all %g", found, least)
		}
	}
}

func (d *dice) order(n int) []int {
	x := make([]int32, n)
	for i := range x {
		x[i] = int32(i)
	}
	d.shuffle(x)
	out := make([]int, n)
	for i := range x {
		out[i] = int(x[i])
	}
	return out
}

// TestChainsAreTakenForWhatTheyAre solves plain problems both ways.
func TestChainsAreTakenForWhatTheyAre(t *testing.T) {
	d := newDice(22)
	for range 6 {
		p := plain(d, 30)
		got := solved(t, p, Options{Seed: 1, Rounds: 200})
		m := compile(&p)
		seq := m.withRest(m.firstOrders())
		s := newSearcher(m, newTour(m, seq), newDice(1), func() bool { return true })
		s.iterate(5, 0)
		if got.Objective > s.best+1e-6 {
			t.Errorf("chain %g, general search %g", got.Objective, s.best)
		}
		p.Loads[3].Release = p.Start.Add(time.Minute)
		if compile(&p).chainOf() != nil {
			t.Error("a later release makes a chain")
		}
	}
	if x := newDice(1).order(5); len(slices.Compact(slices.Sorted(slices.Values(x)))) != 5 {
		t.Error("an order with a number twice")
	}
}
