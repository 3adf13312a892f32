package plan

import (
	"math"
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
// cost of the whole order after it, and the choice by bounds with trying all.
func TestStepsAreReckonedRight(t *testing.T) {
	d := newDice(21)
	for range rounds(t, 40, 400) {
		p := plain(d, 3+d.below(12))
		if d.below(2) == 0 {
			for j := range p.Loads {
				p.Loads[j].Weight = float64(d.below(900)) / 100
			}
		}
		c := compile(&p).chainOf()
		if c == nil {
			t.Fatal("a plain problem makes no chain")
		}
		order := d.order(c.n)
		c.take(order)
		was := c.total
		after := func(s step) int64 {
			c.do(s)
			v := c.total - was
			c.take(order)
			return v
		}
		least := int64(0)
		for i := 1; i <= c.n; i++ {
			for j := i + 1; j <= c.n; j++ {
				if j > i+1 {
					if got, want := c.swap(i, j, beyond), after(step{i, 0, j}); got != want {
						t.Fatalf("swap %d %d: %d, is %d", i, j, got, want)
					}
					least = min(least, after(step{i, 0, j}))
				}
				for m := i + 1; m <= j; m++ {
					got, want := c.exchange(i, m, j+1, beyond), after(step{i, m, j + 1})
					if got != want {
						t.Fatalf("exchange %d %d %d: %d, is %d", i, m, j+1, got, want)
					}
					if m-i <= blockMost || j+1-m <= blockMost {
						least = min(least, want)
					}
				}
			}
		}
		found := int64(0)
		for i := 1; i <= c.n; i++ {
			if s, v := c.best(i, 0); v < 0 {
				if want := after(s); v != want {
					t.Fatalf("best at %d: %+v told %d, is %d", i, s, v, want)
				}
				found = min(found, v)
			}
		}
		if found != least {
			t.Fatalf("best step changes %d, the least of all %d", found, least)
		}
	}
}

// TestChainsCostWhatTheirOrdersCost adds up orders by themselves, also with
// weights that are no whole numbers and numbers so great that they are rounded.
func TestChainsCostWhatTheirOrdersCost(t *testing.T) {
	d := newDice(23)
	for k := range 60 {
		n := 1 + d.below(9)
		s := Single{Setup: make([][]int64, n+1)}
		great := int64(1)
		if k%3 == 2 {
			great = 1 << 30
		}
		for range n {
			s.Process = append(s.Process, great*int64(1+d.below(90)))
			s.Due = append(s.Due, great*int64(d.below(500)-50))
			s.Weight = append(s.Weight, float64(d.below(40))/float64(1+6*(k%2)))
		}
		for i := range s.Setup {
			for range n {
				s.Setup[i] = append(s.Setup[i], int64(d.below(1<<min(n*4, 30))))
			}
		}
		told := math.Inf(1)
		got, err := s.Solve(Options{Seed: 1, Rounds: 50, Better: func(c float64) { told = c }})
		if err != nil {
			t.Fatal(err)
		}
		if want := s.Cost(got.Order); got.Cost != want || told < math.Inf(1) && math.Abs(told-want) > 1e-4*(1+want) {
			t.Errorf("number %d: told %g and %g, adds up to %g", k, got.Cost, told, want)
		}
	}
	over := Single{Process: []int64{1, 1}, Due: []int64{1, 1}, Weight: []float64{1, 1}, Setup: [][]int64{{0, 1 << 31}, {0, 0}, {0, 0}}}
	if _, err := over.Solve(Options{Rounds: 1}); err == nil {
		t.Error("a setup that the matrix does not hold is taken")
	}
}

func (d *dice) order(n int) []int32 {
	x := make([]int32, n)
	for i := range x {
		x[i] = int32(i)
	}
	d.shuffle(x)
	return x
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
