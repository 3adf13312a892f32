package plan

import (
	"fmt"
	"math"
	"testing"
)

// left counts the loads of a plan without a place.
func left(got *Plan) int {
	n := 0
	for _, r := range got.Loads {
		if !r.Placed() {
			n++
		}
	}
	return n
}

func solved(t *testing.T, p Problem, o Options) Plan {
	t.Helper()
	got, err := Solve(p, o)
	if err != nil {
		t.Fatal(err)
	}
	if err := judge(&p, &got); err != nil {
		t.Fatalf("%v\n%s\n%s", err, show(p), show(got))
	}
	return got
}

func show(x any) string { return fmt.Sprintf("%+v", x) }

func rounds(t *testing.T, short, long int) int {
	t.Helper()
	if testing.Short() {
		return short / 4
	}
	if *longer {
		return long
	}
	return short
}

// TestAgainstEveryOrder compares with the best of all orders.
func TestAgainstEveryOrder(t *testing.T) {
	d := newDice(1)
	most := rounds(t, 7, 8)
	for k := range rounds(t, 400, 2000) {
		x := mix{loads: 1 + d.below(max(most, 4)), booths: 1 + d.below(2), slots: 24, long: 5, frozen: true, windows: true, waits: d.below(2) == 0, tightCalendar: d.below(3) == 0}
		p := randomProblem(d, x)
		got := solved(t, p, Options{Seed: uint64(k), Rounds: 50})
		want := byOrders(&p)
		if !got.Optimal || left(&got) != want.left || math.Abs(got.Objective-want.cost) > 1e-6 {
			t.Fatalf("problem %d: %d left, cost %g, optimal %v; want %+v\n%s\n%s", k, left(&got), got.Objective, got.Optimal, want, show(p), show(got))
		}
	}
}

// TestAgainstEverySlot compares with the best of all moments, with tasks.
func TestAgainstEverySlot(t *testing.T) {
	d := newDice(2)
	for k := range rounds(t, 40, 2000) {
		x := mix{loads: 1 + d.below(4), tasks: d.below(5), booths: 1 + d.below(2), slots: 13, long: 2, frozen: true, windows: true, waits: d.below(2) == 0, tightCalendar: d.below(2) == 0}
		p := randomProblem(d, x)
		got := solved(t, p, Options{Seed: uint64(k), Rounds: 50})
		want := bySlots(&p, 30)
		lost := 0 // tasks of frozen loads that cannot be done have no twin
		for j := range p.Loads {
			if p.Loads[j].Frozen != nil && len(p.Tasks) > 0 {
				lost++
			}
		}
		if lost > 0 && want.left == math.MaxInt {
			continue
		}
		if !got.Optimal || left(&got) != want.left || math.Abs(got.Objective-want.cost) > 1e-6 {
			t.Fatalf("problem %d: %d left, cost %g, optimal %v; want %+v\n%s\n%s", k, left(&got), got.Objective, got.Optimal, want, show(p), show(got))
		}
	}
}
