package plan

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

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

// explain says for each load in one sentence why it stands where it stands,
// and how much later it alone could start at no cost.
func (m *model) explain(p *Problem, c *course, before []follows, late []int64, out *Plan) {
	minute := float64(m.unit) / float64(time.Minute)
	next := make([]int32, len(m.loads))
	for j := range next {
		next[j] = -1
	}
	for j := range m.loads {
		if k := before[j].load; c.booth[j] >= 0 && k >= 0 {
			next[k] = int32(j)
		}
	}
	for j := range m.loads {
		r := &out.Loads[j]
		if c.booth[j] < 0 {
			r.Why = m.whyNone(p, c, int32(j))
			continue
		}
		slack := m.slack(c, int32(j), next[j])
		x := float64(slack) * minute
		if slack < never/2 {
			r.SlackMin = &x
		}
		r.Why = strings.Join(append([]string{m.whyThen(p, c, before[j], int32(j))}, m.stakes(p, c, r, slack)...), "; ")
	}
}

// slack is how much later a load alone could start without cost, its
// followers staying where they are.
func (m *model) slack(c *course, j, next int32) int64 {
	l := &m.loads[j]
	s := c.start[j]
	if l.fixed >= 0 || s > l.slackEnd {
		return 0
	}
	end := min(l.slackEnd, never)
	if s <= l.latest {
		end = min(end, l.latest)
	}
	for _, o := range m.booths[c.booth[j]].open {
		if s >= o.from && s+l.length <= o.to {
			end = min(end, o.to-l.length)
		}
	}
	if next >= 0 {
		end = min(end, c.start[next]-m.setup[l.colour][m.loads[next].colour]-l.length)
	}
	if !c.missed[j] {
		for _, k := range l.tasks {
			if t := &m.tasks[k]; c.task[k] < never && t.maxLag < never {
				end = min(end, c.task[k]+t.length+t.maxLag)
			}
		}
	}
	return max(0, end-s)
}

func (m *model) whyNone(p *Problem, c *course, j int32) string {
	l := &m.loads[j]
	for _, k := range l.tasks {
		for _, a := range m.tasks[k].after {
			if w := &m.tasks[a]; !w.past && c.task[a] >= never && w.load != j {
				return fmt.Sprintf("no place: task %s waits for %s, which is not done", p.Tasks[k].ID, p.Tasks[a].ID)
			}
		}
	}
	if m.aloneStart(j) >= never {
		return fmt.Sprintf("no place: no open interval of its booths holds %s min after %s and the setup; open the booth for longer", trim(p.Loads[j].Process.Minutes()), clock(p, p.Start.Add(time.Duration(l.release*m.unit))))
	}
	return "no place: the open intervals of its booths are taken up and its tasks and setups leave no room; open the booth for longer or take another load out"
}

// whyThen names what a load waits for.
func (m *model) whyThen(p *Problem, c *course, before follows, j int32) string {
	l := &m.loads[j]
	at := func(t int64) string { return clock(p, p.Start.Add(time.Duration(t*m.unit))) }
	s := c.start[j]
	if l.fixed >= 0 {
		return "frozen at " + at(s)
	}
	setup := m.setup[before.colour][l.colour]
	behind := "the booth is free from " + at(before.end)
	if before.load >= 0 {
		behind = "behind " + p.Loads[before.load].ID
	}
	colour := fmt.Sprintf("after %s min of setup to %s", trim(float64(setup)*float64(m.unit)/float64(time.Minute)), p.Loads[j].Colour)
	if before.colour == l.colour {
		colour = "the colour run " + p.Loads[j].Colour + " goes on"
	}
	for _, k := range l.tasks {
		if t := &m.tasks[k]; c.task[k] < never && c.task[k]+t.length+t.minLag == s && s > before.end+setup {
			return fmt.Sprintf("waits for task %s until %s", p.Tasks[k].ID, at(s))
		}
	}
	switch {
	case s == before.end+setup:
		return behind + ", " + colour
	case s == l.release:
		return "starts at its release " + at(s)
	}
	for _, o := range m.booths[c.booth[j]].open {
		if s == o.from {
			return "starts when the booth opens at " + at(s)
		}
	}
	return behind + ", " + colour + ", and not before " + at(s) + " so that its tasks keep their lags"
}

// stakes say what hangs on a load's start.
func (m *model) stakes(p *Problem, c *course, r *PlannedLoad, slack int64) []string {
	l := &m.loads[r.Index]
	var out []string
	minute := float64(m.unit) / float64(time.Minute)
	if c.missed[r.Index] {
		out = append(out, m.whyMissed(p, c, int32(r.Index)))
	}
	switch {
	case r.LateMin > 0:
		out = append(out, fmt.Sprintf("%s min late, due %s", trim(r.LateMin), clock(p, p.Loads[r.Index].Due)))
	case slack >= never/2:
		return out
	case slack == 0 && l.fixed < 0:
		out = append(out, "no slack")
	case l.fixed < 0:
		out = append(out, trim(float64(slack)*minute)+" min of slack")
	}
	if !c.missed[r.Index] && l.latest < never {
		out = append(out, "window closes "+clock(p, p.Loads[r.Index].LatestStart))
	}
	return out
}

func (m *model) whyMissed(p *Problem, c *course, j int32) string {
	l := &m.loads[j]
	if c.start[j] > l.latest {
		return "missed: its window closed at " + clock(p, p.Loads[j].LatestStart)
	}
	for _, k := range l.tasks {
		t := &m.tasks[k]
		switch {
		case t.past:
		case c.task[k] >= never:
			return "missed: its tasks cannot be done before it"
		case c.start[j]-(c.task[k]+t.length) > t.maxLag:
			return fmt.Sprintf("missed: more than %s min after task %s", trim(p.Tasks[k].MaxLag.Minutes()), p.Tasks[k].ID)
		}
	}
	return "missed"
}
