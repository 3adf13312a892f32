package plan

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// bound is something before which a load cannot start where it stands.
type bound struct {
	at    int64
	words string
	early int64 // nanoseconds by which it ends before at: what is told beside the problem need not end on its unit of time
}

// after reports whether a bound ends later than another.
func (b bound) after(o bound) bool { return b.at > o.at || b.at == o.at && b.early < o.early }

// bounds are all of them but the booth's opening; what is named first is told
// where two end at once.
func (w *reasons) bounds(j int32) []bound {
	l := &w.loads[j]
	b := w.before[j]
	out := []bound{{at: b.end + w.setup[b.colour][l.colour], words: w.behind(j)}}
	for _, s := range w.since(j) {
		since := int64(s.At.Sub(w.p.Start))
		at := (since + w.unit - 1) / w.unit
		out = append(out, bound{at, "waits until " + s.Words + " at " + w.clock(s.At), at*w.unit - since})
	}
	if w.t.Since == nil {
		out = append(out, bound{at: l.release, words: "waits for its release at " + w.at(l.release)})
	}
	return append(out, w.taskBounds(j, out)...)
}

// taskBounds are when a load's tasks let it start. Where all of them could be
// over earlier beside those of the other loads, and its booth would still not
// take the load before it does, they were put so late for the load, which waits
// for the booth.
func (w *reasons) taskBounds(j int32, others []bound) []bound {
	var out []bound
	last := int64(-never)
	for _, k := range w.loads[j].tasks {
		if t := &w.tasks[k]; w.c.task[k] < never {
			at := w.c.task[k] + t.length + t.minLag
			out = append(out, w.taskBound(k, at))
			last = max(last, at)
		}
	}
	if len(out) == 0 || slices.ContainsFunc(others, func(b bound) bool { return b.at >= last }) {
		return out
	}
	ready, k, sure := w.besides(j)
	if !sure || k < 0 || ready >= last || fit(w.booths[w.c.booth[j]].open, furthest(others, ready), w.loads[j].length) != w.c.start[j] {
		return out
	}
	return []bound{{at: ready, words: fmt.Sprintf("could start from %s (%s)", w.at(ready), w.task(k))}}
}

// furthest is the last of some bounds and a moment.
func furthest(all []bound, at int64) int64 {
	for _, b := range all {
		at = max(at, b.at)
	}
	return at
}

func (w *reasons) taskBound(k int32, at int64) bound {
	return bound{at: at, words: fmt.Sprintf("waits for %s until %s", w.task(k), w.at(at))}
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
	case b.colour == l.colour && setup != "":
		return what + ", " + setup + ", the colour run " + name + " goes on"
	case b.colour == l.colour:
		return what + ", the colour run " + name + " goes on"
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
		if b.after(last) {
			last, free = b, false
		}
	}
	if s <= last.at {
		return last.words
	}
	open := w.booths[w.c.booth[j]].open
	if could := fit(open, last.at, l.length); could < s {
		// The search let it wait for a lag and put the tasks otherwise then, or
		// left out in the end what was to stand before it.
		return fmt.Sprintf("%s, put at %s though nothing keeps it from starting at %s", last.words, w.at(s), w.at(could))
	}
	name := w.p.Booths[w.c.booth[j]].ID
	for i, o := range open {
		switch {
		case s != o.from:
		case i > 0 && last.at < open[i-1].to:
			return fmt.Sprintf("%s, does not fit before %s closes at %s, starts when it opens at %s", last.words, name, w.at(open[i-1].to), w.at(s))
		case !free:
			return fmt.Sprintf("%s, starts when %s opens at %s", last.words, name, w.at(s))
		default:
			return fmt.Sprintf("starts when %s opens at %s", name, w.at(s))
		}
	}
	return last.words
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
	if x := w.unset(j); x != "" {
		out = append(out, x)
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

// unset says that the setup of a frozen load does not fit before it.
func (w *reasons) unset(j int32) string {
	l, b := &w.loads[j], w.before[j]
	short := b.end + w.setup[b.colour][l.colour] - w.c.start[j]
	if short <= 0 || w.c.start[j] <= 0 { // it has begun
		return ""
	}
	from := w.p.Booths[w.c.booth[j]].Colour
	if b.load >= 0 {
		from = w.p.Loads[b.load].Colour
	}
	if b.colour == l.colour {
		return ", " + w.span(short) + " short of the setup in the colour run " + from
	}
	return ", " + w.span(short) + " short of the setup from " + from
}
