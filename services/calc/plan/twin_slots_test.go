package plan

import (
	"math"
	"slices"
	"time"
)

// bySlots is the best of all plans whose starts are multiples of the grain,
// with tasks. It holds since everything in the problem is such a multiple.
func bySlots(p *Problem, slots int) worth {
	x := &slotTwin{p: p, slots: slots, best: worth{math.MaxInt, 0}, at: make([]time.Time, len(p.Loads)), booth: make([]string, len(p.Loads))}
	x.load(0, worth{})
	return x.best
}

type slotTwin struct {
	p     *Problem
	slots int
	best  worth
	at    []time.Time // zero: left out
	booth []string
}

func (x *slotTwin) load(j int, now worth) {
	if !now.less(x.best) {
		return
	}
	if j == len(x.p.Loads) {
		x.tasks(now)
		return
	}
	l := &x.p.Loads[j]
	if l.Frozen != nil {
		x.at[j], x.booth[j] = l.Frozen.Start, l.Frozen.Booth
		if x.clear(j) {
			x.load(j+1, worth{now.left, now.cost + price(l, x.at[j])})
		}
		return
	}
	for _, id := range l.Booths {
		b := x.p.Booths[slices.IndexFunc(x.p.Booths, func(b Booth) bool { return b.ID == id })]
		for k := range x.slots {
			t := monday.Add(time.Duration(k) * grain)
			if t.Before(l.Release) || !inside(b.Open, t, t.Add(l.Process)) {
				continue
			}
			x.at[j], x.booth[j] = t, id
			x.load(j+1, worth{now.left, now.cost + price(l, t)})
		}
	}
	x.at[j], x.booth[j] = time.Time{}, ""
	x.load(j+1, worth{now.left + 1, now.cost + l.MissCost})
}

// clear is for frozen loads, which the other checks come to at the end.
func (x *slotTwin) clear(int) bool { return true }

// orders reports whether the booths' loads keep clear of each other.
func (x *slotTwin) orders() bool {
	stands := map[string]PlannedLoad{}
	loads := map[string]*Load{}
	for j := range x.p.Loads {
		l := &x.p.Loads[j]
		loads[l.ID] = l
		stands[l.ID] = PlannedLoad{ID: l.ID, Booth: x.booth[j], Start: x.at[j], End: x.at[j].Add(l.Process)}
	}

	for _, b := range x.p.Booths {
		var in []int
		for j := range x.p.Loads {
			if x.booth[j] == b.ID {
				in = append(in, j)
			}
		}
		slices.SortFunc(in, func(i, k int) int { return x.at[i].Compare(x.at[k]) })
		free, colour, soft := x.p.Start, b.Colour, false
		for _, j := range in {
			l := &x.p.Loads[j]
			if at := free.Add(x.p.Setups[colour][l.Colour]); x.at[j].Before(at) && (l.Frozen == nil || soft) {
				return false
			}
			if end := x.at[j].Add(l.Process); end.After(x.p.Start) {
				free, colour, soft = end, l.Colour, l.Frozen == nil
			}
		}
	}
	return true
}

func (x *slotTwin) tasks(now worth) {
	if !x.orders() {
		return
	}
	starts := map[string]time.Time{}
	x.task(0, starts, map[string]bool{}, now)
}

// task tries every moment for the k-th task.
func (x *slotTwin) task(k int, starts map[string]time.Time, lost map[string]bool, now worth) {
	if !now.less(x.best) {
		return
	}
	if k == len(x.p.Tasks) {
		x.best = now
		return
	}
	t := &x.p.Tasks[k]
	j := slices.IndexFunc(x.p.Loads, func(l Load) bool { return l.ID == t.Load })
	l := &x.p.Loads[j]
	if x.at[j].IsZero() {
		delete(starts, t.ID)
		x.task(k+1, starts, lost, now)
		return
	}
	if l.Frozen != nil && !l.Frozen.Start.After(x.p.Start) {
		starts[t.ID] = time.Time{} // done before
		x.task(k+1, starts, lost, now)
		delete(starts, t.ID)
		return
	}
	for n := range x.slots {
		s := monday.Add(time.Duration(n) * grain)
		if s.Add(t.Length + t.MinLag).After(x.at[j]) {
			break
		}
		if s.Before(t.Release) || !x.mayStart(t, k, s, starts) {
			continue
		}
		starts[t.ID] = s
		was, then := lost[t.Load], now
		if t.HasMax && x.at[j].After(s.Add(t.Length+t.MaxLag)) && !was && (l.LatestStart.IsZero() || !x.at[j].After(l.LatestStart)) {
			lost[t.Load] = true
			then.cost += l.MissCost
		}
		x.task(k+1, starts, lost, then)
		lost[t.Load] = was
		delete(starts, t.ID)
	}
}

func (x *slotTwin) mayStart(t *Task, k int, s time.Time, starts map[string]time.Time) bool {
	for _, a := range t.After {
		e, known := starts[a]
		o := &x.p.Tasks[slices.IndexFunc(x.p.Tasks, func(o Task) bool { return o.ID == a })]
		if !known || !e.IsZero() && s.Before(e.Add(o.Length)) {
			return false
		}
	}
	c := x.p.Crews[slices.IndexFunc(x.p.Crews, func(c Crew) bool { return c.ID == t.Crew })]
	if !c.RoundTheClock && !inside(c.Open, s, s.Add(t.Length)) {
		return false
	}
	for at := s; at.Before(s.Add(t.Length)); at = at.Add(grain) {
		n := 1
		for i := range k {
			o := &x.p.Tasks[i]
			if e, ok := starts[o.ID]; ok && !e.IsZero() && o.Crew == t.Crew && !e.After(at) && at.Before(e.Add(o.Length)) {
				n++
			}
		}
		if n > c.People {
			return false
		}
	}
	return true
}
