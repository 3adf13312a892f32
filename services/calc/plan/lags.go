package plan

import (
	"fmt"
	"slices"
	"strings"

	"seamwright/services/fault"
)

// CheckLags refuses a task that may end no later than its least lag and no
// earlier than its greatest lag before its load starts, where the greatest is
// the shorter: nothing can keep both. Solve takes such a problem, the load is
// then missed wherever it stands. The fault is Invalid.
func (p *Problem) CheckLags() error {
	for i := range p.Tasks {
		if t := &p.Tasks[i]; t.HasMax && t.MaxLag < t.MinLag {
			return fault.Bad(fmt.Sprintf("tasks[%d].max_lag_min", i), fmt.Sprintf("%s, task %s", trim(t.MaxLag.Minutes()), quote(t.ID)),
				fmt.Sprintf("at least its min_lag_min, %s; no start of load %s keeps both", trim(t.MinLag.Minutes()), quote(t.Load)))
		}
	}
	return nil
}

// reach is how long after a task's end its load, or another, starts at the
// earliest because of a task that waits for it: the lengths of the tasks
// between them, its own and its least lag.
type reach struct {
	prev int32 // the task before it on the way; -1: none
	lag  int64
}

// reaches are the longest to each task that waits for this one, straight or
// through others, and to itself. Nil: more than are looked at.
func (w *reasons) reaches(k int32) map[int32]reach {
	const most = 500
	out := map[int32]reach{k: {-1, w.tasks[k].minLag}}
	todo := []int32{k}
	for n := 0; n < len(todo); n++ {
		if w.spare -= 20; n == most || w.spare < 0 {
			return nil
		}
		x := todo[n]
		for _, y := range w.tasks[x].before {
			t := &w.tasks[y]
			d := out[x].lag - w.tasks[x].minLag + t.length + t.minLag
			if old, seen := out[y]; t.past || seen && old.lag >= d {
				continue
			}
			out[y] = reach{x, d}
			todo = append(todo, y)
		}
	}
	return out
}

// neverKept says why no plan keeps the greatest lag of a load's task: its crew
// stops work too early before a load that is frozen; the tasks that wait for
// it, and its least lag, take longer; or they do by way of another load, whose
// own greatest lag holds back what this load waits for.
// Empty: that is not said.
func (w *reasons) neverKept(k int32) string {
	t := &w.tasks[k]
	if l, crew := &w.loads[t.load], &w.crews[t.crew]; l.fixed >= 0 && crew.open != nil {
		if over := fitLate(crew.open, l.at-t.minLag, t.length) + t.length; over > 0 && l.at-over > t.maxLag {
			return ", which no plan keeps: " + w.p.Tasks[k].Crew + " stops work at " + w.at(over)
		}
	}
	all := w.reaches(k)
	last := k
	for _, i := range w.loads[t.load].tasks {
		if r, ok := all[i]; ok && r.lag > all[last].lag {
			last = i
		}
	}
	if all[last].lag > t.maxLag { // of none there is no lag
		return ", which no plan keeps: " + w.taken(all, last)
	}
	for i := range w.tasks { // in order, so that the same is told each time
		r, ok := all[int32(i)]
		if !ok || w.tasks[i].load == t.load {
			continue
		}
		for _, c := range w.loads[w.tasks[i].load].tasks {
			o := &w.tasks[c]
			if o.maxLag >= never {
				continue
			}
			back := w.reaches(c)
			for _, d := range w.loads[t.load].tasks {
				if b, ok := back[d]; ok && r.lag-o.maxLag+b.lag > t.maxLag {
					return fmt.Sprintf("; no plan keeps that and at most %s from %s to %s as well", w.span(o.maxLag), w.task(c), w.p.Loads[o.load].ID)
				}
			}
		}
	}
	return ""
}

// span shows a length of the model.
func (w *reasons) span(d int64) string { return Minutes(w.minutes(d)) }

// taken says what a reach is made of: "task T2 after it and 15 min that must
// pass then take 45 min".
func (w *reasons) taken(all map[int32]reach, last int32) string {
	var names []string
	for k := last; all[k].prev >= 0; k = all[k].prev {
		names = append(names, w.task(k))
	}
	slices.Reverse(names)
	lag := w.tasks[last].minLag
	if len(names) == 0 {
		return w.span(lag) + " must pass"
	}
	words, take := strings.Join(names, ", ")+" after it", " take "
	switch n := len(names); {
	case n > 3:
		words = fmt.Sprintf("%d tasks after it up to %s", n, w.task(last))
	case n == 1 && lag == 0:
		take = " takes "
	}
	if lag > 0 {
		words += " and " + w.span(lag) + " that must pass then"
	}
	return words + take + w.span(all[last].lag)
}
