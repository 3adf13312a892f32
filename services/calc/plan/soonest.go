package plan

import (
	"cmp"
	"slices"
)

// soonest is when a load's tasks could be over, each as early as its crew can
// where the load's other tasks take none of the crew's time: no plan has them
// over earlier.
type soonest struct {
	ready int64 // the load could start then
	last  int32 // task that the load waits for longest; -1: none
	lacks vain  // task for which its crew has no time
}

// over is when a task is over at the soonest; never: one of its crew's tasks has
// no time.
type over struct {
	at int64
	in vain
}

// vain is a task for which its crew has no time from a moment on, when another
// one that it waits for can be over; -1: none.
type vain struct {
	task, after int32
	from        int64
}

// beside is what is at work beside a load's tasks.
type beside uint8

const (
	byItself     beside = iota // nothing; tasks of other loads that they wait for are done by themselves too
	besideOthers               // what the plan says
	unhurried                  // what the plan says, with crews that have people and hours for anything
)

func (w *reasons) soonest(j int32, b beside) soonest {
	known := w.over
	if b != byItself {
		known = map[int32]over{}
	}
	out := soonest{last: -1, lacks: vain{task: -1}}
	for _, k := range w.loads[j].tasks {
		if w.tasks[k].past {
			continue
		}
		x := w.overAt(k, j, b, known)
		if x.at >= never && out.lacks.task < 0 {
			out.lacks = x.in
		}
		if at := x.at + w.tasks[k].minLag; out.last < 0 || at > out.ready {
			out.ready, out.last = at, k
		}
	}
	return out
}

func (w *reasons) overAt(k, j int32, b beside, known map[int32]over) over {
	t := &w.tasks[k]
	if x, ok := known[k]; ok {
		return x
	}
	switch {
	case t.past:
		return over{}
	case t.load != j && b != byItself:
		return over{at: min(never, w.c.task[k]+t.length), in: vain{k, -1, 0}}
	}
	s, in := t.release, vain{k, -1, t.release}
	for _, a := range t.after {
		x := w.overAt(a, j, b, known)
		if x.at >= never {
			known[k] = x
			return x
		}
		if x.at > s {
			s, in = x.at, vain{k, a, x.at}
		}
	}
	crew := &w.crews[t.crew]
	switch {
	case b == besideOthers:
		s = w.atWork()[t.crew].early(crew, s, t.length)
	case b == byItself && crew.open != nil:
		s = fit(crew.open, s, t.length)
	}
	known[k] = over{min(never, s+t.length), in}
	return known[k]
}

// besides is when the last of a load's tasks can be over beside those of the
// other loads, with all orders of them tried: never where there is no time for
// all; not sure where they are too many to try.
func (w *reasons) besides(j int32) (ready int64, last int32, sure bool) {
	const most = 6
	own := w.loads[j].tasks
	if len(own) > most {
		return 0, -1, false
	}
	crews := w.atWork()
	ready, last = never, -1
	if len(own) == 0 {
		return 0, -1, w.spare >= 0
	}
	at := map[int32]int64{}
	var try func(now int64, by int32)
	try = func(now int64, by int32) {
		if w.spare -= 50; now >= ready || w.spare < 0 {
			return
		}
		if len(at) == len(own) {
			ready, last = now, by
			return
		}
		for _, k := range own {
			if _, done := at[k]; done {
				continue
			}
			s, ok := w.freeFrom(k, at)
			if !ok {
				continue
			}
			t := &w.tasks[k]
			r := &crews[t.crew]
			if s = r.early(&w.crews[t.crew], s, t.length); s >= never {
				continue
			}
			r.add(s, s+t.length, 1)
			at[k] = s
			if end := s + t.length + t.minLag; end > now || by < 0 {
				try(max(now, end), k)
			} else {
				try(now, by)
			}
			delete(at, k)
			r.add(s, s+t.length, -1)
		}
	}
	try(0, -1)
	return ready, last, w.spare >= 0
}

// freeFrom is when the tasks that one waits for are over; false: one of its own
// load is not planned yet.
func (w *reasons) freeFrom(k int32, at map[int32]int64) (int64, bool) {
	t := &w.tasks[k]
	s := t.release
	for _, a := range t.after {
		x := &w.tasks[a]
		switch {
		case x.past:
		case x.load != t.load:
			s = max(s, w.c.task[a]+x.length)
		default:
			mine, done := at[a]
			if !done {
				return 0, false
			}
			s = max(s, mine+x.length)
		}
	}
	return s, true
}

// standsFrom is the earliest start of a load from a moment on if no other load
// that is not frozen had to be sprayed; never: none.
func (w *reasons) standsFrom(j int32, ready int64) int64 {
	l := &w.loads[j]
	was := l.release
	l.release = max(was, ready)
	at := w.aloneStart(j)
	l.release = was
	return at
}

// gap is the earliest start of a load from a moment on between the loads that
// stand in its booths; never: none.
func (w *reasons) gap(j int32, ready int64) int64 {
	l := &w.loads[j]
	best := int64(never)
	for _, b := range l.booths {
		in := w.list(b)
		w.spare -= len(in)
		free, colour := int64(0), w.booths[b].colour
		for i := 0; i <= len(in); i++ {
			at := fit(w.booths[b].open, max(free+w.setup[colour][l.colour], ready, l.release), l.length)
			if i == len(in) {
				best = min(best, at)
				break
			}
			n := &w.loads[in[i]]
			if at < never && at+l.length+w.setup[l.colour][n.colour] <= w.c.start[in[i]] {
				best = min(best, at)
				break
			}
			if end := w.c.start[in[i]] + n.length; end > 0 {
				free, colour = max(free, end), n.colour
			}
		}
	}
	return best
}

// list are the loads of a booth in their order.
func (w *reasons) list(b int32) []int32 {
	if w.lists == nil {
		w.lists = make([][]int32, len(w.booths))
		for i, b := range w.c.booth {
			if b >= 0 {
				w.lists[b] = append(w.lists[b], int32(i))
			}
		}
		for _, in := range w.lists {
			slices.SortFunc(in, func(x, y int32) int { return cmp.Compare(w.c.start[x], w.c.start[y]) })
		}
	}
	return w.lists[b]
}

// atWork are the crews at work on the tasks of the plan.
func (w *reasons) atWork() []roster {
	if w.work == nil {
		w.work = w.rosters(w.c.task)
	}
	return w.work
}
