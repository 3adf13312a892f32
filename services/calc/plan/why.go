package plan

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Telling is how the reasons of a plan are worded for those who read them.
type Telling struct {
	// Clock shows a moment; nil: its time of day in UTC, with the day where it
	// is not that of the problem's start.
	Clock func(t time.Time) string
	// Begin says that a latest start is not when a window closes: what is begun
	// then has to be done before it does.
	Begin bool
	// Task names a task; nil: "task" and its identifier.
	Task func(k int) string
	// Since is what a load waits for beside its booth and its tasks; nil: the
	// problem's release.
	Since func(j int) []Since
	// Until is by when a load must be out for another one that is not behind it
	// in its booth, which is named; the zero time: none waits for it.
	Until func(j int) (by time.Time, load string)
}

// Since is something before which a load does not start, as a clause:
// "its beads are surely open".
type Since struct {
	At    time.Time
	Words string
}

// Explain words the reasons of a plan anew, and reckons the slack of its
// loads. The plan is one that Solve made of the problem.
func Explain(p *Problem, got *Plan, t Telling) {
	m := compile(p)
	c := m.courseOf(p, got)
	m.explain(p, c, m.before(c), got, t)
}

// courseOf is a plan in the model's terms.
func (m *model) courseOf(p *Problem, got *Plan) *course {
	c := &course{booth: make([]int32, len(m.loads)), start: make([]int64, len(m.loads)), missed: make([]bool, len(m.loads)), task: make([]int64, len(m.tasks))}
	booths := map[string]int32{}
	for i, b := range p.Booths {
		booths[b.ID] = int32(i)
	}
	at := func(x time.Time) int64 { return int64(x.Sub(p.Start)) / m.unit }
	for _, r := range got.Loads {
		c.booth[r.Index], c.missed[r.Index] = -1, r.Missed
		if r.Placed() {
			c.booth[r.Index], c.start[r.Index] = booths[r.Booth], at(r.Start)
		}
	}
	for _, r := range got.Tasks {
		if c.task[r.Index] = never; !r.Start.IsZero() {
			c.task[r.Index] = at(r.Start)
		}
	}
	return c
}

// reasons are what the sentences of one plan are made of.
type reasons struct {
	*model
	p      *Problem
	c      *course
	before []follows
	next   []int32 // load behind each in its booth, -1: none
	t      Telling
	spare  int            // steps that may still be spent on what is hard to find out
	over   map[int32]over // when tasks could be over if there were no others
	lists  [][]int32      // by booth: loads in their order; nil: not listed yet
	work   []roster       // at work on the plan's tasks; nil: not filled yet
}

// explain says for each load in one sentence why it stands where it stands,
// and how much later it alone could start at no cost.
func (m *model) explain(p *Problem, c *course, before []follows, out *Plan, t Telling) {
	w := m.reasons(p, c, before, t)
	for i := range out.Loads {
		r := &out.Loads[i]
		j := int32(r.Index)
		if c.booth[j] < 0 {
			r.Why = w.whyNone(j)
			continue
		}
		slack, until := w.slack(j)
		r.SlackMin = nil
		if slack < never/2 {
			x := w.minutes(slack)
			r.SlackMin = &x
		}
		r.Why = strings.Join(append([]string{w.whyThen(j)}, w.stakes(r, slack, until)...), "; ")
	}
}

func (m *model) reasons(p *Problem, c *course, before []follows, t Telling) *reasons {
	w := &reasons{model: m, p: p, c: c, before: before, next: make([]int32, len(m.loads)), t: t, spare: 8_000_000, over: map[int32]over{}}
	for j := range w.next {
		w.next[j] = -1
	}
	for j := range m.loads {
		if k := before[j].load; c.booth[j] >= 0 && k >= 0 {
			w.next[k] = int32(j)
		}
	}
	return w
}

func (w *reasons) moment(t int64) time.Time { return w.p.Start.Add(time.Duration(t * w.unit)) }
func (w *reasons) minutes(d int64) float64 {
	return float64(d) * float64(w.unit) / float64(time.Minute)
}
func (w *reasons) at(t int64) string { return w.clock(w.moment(t)) }

func (w *reasons) clock(t time.Time) string {
	if w.t.Clock != nil {
		return w.t.Clock(t)
	}
	return clock(w.p, t)
}

func (w *reasons) task(k int32) string {
	if w.t.Task != nil {
		return w.t.Task(int(k))
	}
	return "task " + w.p.Tasks[k].ID
}

// clock shows a moment in words: the time of day, with the day when it is not
// that of the plan's start.
func clock(p *Problem, t time.Time) string {
	t, start := t.UTC(), p.Start.UTC()
	if t.YearDay() == start.YearDay() && t.Year() == start.Year() {
		return t.Format("15:04")
	}
	return t.Format("2 Jan 15:04")
}

// trim shows minutes with no more digits than needed.
func trim(x float64) string { return strconv.FormatFloat(float64(int64(x*10+0.5))/10, 'f', -1, 64) }

// Minutes shows a length in minutes, from two hours on with the hours, from two days on with
// the days: "3 h 21 min", "4 d 2 h".
func Minutes(x float64) string {
	n := int64(x + 0.5)
	switch {
	case n < 120:
		return trim(x) + " min"
	case n >= 48*60:
		return fmt.Sprintf("%d d %d h", n/1440, n%1440/60)
	case n%60 == 0:
		return fmt.Sprintf("%d h", n/60)
	}
	return fmt.Sprintf("%d h %d min", n/60, n%60)
}

// stakes say what hangs on a load's start.
func (w *reasons) stakes(r *PlannedLoad, slack int64, until string) []string {
	j := int32(r.Index)
	l := &w.loads[j]
	var out []string
	if w.c.missed[j] {
		out = append(out, w.whyMissed(j))
	}
	switch {
	case r.LateMin > 0:
		late := Minutes(r.LateMin) + " late, due " + w.clock(w.p.Loads[j].Due)
		if tail := w.p.Loads[j].Tail; tail > 0 {
			late += " with " + Minutes(tail.Minutes()) + " of work after the booth"
		}
		out = append(out, late)
	case slack >= never/2:
		return out
	case slack == 0 && l.fixed < 0:
		out = append(out, "no slack "+until+w.more(j, slack))
	case l.fixed < 0:
		out = append(out, Minutes(w.minutes(slack))+" of slack "+until+w.more(j, slack))
	}
	if !w.c.missed[j] && l.latest < never {
		words := "window closes "
		if w.t.Begin {
			words = "latest start "
		}
		out = append(out, words+w.clock(w.p.Loads[j].LatestStart))
	}
	return out
}

// whyMissed says which window or lag is missed, and where that is so, that no
// plan could keep it.
func (w *reasons) whyMissed(j int32) string {
	l := &w.loads[j]
	if w.c.start[j] > l.latest {
		closed := "its window closed at "
		if w.t.Begin {
			closed = "its latest start was "
		}
		return "missed: " + closed + w.clock(w.p.Loads[j].LatestStart) + w.tooSoon(j)
	}
	out := "missed"
	for _, k := range l.tasks {
		t := &w.tasks[k]
		switch {
		case t.past:
		case w.c.task[k] >= never:
			return "missed: " + w.whyUndone(j)
		case w.c.start[j]-(w.c.task[k]+t.length) > t.maxLag:
			sure := w.neverKept(k)
			if out == "missed" || sure != "" {
				out = fmt.Sprintf("missed: more than %s after %s%s", w.span(t.maxLag), w.task(k), sure)
			}
			if sure != "" {
				return out
			}
		}
	}
	return out
}

// tooSoon says that a window closes before a load could start in any plan:
// before its tasks can be over by themselves, or its booths be ready for it.
func (w *reasons) tooSoon(j int32) string {
	l := &w.loads[j]
	if l.fixed >= 0 || w.t.Since != nil { // it stands there anyhow, or waits for what is only reckoned
		return ""
	}
	if l.release > l.latest {
		return ", before its release at " + w.at(l.release)
	}
	if s := w.soonest(j, byItself); s.last >= 0 && s.ready > l.latest {
		return fmt.Sprintf(", which no plan keeps: %s is over at %s at the soonest%s", w.task(s.last), w.at(s.ready-w.tasks[s.last].minLag), w.lagAfter(s.last))
	}
	if s := w.aloneStart(j); s > l.latest {
		return ", which no plan keeps: no booth has a place for it before " + w.at(s)
	}
	return ""
}
