package plan

import (
	"cmp"
	"slices"
)

// hold is what keeps a task from beginning later than its latest start while
// the other tasks begin at theirs.
type hold struct {
	task   int32 // that begins when this one is over; -1: none
	crew   bool  // it is the crew that goes on to that task, which else waits for this one
	closes bool  // the crew stops work then
}

// ifLater says for each task, as a clause, what does not hold any more when it
// begins later than its latest start and all others at theirs: its own load, a
// task that waits for it or that its crew goes on to, with the load that this
// one in turn holds up, or its crew's hours.
func (w *reasons) ifLater(late []int64) []string {
	out := make([]string, len(late))
	ends := make([]end, len(late))
	type seat struct {
		crew int32
		at   int64
	}
	seats := map[seat]int32{}
	order := make([]int32, 0, len(late))
	for k, s := range late {
		if s < never {
			order = append(order, int32(k))
			if _, taken := seats[seat{w.tasks[k].crew, s}]; !taken {
				seats[seat{w.tasks[k].crew, s}] = int32(k)
			}
		}
	}
	slices.SortFunc(order, func(x, y int32) int { return cmp.Or(-cmp.Compare(late[x], late[y]), cmp.Compare(x, y)) })
	for _, k := range order { // what begins later first: holds lead there
		h := hold{task: -1}
		if t := &w.tasks[k]; w.c.booth[t.load] >= 0 && w.c.start[t.load]-t.minLag != late[k]+t.length {
			h = w.holdOf(late, k)
			if x, ok := seats[seat{t.crew, late[k] + t.length}]; ok && h.task < 0 && !h.closes {
				h = hold{task: x, crew: true}
			}
		}
		switch {
		case h.task >= 0:
			ends[k] = ends[h.task]
		case h.closes:
			ends[k] = end{task: k, closes: true}
		default:
			ends[k] = end{task: k}
		}
		out[k] = w.clause(late, k, h, ends[k])
	}
	return out
}

// end is where a chain of holds ends: with a task whose load, or whose crew's
// closing, holds it.
type end struct {
	task   int32
	closes bool
}

// holdOf looks for a task that waits for this one, then for the end of an
// interval of its crew.
func (w *reasons) holdOf(late []int64, k int32) hold {
	t := &w.tasks[k]
	over := late[k] + t.length
	for _, x := range t.before {
		if late[x] == over {
			return hold{task: x}
		}
	}
	closes := slices.ContainsFunc(w.crews[t.crew].open, func(o span) bool { return o.to == over })
	return hold{task: -1, closes: closes}
}

func (w *reasons) clause(late []int64, k int32, h hold, e end) string {
	t := &w.tasks[e.task]
	j := t.load
	name, l, s := w.p.Loads[j].ID, &w.loads[j], w.c.start[j]
	crew := w.p.Tasks[e.task].Crew
	inWindow := s == l.latest && !w.c.missed[j]
	if h.task < 0 {
		switch {
		case e.closes:
			return "it is not over before " + crew + " stops work at " + w.at(late[k]+t.length)
		case l.fixed >= 0:
			return "it is too late for " + name + ", frozen at " + w.at(s) + " in " + w.p.Booths[w.c.booth[j]].ID
		case inWindow:
			return name + " misses its window, which closes at " + w.at(s)
		}
		return name + " starts later than " + w.at(s) + " in " + w.p.Booths[w.c.booth[j]].ID
	}
	next := w.p.Tasks[h.task].ID
	words := next + " after it begins later than " + w.at(late[h.task])
	if h.crew {
		words = w.p.Tasks[k].Crew + " begins " + next + " later than " + w.at(late[h.task])
	}
	switch {
	case e.closes && e.task == h.task:
		return words + " and is not over before " + crew + " stops work at " + w.at(late[e.task]+t.length)
	case e.closes:
		return words + " and " + w.p.Tasks[e.task].ID + " is not over before " + crew + " stops work at " + w.at(late[e.task]+t.length)
	case l.fixed >= 0:
		return words + ", too late for " + name + ", frozen at " + w.at(s) + " in " + w.p.Booths[w.c.booth[j]].ID
	case inWindow:
		return words + ", too late for " + name + ", whose window closes at " + w.at(s)
	}
	return words + ", too late for " + name + "'s " + w.at(s) + " start in " + w.p.Booths[w.c.booth[j]].ID
}
