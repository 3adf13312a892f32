package console

import (
	"fmt"
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/calc/quantity"
)

// Lines is the plan for people.
func (a boothPlanAnswer) Lines() []string {
	now := a.plan.GetNow().AsTime()
	head := "booth plan at " + moment(now) + ", times in UTC"
	if !a.Planning {
		head = "nobody plans: loads stand as they were told; times in UTC"
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
	proof := "no plan costs less than " + quantity.Round(a.LowerBound, 0)
	if a.Optimal {
		proof = "no plan costs less"
	}
	return fmt.Sprintf("cost %s weighted minutes (%s)", quantity.Round(a.Cost, 0), proof)
}

func (a boothPlanAnswer) loads(now time.Time) []string {
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
			slack = quantity.Round(l.GetSlackMin(), 0) + " min"
		}
		rows = append(rows, []string{
			booth, order, l.GetLoadId(), hour(now, l.GetStart()), hour(now, l.GetEnd()), hour(now, l.GetLatestStart()), hour(now, l.GetDue()),
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
		out = append(out, quantity.Round(m, 0)+" min LATE")
	}
	return strings.Join(out, ", ")
}

// work is what each bay has to do, and what a load waits for beside it.
func (a boothPlanAnswer) work(now time.Time) []string {
	var out []string
	for _, b := range a.plan.GetBays() {
		bay := b.GetZoneId()
		if bay == "" {
			bay = "in no bay that is known"
		}
		out = append(out, bay)
		for _, i := range b.GetLayBy() {
			w := a.plan.GetLayBy()[i]
			line := "  " + oneLine(w.GetText())
			if w.GetBeginBy() != nil {
				line += fmt.Sprintf(" (%s min, begin by %s)", quantity.Round(w.GetMinutes(), 0), hour(now, w.GetBeginBy()))
			}
			out = append(out, line)
		}
	}
	for _, l := range a.plan.GetLoads() {
		for _, w := range l.GetWaitsFor() {
			if !strings.HasPrefix(w, "lay ") && !strings.HasPrefix(w, "scuff ") {
				out = append(out, l.GetLoadId()+" waits: "+oneLine(w))
			}
		}
	}
	return out
}

// news is what a plan does otherwise than the one before.
func (a boothPlanAnswer) news() []string {
	at := a.plan.GetNow().AsTime().UTC().Format("15:04") + "  "
	var out []string
	for _, c := range a.Changes {
		out = append(out, at+oneLine(c.What))
	}
	if a.Trouble != nil {
		out = append(out, at+"TROUBLE: "+oneLine(*a.Trouble))
	}
	return out
}

// hour is a moment with its day where that is not today.
func hour(now time.Time, t *timestamppb.Timestamp) string {
	if t == nil {
		return ""
	}
	return short(now, t.AsTime())
}
