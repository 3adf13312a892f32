package plan

import (
	"cmp"
	"slices"
	"time"
)

// report turns a course into a Plan in the problem's terms.
func (m *model) report(p *Problem, c *course, floor float64, proved bool, rounds int, from *Plan) Plan {
	at := func(t int64) time.Time { return p.Start.Add(time.Duration(t * m.unit)).UTC() }
	out := Plan{Rounds: rounds}
	late := m.latest(c)
	before := m.before(c)
	later := m.reasons(p, c, before, Telling{}).ifLater(late)
	left := 0
	for j := range m.loads {
		l := &m.loads[j]
		r := PlannedLoad{ID: p.Loads[j].ID, Missed: c.missed[j], Index: j}
		if c.booth[j] < 0 {
			left++
		} else {
			r.Booth = p.Booths[c.booth[j]].ID
			r.Start, r.End = at(c.start[j]), at(c.start[j]+l.length)
			r.SetupStart = at(c.start[j] - m.setup[before[j].colour][l.colour])
			if x := c.start[j] - l.slackEnd; x > 0 {
				r.LateMin = float64(x) * (float64(m.unit) / float64(time.Minute))
			}
			out.Objective += p.Loads[j].Weight*r.LateMin + l.waits(c.start[j])
		}
		if r.Missed {
			out.Objective += l.miss
		}
		out.Loads = append(out.Loads, r)
	}
	for k := range m.tasks {
		r := PlannedTask{ID: p.Tasks[k].ID, Index: k}
		if c.task[k] < never {
			r.Start, r.End, r.LatestStart = at(c.task[k]), at(c.task[k]+m.tasks[k].length), at(late[k])
			r.IfLater = later[k]
		}
		out.Tasks = append(out.Tasks, r)
	}
	m.explain(p, c, before, &out, Telling{})
	m.conclude(&out, floor, proved, left)
	out.Changes = changes(p, &out, from)
	booth := map[string]int{"": len(p.Booths)}
	for i, b := range p.Booths {
		booth[b.ID] = i
	}
	slices.SortStableFunc(out.Loads, func(a, b PlannedLoad) int {
		return cmp.Or(cmp.Compare(booth[a.Booth], booth[b.Booth]), a.Start.Compare(b.Start), cmp.Compare(a.Index, b.Index))
	})
	slices.SortStableFunc(out.Tasks, func(a, b PlannedTask) int {
		return cmp.Or(cmp.Compare(btoi(a.Start.IsZero()), btoi(b.Start.IsZero())), a.Start.Compare(b.Start), cmp.Compare(a.Index, b.Index))
	})
	return out
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// conclude states the bound in the problem's terms: what is left out costs
// its miss cost there, so the bound of a plan that leaves loads out though
// each has a place alone counts no more than that for any of them.
func (m *model) conclude(out *Plan, floor float64, proved bool, left int) {
	if proved {
		out.LowerBound, out.Optimal = out.Objective, true
		return
	}
	forced := 0
	low := m.base
	for _, j := range m.free {
		l := &m.loads[j]
		alone := m.aloneCost(j)
		if alone >= m.none {
			forced++
			alone = l.miss
		}
		low += alone
	}
	if left > forced {
		low = m.base
		for _, j := range m.free {
			low += min(m.aloneCost(j), m.loads[j].miss)
		}
	} else {
		low = max(low, floor-m.none*float64(forced))
	}
	out.LowerBound = max(0, min(low, out.Objective))
	if out.Optimal = out.Objective-out.LowerBound <= tight(out.Objective); out.Optimal {
		out.LowerBound = out.Objective
	}
}

// follows says what stands before a load in its booth.
type follows struct {
	load   int32 // -1: none
	end    int64 // when the booth was free
	colour int32
}

// before finds what stands before each load in its booth.
func (m *model) before(c *course) []follows {
	out := make([]follows, len(m.loads))
	for b := range m.booths {
		var q []int32
		for j := range m.loads {
			if c.booth[j] == int32(b) {
				q = append(q, int32(j))
			}
		}
		slices.SortFunc(q, func(x, y int32) int { return cmp.Or(cmp.Compare(c.start[x], c.start[y]), cmp.Compare(x, y)) })
		last := follows{load: -1, colour: m.booths[b].colour}
		for _, j := range q {
			out[j] = last
			if end := c.start[j] + m.loads[j].length; end > 0 {
				last = follows{j, max(end, last.end), m.loads[j].colour}
			}
		}
	}
	return out
}
