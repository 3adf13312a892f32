package planner

import (
	"slices"
	"time"

	"seamwright/services/calc/plan"
)

// tries is how many plans between two are looked at.
const tries = 12

// least is a plan for which no more loads are moved than gain something by it:
// the first loads as a new plan has them, those behind them as they stood, as
// soon as moving those as well would not be worth it by itself. Else a change
// at the head of the queue would shuffle what is sprayed tomorrow, and the next
// one back.
func (d *Draft) least(s Search, old, got *plan.Plan) plan.Plan {
	is, was := inOrder(got.Loads), inOrder(old.Loads)
	first := 0
	for first < len(is) && is[first].Index == was[first].Index && is[first].Booth == was[first].Booth {
		first++
	}
	for k := first + 1; k < len(is) && k <= first+tries && s.rest(); k++ {
		mix, err := d.again(s, between(is, was, k))
		if err != nil || d.met(&mix) {
			continue
		}
		if d.worth(s, old, &mix) && !d.worth(s, &mix, got) {
			return mix
		}
	}
	return *got
}

// between is the order in which the first k loads of a plan are followed by
// the others as another plan has them.
func between(is, was []plan.PlannedLoad, k int) *plan.Plan {
	head := is[:k]
	out := &plan.Plan{}
	put := func(l plan.PlannedLoad) {
		if l.Placed() {
			l.Start = time.Time{}.AddDate(1, 0, 0).Add(time.Duration(len(out.Loads)) * time.Minute) // the order alone counts
			out.Loads = append(out.Loads, l)
		}
	}
	for _, l := range head {
		put(l)
	}
	for _, l := range was {
		i := slices.IndexFunc(is, func(x plan.PlannedLoad) bool { return x.Index == l.Index })
		switch {
		case i < k: // it stands in the head
		case !l.Placed():
			put(is[i]) // it had no place
		default:
			put(l)
		}
	}
	return out
}
