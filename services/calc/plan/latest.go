package plan

import (
	"cmp"
	"slices"
)

// latest finds how late each task could start: together, so that with every
// task at its own latest start the plan keeps everything, and none of them
// alone could move later. Loads stay where they are. Tasks move one by one,
// those that begin last first, each to its latest place among the others,
// until none moves any more.
func (m *model) latest(c *course) []int64 {
	at := slices.Clone(c.task)
	if len(at) == 0 {
		return at
	}
	crews := m.rosters(at)
	order := make([]int32, 0, len(at))
	for k := range at {
		if at[k] < never {
			order = append(order, int32(k))
		}
	}
	for moved := true; moved; {
		moved = false
		slices.SortFunc(order, func(x, y int32) int { return cmp.Or(-cmp.Compare(at[x], at[y]), -cmp.Compare(x, y)) })
		for _, k := range order {
			t := &m.tasks[k]
			r := &crews[t.crew]
			r.add(at[k], at[k]+t.length, -1)
			if s := r.late(&m.crews[t.crew], m.by(c, at, k), t.length, at[k]+1); s > at[k] {
				at[k], moved = s, true
			}
			r.add(at[k], at[k]+t.length, 1)
		}
	}
	return at
}

// by is when a task has to end for its load and for the tasks that wait for
// it, with those at the given starts.
func (m *model) by(c *course, at []int64, k int32) int64 {
	t := &m.tasks[k]
	by := int64(never)
	if s := c.start[t.load]; s < never {
		by = s - t.minLag
	}
	for _, x := range t.before {
		if at[x] < never {
			by = min(by, at[x])
		}
	}
	return by
}

// rosters are the crews at work on tasks at given starts.
func (m *model) rosters(at []int64) []roster {
	out := make([]roster, len(m.crews))
	for i := range out {
		out[i].clear()
	}
	for k, s := range at {
		if s < never {
			out[m.tasks[k].crew].add(s, s+m.tasks[k].length, 1)
		}
	}
	return out
}
