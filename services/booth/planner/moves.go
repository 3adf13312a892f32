package planner

import (
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/floor"
)

// Move is a load whose place in the journal is no longer the plan's.
type Move struct {
	Load   floor.LoadID
	Booth  floor.BoothID // as it is when the load has no place
	Start  time.Time     // zero: it has none
	Reason string
}

// Moves lists the loads that a plan puts elsewhere than they stand: into
// another booth, another order, or to another start by a step, the first of a
// booth, or by two, the others, whose starts tremble with the first one's. What
// has begun, has a permit or was put somewhere by hand is never among them.
func (d *Draft) Moves(p *boothv1.Plan) []Move {
	index := map[string]int{}
	for i := range d.Loads {
		index[string(d.Loads[i].ID)] = i
	}
	last := map[string]time.Time{}
	first := map[string]bool{}
	var out []Move
	for _, t := range p.GetLoads() {
		i := index[t.GetLoadId()]
		l := &d.Loads[i]
		fixed := l.Begun || l.Permitted || l.Keep == floor.KeepStart
		switch {
		case t.GetBoothId() == "":
			if !fixed && !l.Start.IsZero() {
				out = append(out, Move{l.ID, l.Booth, time.Time{}, d.journal[l.ID]})
			}
			continue
		case fixed:
			last[t.GetBoothId()] = latest(last[t.GetBoothId()], l.Start)
			continue
		}
		b, start := t.GetBoothId(), t.GetStart().AsTime()
		step := d.house.Step
		if first[b] {
			step *= 2
		}
		first[b] = true
		off := start.Sub(l.Start).Abs()
		if l.Start.IsZero() || string(l.Booth) != b || off >= step || !l.Start.After(last[b]) && start.After(last[b]) {
			out = append(out, Move{l.ID, floor.BoothID(b), start, d.journal[l.ID]})
			last[b] = start
			continue
		}
		last[b] = l.Start
	}
	return out
}

// Stands reports whether a load is still told as the draft has it.
func (d *Draft) Stands(l *floor.Load) bool {
	for i := range d.Loads {
		if o := &d.Loads[i]; o.ID == l.ID {
			return o.Booth == l.Booth && o.Start.Equal(l.Start) && o.Keep == l.Keep && o.told == l.Told
		}
	}
	return false
}
