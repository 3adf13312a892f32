package published

import (
	"slices"

	"seamwright/services/calc/plan"
)

// FirstCome is first come, first served: the jobs as they stand in the
// instance.
func FirstCome(s plan.Single) []int {
	out := make([]int, len(s.Process))
	for j := range out {
		out[j] = j
	}
	return out
}

// EarliestDue is the earliest due date first.
func EarliestDue(s plan.Single) []int {
	out := FirstCome(s)
	slices.SortStableFunc(out, func(a, b int) int { return int(s.Due[a] - s.Due[b]) })
	return out
}

// Gap is how far a cost lies above the best known, as a share of it. Above a
// best of 0 the share of anything is 1.
func Gap(cost, best float64) float64 {
	switch {
	case cost == best:
		return 0
	case best == 0:
		return 1
	}
	return (cost - best) / best
}
