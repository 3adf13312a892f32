package plan

import (
	"math"
	"strings"
	"testing"
	"time"
)

// TestNoPlanKeepsIsTrue makes dear what is said to be missed in every plan, and
// looks through all plans of the problem: the best of them must pay for it.
func TestNoPlanKeepsIsTrue(t *testing.T) {
	const dear = 1e6
	d := newDice(64)
	seen := map[string]int{}
	for k := range rounds(t, 1500, 20_000) {
		x := mix{loads: 1 + d.below(3), tasks: d.below(5), booths: 1, slots: 13, long: 2, frozen: d.below(2) == 0, windows: true, tightCalendar: d.below(2) == 0}
		p := randomProblem(d, x)
		if len(p.Crews) > 0 && d.below(3) == 0 {
			p.Crews[0].RoundTheClock, p.Crews[0].Open = false, []Interval{{monday, monday.Add(time.Duration(1+d.below(3)) * grain)}}
		}
		got := solved(t, p, Options{Seed: uint64(k), Rounds: 10, More: tries(3_000)})
		for _, l := range got.Loads {
			kind := ""
			q := p
			q.Loads = append([]Load(nil), p.Loads...)
			q.Loads[l.Index].MissCost = dear
			switch {
			case strings.Contains(l.Why, ", which no plan keeps: no booth"):
				kind = "booth"
			case strings.Contains(l.Why, " stops work at "):
				kind = "crew"
			case strings.Contains(l.Why, "its window closed") && strings.Contains(l.Why, ", which no plan keeps: "):
				kind = "tasks"
			case strings.Contains(l.Why, ", which no plan keeps: "):
				kind = "lag"
			case strings.Contains(l.Why, ", before its release at "):
				kind = "release"
			case strings.Contains(l.Why, "; no plan keeps that and "):
				kind = "both"
				for i := range q.Loads {
					if strings.Contains(l.Why, " to "+q.Loads[i].ID+" as well") {
						q.Loads[i].MissCost = dear
					}
				}
			default:
				continue
			}
			if seen[kind]++; seen[kind] > rounds(t, 20, 200) {
				continue
			}
			best := bySlots(&q, 30)
			if best.left != math.MaxInt && best.cost < dear {
				t.Fatalf("problem %d, %s: %q, and a plan costs %g\n%s\n%s", k, l.ID, l.Why, best.cost, show(p), show(got))
			}
		}
	}
	for _, kind := range []string{"booth", "crew", "tasks", "lag", "release"} {
		if seen[kind] == 0 && !testing.Short() {
			t.Errorf("no sentence of the kind %q was seen", kind)
		}
	}
	t.Logf("%v", seen)
}
