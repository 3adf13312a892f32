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

// keepLags looks at loads that miss a lag though a missed window costs them
// nothing, which no search minds: where their tasks alone can be done later,
// so that the lags are kept, they are, and the load is not missed. Nothing
// costs more by it and no load moves.
func (m *model) keepLags(c *course) {
	var crews []roster
	for again := true; again; { // one that gives way may make room for another
		again = false
		for j := range m.loads {
			l := &m.loads[j]
			if !c.missed[j] || l.miss > 0 || c.booth[j] < 0 || c.start[j] > l.latest || len(l.tasks) == 0 {
				continue
			}
			if slices.ContainsFunc(l.tasks, func(k int32) bool { return c.task[k] >= never }) {
				continue
			}
			if crews == nil {
				crews = m.rosters(c.task)
			}
			broken := slices.DeleteFunc(slices.Clone(l.tasks), func(k int32) bool {
				return c.start[j]-(c.task[k]+m.tasks[k].length) <= m.tasks[k].maxLag
			})
			if m.delay(c, crews, l, broken) || m.delay(c, crews, l, slices.Clone(l.tasks)) {
				c.missed[j], again = false, true
			}
		}
	}
}

// delay does some of a load's tasks, from the last to the first, as late as
// they can be done among the others if all its lags are kept then, and reports
// that.
func (m *model) delay(c *course, crews []roster, l *load, own []int32) bool {
	slices.SortFunc(own, func(x, y int32) int { return cmp.Or(-cmp.Compare(c.task[x], c.task[y]), -cmp.Compare(x, y)) })
	was := map[int32]int64{}
	for _, k := range own {
		was[k] = c.task[k]
	}
	move := func(k int32, to func(*roster, *task) int64) {
		t := &m.tasks[k]
		r := &crews[t.crew]
		r.add(c.task[k], c.task[k]+t.length, -1)
		c.task[k] = to(r, t)
		r.add(c.task[k], c.task[k]+t.length, 1)
	}
	for _, k := range own {
		move(k, func(r *roster, t *task) int64 {
			return max(c.task[k], r.late(&m.crews[t.crew], m.by(c, c.task, k), t.length, c.task[k]))
		})
	}
	holds := !slices.ContainsFunc(l.tasks, func(k int32) bool {
		t := &m.tasks[k]
		return c.start[t.load]-(c.task[k]+t.length) > t.maxLag
	})
	if !holds {
		for _, k := range own {
			move(k, func(*roster, *task) int64 { return was[k] })
		}
	}
	return holds
}
