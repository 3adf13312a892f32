package plan

import (
	"fmt"
	"strings"
	"time"
)

// bound is something before which a load cannot start where it stands.
type bound struct {
	at    int64
	words string
}

// bounds are all of them but the booth's opening; what is named first is told
// where two end at once.
func (w *reasons) bounds(j int32) []bound {
	l := &w.loads[j]
	b := w.before[j]
	out := []bound{{b.end + w.setup[b.colour][l.colour], w.behind(j)}}
	for _, s := range w.since(j) {
		at := (int64(s.At.Sub(w.p.Start)) + w.unit - 1) / w.unit
		out = append(out, bound{at, "waits until " + s.Words + " at " + w.clock(s.At)})
	}
	if w.t.Since == nil {
		out = append(out, bound{l.release, "waits for its release at " + w.at(l.release)})
	}
	for _, k := range l.tasks {
		if t := &w.tasks[k]; w.c.task[k] < never {
			at := w.c.task[k] + t.length + t.minLag
			out = append(out, bound{at, fmt.Sprintf("waits for %s until %s", w.task(k), w.at(at))})
		}
	}
	return out
}

func (w *reasons) since(j int32) []Since {
	if w.t.Since == nil {
		return nil
	}
	return w.t.Since(int(j))
}

// behind says what a load follows in its booth, and what lies between.
func (w *reasons) behind(j int32) string {
	l, b := &w.loads[j], w.before[j]
	what := w.p.Booths[w.c.booth[j]].ID + " is free"
	switch {
	case b.load >= 0:
		what = "behind " + w.p.Loads[b.load].ID
	case b.end > 0:
		what += " from " + w.at(b.end)
	}
	name := w.p.Loads[j].Colour
	setup := ""
	if x := w.setup[b.colour][l.colour]; x > 0 {
		setup = "after " + Minutes(w.minutes(x)) + " of setup"
	}
	switch {
	case b.colour == l.colour:
		return what + ", " + strings.TrimSpace(setup+" the colour run "+name+" goes on")
	case setup != "":
		return what + ", " + setup + " to " + name
	}
	return what
}

// whyThen names what a load waits for: what ends last of all that it must wait
// for, or that its booth is not open for long enough before.
func (w *reasons) whyThen(j int32) string {
	l, s := &w.loads[j], w.c.start[j]
	if l.fixed >= 0 {
		return "frozen at " + w.at(s) + strings.Join(w.odd(j), "")
	}
	all := w.bounds(j)
	last, free := all[0], w.before[j].load < 0 // nothing but the booth, and nothing before in it
	for _, b := range all[1:] {
		if b.at > last.at {
			last, free = b, false
		}
	}
	if s <= last.at {
		return last.words
	}
	name := w.p.Booths[w.c.booth[j]].ID
	for i, o := range w.booths[w.c.booth[j]].open {
		switch {
		case s != o.from:
		case i > 0 && last.at < w.booths[w.c.booth[j]].open[i-1].to:
			closes := w.booths[w.c.booth[j]].open[i-1].to
			return fmt.Sprintf("%s, does not fit before %s closes at %s, starts when it opens at %s", last.words, name, w.at(closes), w.at(s))
		case !free:
			return fmt.Sprintf("%s, starts when %s opens at %s", last.words, name, w.at(s))
		default:
			return fmt.Sprintf("starts when %s opens at %s", name, w.at(s))
		}
	}
	if n := w.clear(j, last.at); n >= 0 {
		return fmt.Sprintf("%s, does not fit before %s", last.words, w.p.Loads[n].ID)
	}
	return last.words + ", and not before " + w.at(s) + " so that its tasks keep their lags"
}

// clear is the load of the same booth that stands in the way between a moment
// and a load's start; -1: none does.
func (w *reasons) clear(j int32, from int64) int32 {
	for i := range w.loads {
		if w.c.booth[i] == w.c.booth[j] && int32(i) != j && w.c.start[i] >= from && w.c.start[i] < w.c.start[j] {
			return int32(i)
		}
	}
	return -1
}

// odd says what is odd about where a frozen load stands: its booth is not
// open, or what it waits for ends later.
func (w *reasons) odd(j int32) (out []string) {
	l, s := &w.loads[j], w.c.start[j]
	b := w.p.Booths[w.c.booth[j]]
	if end := s + l.length; end > 0 {
		if x := Closed(b.ID, b.Open, w.moment(max(s, 0)), w.moment(end), w.clock); x != "" {
			out = append(out, ", "+x)
		}
	}
	if s < 0 || s == 0 && l.release == 0 {
		return out // it has begun
	}
	if w.t.Since == nil && l.release > s {
		return append(out, fmt.Sprintf(", %s before its release %s", Minutes(w.minutes(l.release-s)), w.at(l.release)))
	}
	for _, x := range w.since(j) {
		if x.At.After(w.moment(s)) {
			out = append(out, ", before "+x.Words+" at "+w.clock(x.At))
		}
	}
	return out
}

// Closed says how a stretch of time does not lie inside one of the open
// intervals of a booth; empty: it does. The intervals stand in order.
func Closed(booth string, open []Interval, from, to time.Time, clock func(time.Time) string) string {
	for i, o := range open {
		if !o.To.After(from) {
			continue
		}
		switch {
		case !o.From.After(from) && !o.To.Before(to):
			return ""
		case !o.From.Before(to):
			return "while " + booth + " is closed"
		case o.From.After(from):
			return "before " + booth + " opens at " + clock(o.From)
		case i+1 < len(open) && open[i+1].From.Before(to):
			return fmt.Sprintf("though %s is closed from %s to %s", booth, clock(o.To), clock(open[i+1].From))
		}
		return fmt.Sprintf("though %s closes at %s, before it is out", booth, clock(o.To))
	}
	return "while " + booth + " is closed"
}

// whyNone says why a load has no place.
func (w *reasons) whyNone(j int32) string {
	l := &w.loads[j]
	for _, k := range l.tasks {
		for _, a := range w.tasks[k].after {
			if x := &w.tasks[a]; !x.past && w.c.task[a] >= never && x.load != j {
				return fmt.Sprintf("no place: %s waits for %s, which is not done", w.task(k), w.task(a))
			}
		}
	}
	for _, k := range l.tasks {
		if crew := &w.crews[w.tasks[k].crew]; crew.open != nil && fit(crew.open, w.tasks[k].release, w.tasks[k].length) >= never {
			return fmt.Sprintf("no place: %s has no working hours left for %s; enter more hours", w.p.Tasks[k].Crew, w.task(k))
		}
	}
	if w.aloneStart(j) >= never {
		if last, ends := w.lastHours(j); ends {
			return "no place: " + last
		}
		return fmt.Sprintf("no place: no open interval of its booths holds %s after %s and the setup; open the booth for longer", Minutes(w.p.Loads[j].Process.Minutes()), w.at(l.release))
	}
	return "no place: the open intervals of its booths are taken up and its tasks and setups leave no room; open the booth for longer or take another load out"
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
