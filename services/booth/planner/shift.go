package planner

import (
	"fmt"
	"slices"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/calc/plan"
)

// shiftEnd lists the loads that are sprayed before the shift ends or scuffed
// first: their beads' windows close before a booth that may take them is open
// for them again.
func (d speech) shiftEnd(at map[int]plan.PlannedLoad) []*boothv1.ShiftEnd {
	var out []*boothv1.ShiftEnd
	for i := range d.Loads {
		l := &d.Loads[i]
		if l.Begun || l.Latest.IsZero() || l.Latest.Before(d.At) {
			continue
		}
		ends, again, ok := d.night(i)
		if !ok || !l.Latest.Before(again) || l.Latest.After(again.Add(d.Problem.Loads[i].Process)) {
			continue
		}
		by := l.Latest
		if last := ends.Add(-d.Problem.Loads[i].Process); last.Before(by) {
			by = last
		}
		if by.Before(d.At) {
			continue // it is scuffed in any case
		}
		s := &boothv1.ShiftEnd{
			LoadId: string(l.ID), LatestStart: timestamppb.New(by), OpensAgain: timestamppb.New(again),
			Text: fmt.Sprintf("spray %s by %s today or scuff %s", l.ID, d.clock(by), again.In(d.zone).Format("Monday")),
		}
		p := at[i]
		s.Planned = p.Placed() && !p.Start.After(by)
		out = append(out, s)
	}
	slices.SortStableFunc(out, func(a, b *boothv1.ShiftEnd) int {
		return a.GetLatestStart().AsTime().Compare(b.GetLatestStart().AsTime())
	})
	return out
}

// night is when the booths that may take a load close on the day of the plan,
// and when the first of them is open again on a later one; false when one of
// them is not open that day, or never again.
func (d *Draft) night(i int) (ends, again time.Time, ok bool) {
	now := d.At.UTC()
	day := func(t time.Time) bool { t = t.UTC(); return t.YearDay() == now.YearDay() && t.Year() == now.Year() }
	for _, b := range d.Problem.Booths {
		if !slices.Contains(d.Problem.Loads[i].Booths, b.ID) {
			continue
		}
		for _, o := range b.Open {
			switch {
			case day(o.From) && !day(o.To):
				return ends, again, false // it does not close
			case day(o.From):
				ends = latest(ends, o.To)
			case again.IsZero() || o.From.Before(again):
				again = o.From
			}
		}
	}
	return ends, again, !ends.IsZero() && !again.IsZero()
}
