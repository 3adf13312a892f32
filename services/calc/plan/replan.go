package plan

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// warm takes the orders of an earlier plan: loads that stood in it keep their
// order, the others are put where they cost least. It gives the plan that
// this makes by itself, nil if nothing of the earlier plan is left.
func (s *solver) warm(p *Problem, from *Plan) *course {
	m := s.m
	boothOf, loadOf := map[string]int32{}, map[string]int32{}
	for i, b := range p.Booths {
		boothOf[b.ID] = int32(i)
	}
	for i := range p.Loads {
		loadOf[p.Loads[i].ID] = int32(i)
	}
	old := slices.Clone(from.Loads)
	slices.SortStableFunc(old, func(a, b PlannedLoad) int { return cmp.Or(a.Start.Compare(b.Start), cmp.Compare(a.ID, b.ID)) })
	seq := make([][]int32, len(m.booths))
	in := make([]bool, len(m.loads))
	known := 0
	for _, l := range old {
		b, ok1 := boothOf[l.Booth]
		j, ok2 := loadOf[l.ID]
		if ok1 && ok2 && !in[j] && m.loads[j].may[b] && (m.loads[j].fixed < 0 || slices.Contains(m.marks, j)) {
			seq[b] = append(seq[b], j)
			in[j] = true
			known++
		}
	}
	if known == 0 {
		return nil
	}
	t := newTour(m, seq)
	for _, j := range m.sorted(func(l *load) float64 { return float64(min(l.slackEnd, l.latest)) }) {
		if !in[j] {
			t.insert(j)
		}
	}
	s.seq = m.withRest(clone(t.seq))
	if len(m.tasks) > 0 {
		return newDecoder(m, s.seq).course()
	}
	return m.follow(clone(s.seq))
}

// insert puts a load where it costs least.
func (t *tour) insert(j int32) {
	best, at, k := 0.0, -1, 0
	for _, b := range t.m.loads[j].booths {
		for i := 0; i <= len(t.seq[b]); i++ {
			limit := 1e300
			if at >= 0 {
				limit = t.end(int(b)) + best
			}
			if c := t.run(int(b), i, limit, i, []int32{j}) - t.end(int(b)); at < 0 || c < best {
				best, at, k = c, int(b), i
			}
		}
	}
	t.seq[at] = slices.Insert(t.seq[at], k, j)
	t.refresh(at, k)
	t.sum()
}

// worth reports whether the new plan is so much better than the old one that
// loads may be moved for it; if it is better but not by so much it gives what
// was gained and asked for.
func (s *solver) worth(old *course, share float64) (bool, *Kept) {
	gain := old.cost - s.best.cost
	shown := old.cost - s.m.none*math.Floor(old.cost/s.m.none) // without what is counted for loads that are left out
	switch asked := share * shown; {
	case gain <= tight(old.cost):
		return false, nil
	case gain < asked:
		return false, &Kept{gain, asked}
	}
	return true, nil
}

// changes lists what a plan does otherwise than the one it was made from.
func changes(p *Problem, to, from *Plan) []Change {
	out := []Change{}
	if from == nil {
		return out
	}
	was := map[string]PlannedLoad{}
	for _, l := range from.Loads {
		was[l.ID] = l
	}
	for _, l := range to.Loads { // in the problem's order
		o, known := was[l.ID]
		delete(was, l.ID)
		c := Change{ID: l.ID, Booth: l.Booth, OldBooth: o.Booth, Start: l.Start, OldStart: o.Start}
		switch {
		case known && l.Booth == o.Booth && l.Start.Equal(o.Start):
			continue
		case !known && l.Placed():
			c.What = fmt.Sprintf("new: booth %s at %s", l.Booth, clock(p, l.Start))
		case !known:
			c.What = "new: it has no place"
		case !l.Placed():
			c.What = fmt.Sprintf("has no place any more; it stood in booth %s at %s", o.Booth, clock(p, o.Start))
		case !o.Placed():
			c.What = fmt.Sprintf("has a place now: booth %s at %s", l.Booth, clock(p, l.Start))
		case l.Booth != o.Booth:
			c.What = fmt.Sprintf("from booth %s at %s to booth %s at %s", o.Booth, clock(p, o.Start), l.Booth, clock(p, l.Start))
		default:
			d := l.Start.Sub(o.Start).Minutes()
			word := "later"
			if d < 0 {
				d, word = -d, "earlier"
			}
			c.What = fmt.Sprintf("%s %s: %s, was %s", Minutes(d), word, clock(p, l.Start), clock(p, o.Start))
		}
		out = append(out, c)
	}
	for _, l := range from.Loads {
		if _, gone := was[l.ID]; gone {
			out = append(out, Change{ID: l.ID, OldBooth: l.Booth, OldStart: l.Start, What: "is no longer to be planned"})
		}
	}
	return out
}
