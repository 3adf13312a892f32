package console

import (
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	"seamwright/services/calc/plan"
	"seamwright/services/calc/quantity"
)

// table lines up cells, two spaces apart.
func table(rows [][]string) []string {
	var width []int
	for _, r := range rows {
		for i, c := range r {
			if i == len(width) {
				width = append(width, 0)
			}
			width[i] = max(width[i], utf8.RuneCountInString(c))
		}
	}
	out := make([]string, 0, len(rows))
	for _, r := range rows {
		var b strings.Builder
		for i, c := range r {
			b.WriteString(c)
			if i < len(r)-1 {
				b.WriteString(strings.Repeat(" ", width[i]-utf8.RuneCountInString(c)+2))
			}
		}
		out = append(out, strings.TrimRight(b.String(), " "))
	}
	return out
}

// short shows a moment with the day only where it is not that of the start.
func short(start, t time.Time) string {
	if t.IsZero() {
		return "none"
	}
	s, u := start.UTC(), t.UTC()
	if s.YearDay() == u.YearDay() && s.Year() == u.Year() {
		return u.Format("15:04")
	}
	return u.Format("2 Jan 15:04")
}

func (a planAnswer) Lines() []string {
	proof := fmt.Sprintf("not proved, no plan costs less than %s", quantity.Round(a.LowerBound, 2))
	if a.Optimal {
		proof = "proved, no plan costs less"
	}
	start := a.problem.Start
	out := []string{"cost " + quantity.Round(a.Objective, 2) + " (" + proof + "), times in UTC from " + start.UTC().Format("2 Jan 2006 15:04")}
	out = append(append(out, keptLine(a.plan.Kept)...), "")
	rows := [][]string{{"booth", "load", "setup", "start", "end", "late", "", "why"}}
	for _, l := range a.plan.Loads {
		booth, late, missed := l.Booth, "", ""
		if booth == "" {
			booth = "none"
		}
		if l.LateMin > 0 {
			late = strings.TrimSuffix(quantity.Round(l.LateMin, 1), ".0") + " min"
			if l.LateMin >= 120 {
				late = spell(l.LateMin)
			}
		}
		if l.Missed {
			missed = "MISSED"
		}
		rows = append(rows, []string{booth, l.ID, short(start, l.SetupStart), short(start, l.Start), short(start, l.End), late, missed, l.Why})
	}
	out = append(out, table(rows)...)
	if len(a.plan.Tasks) > 0 {
		out = append(out, "")
		rows = [][]string{{"task", "crew", "for", "start", "end", "start by", "slack"}}
		for _, t := range a.plan.Tasks {
			task := a.problem.Tasks[t.Index]
			slack := ""
			if x := taskSlack(t); x != nil {
				slack = spell(*x)
			}
			rows = append(rows, []string{t.ID, task.Crew, task.Load, short(start, t.Start), short(start, t.End), short(start, t.LatestStart), slack})
		}
		out = append(out, table(rows)...)
		out = append(out, a.advice()...)
	}
	if line := timeline(a.problem, a.plan); len(line) > 0 {
		out = append(out, "")
		out = append(out, line...)
	}
	for i, c := range a.plan.Changes {
		if i == 0 {
			out = append(out, "", "changes")
		}
		out = append(out, "  "+c.ID+": "+c.What)
	}
	return out
}

// advice tells in the shop's words by when a task must be begun, and what else
// does not hold.
func (a planAnswer) advice() []string {
	out := []string{""}
	for _, t := range a.plan.Tasks {
		if t.IfLater != "" {
			out = append(out, fmt.Sprintf("begin %s by %s or %s", t.ID, short(a.problem.Start, t.LatestStart), t.IfLater))
		}
	}
	if len(out) == 1 {
		return nil
	}
	return out
}

// keptLine says that an earlier plan was kept though a better one was found.
func keptLine(k *plan.Kept) []string {
	if k == nil {
		return nil
	}
	return []string{fmt.Sprintf("kept: another plan gains %s, less than the %s asked for (--keep)", quantity.Round(k.Gain, 2), quantity.Round(k.Asked, 2))}
}

// timeline draws the booths in letters: "=" setup, "#" a load that is on
// time, "!" one that is late or missed, "." open, " " closed.
func timeline(p *plan.Problem, got *plan.Plan) []string {
	const cells = 96
	from, to := extent(p, got)
	if !from.Before(to) {
		return nil
	}
	step := roundStep(to.Sub(from) / cells)
	from = from.Truncate(step)
	n := int(to.Sub(from)/step) + 1
	cell := func(t time.Time) int { return max(0, min(n, int(t.Sub(from)/step))) }
	wide := 0
	for _, b := range p.Booths {
		wide = max(wide, utf8.RuneCountInString(b.ID))
	}
	pad := func(s string) string { return s + strings.Repeat(" ", wide-utf8.RuneCountInString(s)+2) }
	out := []string{fmt.Sprintf("%s%s, one mark is %s: = setup, # load, ! late or missed, . open", pad(""), short(p.Start, from), spell(step.Minutes()))}
	for _, b := range p.Booths {
		row := []byte(strings.Repeat(" ", n))
		fill := func(from, to time.Time, c byte) {
			k := cell(from)
			for ; k < n && (k < cell(to) || k == cell(from)); k++ {
				row[k] = c
			}
		}
		for _, o := range b.Open {
			if o.To.After(from) && o.From.Before(to) {
				fill(o.From, o.To, '.')
			}
		}
		for _, l := range got.Loads {
			if l.Booth != b.ID {
				continue
			}
			c := byte('#')
			if l.Missed || l.LateMin > 0 {
				c = '!'
			}
			if l.SetupStart.Before(l.Start) {
				fill(l.SetupStart, l.Start, '=')
			}
			fill(l.Start, l.End, c)
		}
		out = append(out, strings.TrimRight(pad(b.ID)+string(row), " "))
	}
	return out
}

// extent is the time from the first to the last that a plan has.
func extent(p *plan.Problem, got *plan.Plan) (from, to time.Time) {
	from, to = p.Start, p.Start
	for _, l := range got.Loads {
		if l.Placed() {
			if l.SetupStart.Before(from) {
				from = l.SetupStart
			}
			if l.End.After(to) {
				to = l.End
			}
		}
	}
	for _, t := range got.Tasks {
		if t.End.After(to) {
			to = t.End
		}
	}
	return from, to
}

// roundStep is the next of some handy lengths.
func roundStep(d time.Duration) time.Duration {
	for _, s := range []time.Duration{time.Minute, 5 * time.Minute, 10 * time.Minute, 15 * time.Minute, 30 * time.Minute, time.Hour, 2 * time.Hour, 6 * time.Hour, 12 * time.Hour} {
		if s >= d {
			return s
		}
	}
	return (d + 24*time.Hour - 1).Truncate(24 * time.Hour)
}
