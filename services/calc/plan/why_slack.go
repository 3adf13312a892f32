package plan

import "fmt"

// slack is how much later a load alone could start without cost while the
// loads behind it keep their places, and what ends it.
func (w *reasons) slack(j int32) (slack int64, until string) {
	l, s := &w.loads[j], w.c.start[j]
	booth := w.p.Booths[w.c.booth[j]].ID
	if l.fixed >= 0 || s > l.slackEnd {
		return 0, ""
	}
	end := int64(never)
	ends := func(t int64, words string) {
		if t < end {
			end, until = t, words
		}
	}
	ends(l.slackEnd, "before its car is late")
	if !w.c.missed[j] { // else it is paid for already
		words := "before its window closes"
		if w.t.Begin {
			words = "before its latest start"
		}
		ends(l.latest, words)
	}
	for _, o := range w.booths[w.c.booth[j]].open {
		if s >= o.from && s+l.length <= o.to {
			ends(o.to-l.length, "before it would still be in when "+booth+" closes")
		}
	}
	if !w.c.missed[j] {
		for _, k := range l.tasks {
			if t := &w.tasks[k]; w.c.task[k] < never && t.maxLag < never {
				ends(w.c.task[k]+t.length+t.maxLag, "before too long has passed since "+w.task(k))
			}
		}
	}
	if by := w.outBy(j); by < never {
		_, name := w.t.Until(int(j))
		ends(by-l.length, "if "+name+" keeps its place")
	}
	if n := w.next[j]; n >= 0 {
		ends(w.c.start[n]-w.setup[l.colour][w.loads[n].colour]-l.length, "if "+w.p.Loads[n].ID+" behind it keeps its place")
	}
	return max(0, end-s), until
}

// outBy is by when a load must be out for others.
func (w *reasons) outBy(j int32) int64 {
	if w.t.Until == nil {
		return never
	}
	by, _ := w.t.Until(int(j))
	if by.IsZero() {
		return never
	}
	return int64(by.Sub(w.p.Start)) / w.unit
}

// more says how much later a load could start at no cost if those behind it
// moved along, where that is more than its slack, and what would be next.
func (w *reasons) more(j int32, slack int64) string {
	x := w.along(j, slack)
	if x <= slack {
		return ""
	}
	return fmt.Sprintf(", %s if those behind it move along (then %s)", Minutes(w.minutes(x)), w.stops(j, x+1))
}

// along is how much later a load could start at no cost if those behind it
// moved along; at least its slack.
func (w *reasons) along(j int32, slack int64) int64 {
	if w.next[j] < 0 {
		return slack
	}
	low, high := slack, slack
	for step := int64(1); w.stops(j, low+step) == ""; step *= 2 {
		low += step
		if low >= never/4 {
			return slack
		}
		high = low + 2*step
	}
	for high > low+1 {
		if mid := low + (high-low)/2; w.stops(j, mid) == "" {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

// stops is what stands against a load's starting so much later, those behind
// it in its booth as much later as they then must; empty: nothing, it costs
// nothing.
func (w *reasons) stops(j int32, by int64) string {
	s := w.c.start[j] + by
	for {
		l := &w.loads[j]
		if s == w.c.start[j] {
			return "" // it need not move, nor does what is behind it
		}
		if x := w.bars(j, s); x != "" {
			return x
		}
		n := w.next[j]
		if n < 0 {
			return ""
		}
		b := &w.loads[n]
		ready := s + l.length + w.setup[l.colour][b.colour]
		if ready <= w.c.start[n] {
			return ""
		}
		if b.fixed >= 0 {
			return w.p.Loads[n].ID + " does not move"
		}
		j, s = n, fit(w.booths[w.c.booth[n]].open, ready, b.length)
	}
}

// bars is what stands against a load at a later start: its booth is not open
// for it, its car is late, or its beads do not bear it. Empty: nothing, it
// costs nothing.
func (w *reasons) bars(j int32, s int64) string {
	l, name := &w.loads[j], w.p.Loads[j].ID
	booth := w.p.Booths[w.c.booth[j]].ID
	switch {
	case l.fixed >= 0:
		return name + " does not move"
	case s >= never:
		return name + " has no room in " + booth
	case s > l.slackEnd && w.c.start[j] > l.slackEnd:
		return name + " is later still"
	case s > l.slackEnd:
		return name + " is late"
	case s+l.length > w.outBy(j):
		_, other := w.t.Until(int(j))
		return name + " meets " + other
	case fit(w.booths[w.c.booth[j]].open, s, l.length) != s:
		return name + " is still in when " + booth + " closes"
	case w.c.missed[j]:
		return ""
	}
	for _, k := range l.tasks {
		if t := &w.tasks[k]; w.c.task[k] < never && s-(w.c.task[k]+t.length) > t.maxLag {
			return name + " waits too long after " + w.task(k)
		}
	}
	if s > l.latest {
		if w.t.Begin {
			return name + " is past its latest start"
		}
		return name + "'s window closes"
	}
	return ""
}
