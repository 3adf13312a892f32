package console

import (
	"fmt"
	"strings"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/calc/quantity"
)

// Lines is the plan for people.
func (a boothPlanAnswer) Lines() []string {
	now := timeOf(a.plan)
	head := "booth plan at " + now.full(now.now) + ", times in " + now.name
	if !a.Planning {
		head = "nobody plans: loads stand as they were told; times in " + now.name
	}
	out := []string{head}
	if a.Trouble != nil {
		out = append(out, "TROUBLE: "+oneLine(*a.Trouble))
	}
	if len(a.Loads) == 0 {
		return append(out, "no load is to be sprayed")
	}
	if a.Planning {
		out = append(out, a.cost())
	}
	out = append(append(out, ""), a.loads(now)...)
	if work := a.work(now); len(work) > 0 {
		out = append(append(out, ""), work...)
	}
	for i, s := range a.ShiftEnd {
		if i == 0 {
			out = append(out, "", "at the shift's end")
		}
		line := "  " + s.Text
		if !s.Planned {
			line += "; the plan has it later"
		}
		out = append(out, line)
	}
	return out
}

func (a boothPlanAnswer) cost() string {
	if a.Optimal {
		return "nothing is late or missed"
	}
	return fmt.Sprintf("cost %s weighted minutes", quantity.Round(a.Cost, 0))
}

func (a boothPlanAnswer) loads(now shopTime) []string {
	rows := [][]string{{"booth", "", "load", "start", "end", "latest", "due", "slack", "", "why"}}
	for _, l := range a.plan.GetLoads() {
		booth, order := l.GetBoothId(), ""
		if booth == "" {
			booth = "none"
		}
		if n := l.GetOrder(); n > 0 {
			order = fmt.Sprint(n)
		}
		slack := ""
		if l.SlackMin != nil {
			slack = spell(l.GetSlackMin())
		}
		rows = append(rows, []string{
			booth, order, l.GetLoadId(), now.hour(l.GetStart()), now.hour(l.GetEnd()), now.hour(l.GetLatestStart()), now.hour(l.GetDue()),
			slack, standing(l), oneLine(l.GetWhy()),
		})
	}
	return table(rows)
}

// standing is what is to be known of a load at once.
func standing(l *boothv1.PlannedLoad) string {
	var out []string
	for _, s := range []struct {
		is   bool
		word string
	}{{l.GetBegun(), "in the booth"}, {l.GetPermitted(), "permit"}, {l.GetMissed(), "MISSED"}, {l.GetKeep() == boothv1.Keep_KEEP_START, "by hand"}} {
		if s.is {
			out = append(out, s.word)
		}
	}
	if m := l.GetLateMin(); m >= 0.5 {
		out = append(out, spell(m)+" LATE")
	}
	return strings.Join(out, ", ")
}

// work is what each bay has to do, and what a load waits for beside it.
func (a boothPlanAnswer) work(now shopTime) []string {
	var out []string
	for _, b := range a.plan.GetBays() {
		bay := b.GetZoneId()
		if bay == "" {
			bay = "in no bay that is known"
		}
		out = append(out, bay)
		var idle []*boothv1.LayBy
		for _, i := range b.GetLayBy() {
			w := a.plan.GetLayBy()[i]
			if w.GetBeginBy() == nil {
				idle = append(idle, w)
				continue
			}
			out = append(out, fmt.Sprintf("  %s (%s, begin by %s)", oneLine(w.GetText()), spell(w.GetMinutes()), now.hour(w.GetBeginBy())))
		}
		out = append(out, withoutPlace(idle)...)
	}
	return append(out, a.waits()...)
}

// withoutPlace is work that nothing is planned for yet, a line a load.
func withoutPlace(works []*boothv1.LayBy) (out []string) {
	var order []string
	names := map[string][]string{}
	for _, w := range works {
		what := w.GetWhat() + " for " + w.GetLoadId() + ", which has no place"
		if w.GetLoadStart() != nil {
			what = w.GetWhat() + " for " + w.GetLoadId() + ", which cannot be done before it"
		}
		if names[what] == nil {
			order = append(order, what)
		}
		names[what] = append(names[what], w.GetName())
	}
	for _, what := range order {
		out = append(out, "  "+oneLine(what+": "+strings.Join(names[what], ", ")))
	}
	return out
}

// waits are what loads wait for beside work, what several wait for once.
func (a boothPlanAnswer) waits() (out []string) {
	var order []string
	loads := map[string][]string{}
	for _, l := range a.plan.GetLoads() {
		for _, w := range l.GetWaitsFor() {
			if strings.HasPrefix(w, "lay ") || strings.HasPrefix(w, "scuff ") {
				continue
			}
			if loads[w] == nil {
				order = append(order, w)
			}
			loads[w] = append(loads[w], l.GetLoadId())
		}
	}
	for _, w := range order {
		verb := " waits: "
		if len(loads[w]) > 1 {
			verb = " wait: "
		}
		out = append(out, strings.Join(loads[w], ", ")+verb+oneLine(w))
	}
	return out
}
