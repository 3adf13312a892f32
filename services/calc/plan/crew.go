package plan

import (
	"slices"
	"sort"
)

// roster says how many people of a crew are at work, as steps over time:
// use[i] of them from at[i] to at[i+1].
type roster struct {
	at  []int64
	use []int32
}

func (r *roster) clear() {
	r.at = append(r.at[:0], -never)
	r.use = append(r.use[:0], 0)
}

// step is the index of the step that holds at t.
func (r *roster) step(t int64) int {
	return sort.Search(len(r.at), func(i int) bool { return r.at[i] > t }) - 1
}

// edge makes t the begin of a step and gives its index.
func (r *roster) edge(t int64) int {
	i := r.step(t)
	if r.at[i] == t {
		return i
	}
	r.at = slices.Insert(r.at, i+1, t)
	r.use = slices.Insert(r.use, i+1, r.use[i])
	return i + 1
}

// add puts one person to work, or with -1 takes one off again.
func (r *roster) add(from, to int64, one int32) {
	i, k := r.edge(from), r.edge(to)
	if i > k { // never: from is before to
		return
	}
	for x := i; x < k; x++ {
		r.use[x] += one
	}
	r.join(k)
	r.join(i)
}

// join drops an edge where nothing changes.
func (r *roster) join(i int) {
	if i > 0 && r.use[i] == r.use[i-1] {
		r.at = slices.Delete(r.at, i, i+1)
		r.use = slices.Delete(r.use, i, i+1)
	}
}

// early is the earliest start from t on at which one more person of a crew
// can work without a break; never if there is none.
func (r *roster) early(c *crew, t, length int64) int64 {
	for {
		if c.open != nil {
			t = fit(c.open, t, length)
		}
		if t >= never {
			return never
		}
		next := int64(-1)
		for i := r.step(t); i < len(r.at) && r.at[i] < t+length; i++ {
			if int(r.use[i]) >= c.people {
				next = r.at[i+1] // the last step has nobody at work
			}
		}
		if next < 0 {
			return t
		}
		t = next
	}
}

// late is the latest start, not before low, that ends by `by`; -never if
// there is none.
func (r *roster) late(c *crew, by, length, low int64) int64 {
	for {
		s := by - length
		if c.open != nil {
			s = fitLate(c.open, by, length)
		}
		if s < low {
			return -never
		}
		full := false
		for i := r.step(s); i < len(r.at) && r.at[i] < s+length; i++ {
			if int(r.use[i]) >= c.people {
				by, full = r.at[i], true
				break
			}
		}
		if !full {
			return s
		}
	}
}
