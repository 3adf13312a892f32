package plan

import (
	"fmt"
	"slices"
	"testing"
	"time"
)

// boothDay is a problem of some loads with windows and setups over three days.
func boothDay(d *dice, loads, booths int) Problem {
	at := func(min int) time.Time { return monday.Add(time.Duration(min) * time.Minute) }
	colours := []string{"white", "silver", "red", "black"}
	p := Problem{Start: monday, Setups: map[string]map[string]time.Duration{}}
	for _, a := range colours {
		p.Setups[a] = map[string]time.Duration{}
		for _, b := range colours {
			p.Setups[a][b] = time.Duration(15+5*d.below(6)) * time.Minute
		}
		p.Setups[a][a] = 5 * time.Minute
	}
	days := 1 + loads/6/booths
	for b := range booths {
		x := Booth{ID: fmt.Sprintf("B%d", b+1), Colour: "white"}
		for k := range days + 4 {
			x.Open = append(x.Open, Interval{at(k * 1440), at(k*1440 + 570)})
		}
		p.Booths = append(p.Booths, x)
	}
	for j := range loads {
		day := d.below(days)
		l := Load{
			ID: fmt.Sprintf("L%d", j+1), Colour: colours[d.below(4)], Process: time.Duration(45+5*d.below(13)) * time.Minute,
			Release: at(day*1440 + 5*d.below(60)), Weight: float64(1 + d.below(9)), Tail: time.Duration(30*d.below(5)) * time.Minute,
			Due: at((day+d.below(2))*1440 + 240 + 5*d.below(72)), MissCost: float64(100 * d.below(10)),
		}
		if d.below(2) == 0 {
			l.LatestStart = l.Release.Add(time.Duration(60+5*d.below(100)) * time.Minute)
		}
		for _, b := range p.Booths {
			l.Booths = append(l.Booths, b.ID)
		}
		p.Loads = append(p.Loads, l)
	}
	return p
}

// withWork adds tasks to a problem: a few for each load until there are n.
func withWork(d *dice, p Problem, n int) Problem {
	p.Crews = []Crew{{ID: "body", People: 2, Open: p.Booths[0].Open}}
	for k := range n {
		t := Task{
			ID: fmt.Sprintf("T%d", k+1), Load: p.Loads[k%len(p.Loads)].ID, Crew: "body", Length: time.Duration(20+5*d.below(9)) * time.Minute,
			MinLag: 15 * time.Minute, MaxLag: time.Duration(120+30*d.below(8)) * time.Minute, HasMax: true,
		}
		if k >= len(p.Loads) && d.below(2) == 0 {
			t.After = []string{fmt.Sprintf("T%d", k+1-len(p.Loads))}
		}
		p.Tasks = append(p.Tasks, t)
	}
	return p
}

// TestSmallProblemsAreProved holds what is promised: one booth and up to 10
// loads, two booths and up to 8, up to 5 loads with 8 tasks are proved, with
// the same plan every time.
func TestSmallProblemsAreProved(t *testing.T) {
	for _, c := range []struct{ loads, booths, tasks int }{{10, 1, 0}, {8, 2, 0}, {5, 1, 8}, {5, 2, 8}, {12, 1, 0}} {
		d := newDice(7)
		for k := range rounds(t, 12, 200) {
			p := boothDay(d, c.loads, c.booths)
			if c.tasks > 0 {
				p = withWork(d, p, c.tasks)
			}
			got := solved(t, p, Options{Seed: 1})
			if !got.Optimal {
				t.Fatalf("%+v number %d is not proved: cost %g, bound %g, %d left", c, k, got.Objective, got.LowerBound, left(&got))
			}
			if again := solved(t, p, Options{Seed: 1}); show(again.Loads) == "" || again.Objective != got.Objective || !sameStarts(&got, &again) {
				t.Fatalf("%+v number %d: another plan with the same seed", c, k)
			}
		}
	}
}

func sameStarts(a, b *Plan) bool {
	same := func(x, y PlannedLoad) bool {
		return x.ID == y.ID && x.Booth == y.Booth && x.Start.Equal(y.Start) && x.Why == y.Why
	}
	return slices.EqualFunc(a.Loads, b.Loads, same) && slices.Equal(a.Tasks, b.Tasks)
}

func BenchmarkExact(b *testing.B) {
	for _, c := range []struct{ loads, booths, tasks int }{{10, 1, 0}, {12, 1, 0}, {16, 1, 0}, {8, 2, 0}, {12, 2, 0}, {5, 1, 8}} {
		b.Run(fmt.Sprintf("%dloads%dbooths%dtasks", c.loads, c.booths, c.tasks), func(b *testing.B) {
			var ps []Problem
			d := newDice(7)
			for range 25 {
				p := boothDay(d, c.loads, c.booths)
				if c.tasks > 0 {
					p = withWork(d, p, c.tasks)
				}
				ps = append(ps, p)
			}
			var took []time.Duration
			for k := 0; b.Loop(); k++ {
				begun := time.Now()
				got, err := Solve(ps[k%len(ps)], Options{Seed: 1, More: func() bool { return time.Since(begun) < time.Second }})
				if err != nil || !got.Optimal {
					b.Fatalf("number %d: %v, optimal %v", k%len(ps), err, got.Optimal)
				}
				took = append(took, time.Since(begun))
			}
			slices.Sort(took)
			b.ReportMetric(float64(took[len(took)/2].Microseconds())/1000, "ms-median")
		})
	}
}
