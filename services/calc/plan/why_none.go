package plan

import (
	"fmt"
	"slices"
	"strings"
)

// whyNone says why a load has no place. What it says is so: either of the load
// by itself, or with all other loads and tasks where they stand.
func (w *reasons) whyNone(j int32) string {
	l := &w.loads[j]
	if x := w.waitsInVain(j); x != "" {
		return "no place: " + x
	}
	alone := w.soonest(j, byItself)
	if alone.lacks.task >= 0 {
		return w.noHoursFor(alone.lacks)
	}
	process := w.span(l.length)
	if w.standsFrom(j, 0) >= never {
		if last, ends := w.lastHours(j); ends {
			return "no place: " + last
		}
		if w.frozenFill(j, 0) {
			return fmt.Sprintf("no place: frozen loads leave %s no room of %s and the setup; open the booth for longer or move a frozen load", w.boothsOf(j), process)
		}
		return fmt.Sprintf("no place: no open interval of its booths holds %s after %s and the setup; open the booth for longer", process, w.at(l.release))
	}
	if w.standsFrom(j, alone.ready) >= never {
		if w.frozenFill(j, alone.ready) {
			return fmt.Sprintf("no place: frozen loads leave %s no room of %s and the setup from %s on, when %s can be over%s; open the booth for longer or move a frozen load",
				w.boothsOf(j), process, w.at(alone.ready-w.tasks[alone.last].minLag), w.task(alone.last), w.lagAfter(alone.last))
		}
		return fmt.Sprintf("no place: %s is over at %s at the soonest%s, and no open interval of its booths holds %s from then on; enter more hours of %s or of a booth",
			w.task(alone.last), w.at(alone.ready-w.tasks[alone.last].minLag), w.lagAfter(alone.last), process, w.p.Tasks[alone.last].Crew)
	}
	return w.noRoom(j, process)
}

// noHoursFor says that a task does not fit into the hours of its crew.
func (w *reasons) noHoursFor(in vain) string {
	k := in.task
	t := &w.tasks[k]
	crew := w.p.Tasks[k].Crew
	if open := w.crews[t.crew].open; len(open) > 0 && fit(open, open[0].from, t.length) >= never {
		return fmt.Sprintf("no place: no working hours of %s hold the %s of %s without a break; enter longer hours", crew, w.span(t.length), w.task(k))
	}
	return fmt.Sprintf("no place: %s has no working hours left for %s%s; enter more hours", crew, w.task(k), w.fromOn(in))
}

// fromOn says from when on a task could begin.
func (w *reasons) fromOn(in vain) string {
	switch {
	case in.after >= 0:
		return " from " + w.at(in.from) + " on, when " + w.task(in.after) + " can be over"
	case in.from > 0:
		return " from " + w.at(in.from) + " on"
	}
	return ""
}

// lagAfter tells a task's least lag.
func (w *reasons) lagAfter(k int32) string {
	if lag := w.tasks[k].minLag; lag > 0 {
		return " and " + w.span(lag) + " must pass then"
	}
	return ""
}

// noRoom says what leaves a load that could stand by itself no place beside
// the others: its crews' work for them, or the loads in its booths.
func (w *reasons) noRoom(j int32, process string) string {
	beside := w.soonest(j, besideOthers)
	if in := beside.lacks; in.task >= 0 {
		return fmt.Sprintf("no place: %s has no working hours left for %s beside %s%s; enter more hours or people", w.p.Tasks[in.task].Crew, w.task(in.task), w.others(in.task), w.fromOn(in))
	}
	ready, last, sure := w.besides(j)
	const room = "open the booth for longer or take another load out"
	switch {
	case !sure && len(w.loads[j].tasks) == 0:
		return "no place: no room was found for it beside the loads that stand in its booths; " + room
	case !sure:
		return "no place: no room was found for it and its tasks; open its booths or its crews for longer, or take another load out"
	case ready >= never:
		return "no place: its tasks do not all fit into the working hours of " + w.crewsOf(j) + " beside those of other loads; enter more hours or people"
	case w.gap(j, ready) < never:
		return fmt.Sprintf("no place was found in the time of the search, though there is room at %s; let it search for longer", w.at(w.gap(j, ready)))
	}
	free := w.soonest(j, unhurried).ready
	if at := w.gap(j, free); at < never {
		return fmt.Sprintf("no place: there is room for it at %s, but %s cannot be done with %s before %s beside other tasks%s; enter more hours or people, %s",
			w.at(at), w.p.Tasks[last].Crew, w.task(last), w.at(ready-w.tasks[last].minLag), w.lagAfter(last), room)
	}
	when := ""
	if w.gap(j, 0) < never {
		when = "from " + w.at(free) + " on, when its tasks can be over, "
	}
	return fmt.Sprintf("no place: %s%s no room of %s and the setup beside the loads that stand there; %s", when, w.boothsHave(j), process, room)
}

// frozenFill reports whether it is frozen loads that leave a load no place from
// a moment on: without them its booths are open for it.
func (w *reasons) frozenFill(j int32, ready int64) bool {
	l := &w.loads[j]
	return slices.ContainsFunc(l.booths, func(b int32) bool {
		x := &w.booths[b]
		return fit(x.open, max(w.setup[x.colour][l.colour], l.release, ready), l.length) < never
	})
}

func (w *reasons) boothsOf(j int32) string {
	var names []string
	for _, b := range w.loads[j].booths {
		names = append(names, w.p.Booths[b].ID)
	}
	if len(names) > 4 {
		return "its booths"
	}
	return strings.Join(names, ", ")
}

func (w *reasons) boothsHave(j int32) string {
	if len(w.loads[j].booths) == 1 {
		return w.boothsOf(j) + " has"
	}
	return w.boothsOf(j) + " have"
}

func (w *reasons) crewsOf(j int32) string {
	var names []string
	for _, k := range w.loads[j].tasks {
		if name := w.p.Tasks[k].Crew; !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	return strings.Join(names, ", ")
}

// others names the tasks that are done by the crew of a task.
func (w *reasons) others(k int32) string {
	var names []string
	for o := range w.tasks {
		if w.tasks[o].crew == w.tasks[k].crew && w.c.task[o] < never {
			names = append(names, w.task(int32(o)))
		}
	}
	if len(names) > 3 {
		return fmt.Sprintf("%d other tasks", len(names))
	}
	return strings.Join(names, ", ")
}

// waitsInVain names a task of a load that waits for one of another load that
// is not done.
func (w *reasons) waitsInVain(j int32) string {
	for _, k := range w.loads[j].tasks {
		for _, a := range w.tasks[k].after {
			if x := &w.tasks[a]; !x.past && w.c.task[a] >= never && x.load != j {
				return fmt.Sprintf("%s waits for %s, which is not done", w.task(k), w.task(a))
			}
		}
	}
	return ""
}

// whyUndone says why the tasks of a frozen load cannot be done before it.
func (w *reasons) whyUndone(j int32) string {
	if x := w.waitsInVain(j); x != "" {
		return x
	}
	for beside, s := range []soonest{w.soonest(j, byItself), w.soonest(j, besideOthers)} {
		others := ""
		if beside > 0 {
			others = " beside the tasks of other loads"
		}
		switch {
		case s.lacks.task >= 0:
			return w.p.Tasks[s.lacks.task].Crew + " has no working hours left for " + w.task(s.lacks.task) + others + w.fromOn(s.lacks)
		case s.ready > w.c.start[j]:
			return fmt.Sprintf("%s is over at %s at the soonest%s%s", w.task(s.last), w.at(s.ready-w.tasks[s.last].minLag), others, w.lagAfter(s.last))
		}
	}
	if ready, _, sure := w.besides(j); sure && ready > w.c.start[j] {
		return "its tasks cannot all be done before it beside those of other loads"
	}
	return "its tasks are not done before it"
}

// lastHours says that the booths of a load have no opening hours left when it
// may start.
func (w *reasons) lastHours(j int32) (string, bool) {
	var names []string
	last := int64(-never)
	for _, b := range w.loads[j].booths {
		names = append(names, w.p.Booths[b].ID)
		if open := w.booths[b].open; len(open) > 0 {
			last = max(last, open[len(open)-1].to)
		}
	}
	switch {
	case last > w.loads[j].release:
		return "", false
	case last < 0:
		return NoHours(names, "from "+w.at(0)+" on"), true
	}
	return NoHours(names, "after "+w.at(last)), true
}

// NoHours says that booths are not open any more, and what to do.
func NoHours(booths []string, when string) string {
	has := " has"
	if len(booths) > 1 {
		has = " have"
	}
	return strings.Join(booths, ", ") + has + " no opening hours " + when + "; enter more hours"
}
