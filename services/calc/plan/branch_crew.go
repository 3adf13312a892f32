package plan

import "slices"

// crewed is what a crew can do at most: the lengths of work that one person
// can fill a stretch with.
type crewed struct {
	sums []int64 // that lengths of its tasks add up to, in order; nil: too many to list
}

// sumsMost is for how many tasks all sums of their lengths are listed.
const sumsMost = 14

func (m *model) crewSums() []crewed {
	out := make([]crewed, len(m.crews))
	for c := range m.crews {
		var lengths []int64
		for k := range m.tasks {
			if t := &m.tasks[k]; int(t.crew) == c && !t.past {
				lengths = append(lengths, t.length)
			}
		}
		if len(lengths) > sumsMost {
			continue
		}
		sums := []int64{0}
		for _, l := range lengths {
			for _, s := range slices.Clone(sums) {
				sums = append(sums, s+l)
			}
			slices.Sort(sums)
			sums = slices.Compact(sums)
		}
		out[c].sums = sums
	}
	return out
}

// fills is the most work that fits into a stretch.
func (c crewed) fills(length int64) int64 {
	if c.sums == nil {
		return length
	}
	i, found := slices.BinarySearch(c.sums, length)
	if !found {
		i--
	}
	return c.sums[i]
}

// overworked reports whether what a crew must still do from some moment on is
// more than it can do: every task is one person's, without a break.
func (x *brancher) overworked(t times) bool {
	for c := range x.m.crews {
		w := &x.m.crews[c]
		if w.open == nil {
			continue
		}
		for k := range x.m.tasks {
			from := t.task[k]
			if int(x.m.tasks[k].crew) != c || !x.must(int32(k)) {
				continue
			}
			work := int64(0)
			for o := range x.m.tasks {
				if v := &x.m.tasks[o]; int(v.crew) == c && x.must(int32(o)) && t.task[o] >= from {
					work += v.length
				}
			}
			for i := len(w.open) - 1; i >= 0 && work > 0; i-- {
				s := w.open[i]
				if s.to <= from {
					break
				}
				work -= int64(w.people) * x.crews[c].fills(s.to-max(s.from, from))
			}
			if work > 0 {
				return true
			}
		}
	}
	return false
}

// must reports whether a task has to be done: its load has its place.
func (x *brancher) must(k int32) bool {
	w := &x.m.tasks[k]
	return !w.past && !x.gone[w.load] && (x.in[w.load] || x.m.loads[w.load].fixed >= 0)
}
