package plan

import (
	"fmt"
	"math"
	"slices"
	"time"
)

// judge is an evaluator of its own: it takes a plan as it was told, moment by
// moment, and says what is wrong with it. It shares no code with the solver.
func judge(p *Problem, got *Plan) error {
	loads := map[string]*Load{}
	for i := range p.Loads {
		loads[p.Loads[i].ID] = &p.Loads[i]
	}
	stands := map[string]PlannedLoad{}
	for _, r := range got.Loads {
		if _, twice := stands[r.ID]; twice || loads[r.ID] == nil {
			return fmt.Errorf("load %s twice or unknown", r.ID)
		}
		stands[r.ID] = r
	}
	if len(stands) != len(p.Loads) || len(got.Tasks) != len(p.Tasks) {
		return fmt.Errorf("%d loads, %d tasks told", len(stands), len(got.Tasks))
	}
	if err := judgeBooths(p, loads, stands); err != nil {
		return err
	}
	starts, lates := map[string]time.Time{}, map[string]time.Time{}
	for _, t := range got.Tasks {
		starts[t.ID], lates[t.ID] = t.Start, t.LatestStart
	}
	late, err := judgeTasks(p, stands, starts)
	if err != nil {
		return err
	}
	if _, err := judgeTasks(p, stands, lates); err != nil {
		return fmt.Errorf("at latest starts: %w", err)
	}
	return judgeCost(p, got, stands, late)
}

func inside(open []Interval, from, to time.Time) bool {
	return slices.ContainsFunc(open, func(o Interval) bool { return !from.Before(o.From) && !to.After(o.To) })
}

func judgeBooths(p *Problem, loads map[string]*Load, stands map[string]PlannedLoad) error {
	for _, b := range p.Booths {
		var in []PlannedLoad
		for _, r := range stands {
			if r.Booth == b.ID {
				in = append(in, r)
			}
		}
		slices.SortFunc(in, func(x, y PlannedLoad) int { return x.Start.Compare(y.Start) })
		free, colour := p.Start, b.Colour
		for _, r := range in {
			l := loads[r.ID]
			setup := p.Setups[colour][l.Colour]
			if l.Frozen != nil {
				if r.Booth != l.Frozen.Booth || !r.Start.Equal(l.Frozen.Start) {
					return fmt.Errorf("frozen %s was moved to %s %s", r.ID, r.Booth, r.Start)
				}
				if r.Start.Before(free) && free.After(p.Start) && loads[last(in, r).ID].Frozen == nil {
					return fmt.Errorf("frozen %s overlaps", r.ID)
				}
				if prev := last(in, r); prev.ID != "" && loads[prev.ID].Frozen == nil && r.Start.Before(free.Add(setup)) {
					return fmt.Errorf("frozen %s has no time for its setup", r.ID)
				}
			} else {
				switch {
				case !slices.Contains(l.Booths, r.Booth):
					return fmt.Errorf("%s in booth %s", r.ID, r.Booth)
				case r.Start.Before(free.Add(setup)):
					return fmt.Errorf("%s at %s, booth free %s and %s setup", r.ID, r.Start, free, setup)
				case r.Start.Before(l.Release) || r.Start.Before(p.Start):
					return fmt.Errorf("%s before its release", r.ID)
				case !inside(b.Open, r.Start, r.Start.Add(l.Process)):
					return fmt.Errorf("%s in closed hours: %s", r.ID, r.Start)
				}
			}
			if !r.End.Equal(r.Start.Add(l.Process)) || !r.SetupStart.Equal(r.Start.Add(-setup)) {
				return fmt.Errorf("%s: end or setup start does not fit", r.ID)
			}
			if r.End.After(p.Start) {
				colour = l.Colour
				if r.End.After(free) {
					free = r.End
				}
			}
		}
	}
	return nil
}

// last is what stands before r.
func last(in []PlannedLoad, r PlannedLoad) PlannedLoad {
	var out PlannedLoad
	for _, x := range in {
		if x.ID == r.ID {
			return out
		}
		out = x
	}
	return out
}

// judgeTasks checks tasks at given starts and lists loads that they make
// missed.
func judgeTasks(p *Problem, stands map[string]PlannedLoad, at map[string]time.Time) (map[string]bool, error) {
	late := map[string]bool{}
	ends := map[string]time.Time{}
	past := func(t *Task) bool {
		for i := range p.Loads {
			if l := &p.Loads[i]; l.ID == t.Load {
				return l.Frozen != nil && !l.Frozen.Start.After(p.Start)
			}
		}
		return false
	}
	byID := map[string]*Task{}
	for i := range p.Tasks {
		byID[p.Tasks[i].ID] = &p.Tasks[i]
		ends[p.Tasks[i].ID] = at[p.Tasks[i].ID].Add(p.Tasks[i].Length)
	}
	for i := range p.Tasks {
		t := &p.Tasks[i]
		s, e := at[t.ID], ends[t.ID]
		r := stands[t.Load]
		if s.IsZero() {
			if !past(t) {
				late[t.Load] = true
			}
			continue
		}
		if !r.Placed() {
			return nil, fmt.Errorf("task %s of a load without a place", t.ID)
		}
		if s.Before(p.Start) || s.Before(t.Release) {
			return nil, fmt.Errorf("task %s too early", t.ID)
		}
		for _, a := range t.After {
			if at[a].IsZero() && !past(byID[a]) || !at[a].IsZero() && s.Before(ends[a]) {
				return nil, fmt.Errorf("task %s before %s ends", t.ID, a)
			}
		}
		if r.Start.Before(e.Add(t.MinLag)) {
			return nil, fmt.Errorf("task %s: load %s starts too soon after it", t.ID, t.Load)
		}
		if t.HasMax && r.Start.After(e.Add(t.MaxLag)) {
			late[t.Load] = true
		}
		if err := judgeCrew(p, t, s, at); err != nil {
			return nil, err
		}
	}
	return late, nil
}

func judgeCrew(p *Problem, t *Task, s time.Time, at map[string]time.Time) error {
	for _, c := range p.Crews {
		if c.ID != t.Crew {
			continue
		}
		if !c.RoundTheClock && !inside(c.Open, s, s.Add(t.Length)) {
			return fmt.Errorf("task %s in closed hours", t.ID)
		}
		n := 0
		for i := range p.Tasks {
			o := &p.Tasks[i]
			if x := at[o.ID]; o.Crew == c.ID && !x.IsZero() && !x.After(s) && s.Before(x.Add(o.Length)) {
				n++
			}
		}
		if n > c.People {
			return fmt.Errorf("task %s: %d at work, crew %s has %d", t.ID, n, c.ID, c.People)
		}
	}
	return nil
}

func judgeCost(p *Problem, got *Plan, stands map[string]PlannedLoad, late map[string]bool) error {
	sum := 0.0
	for i := range p.Loads {
		l := &p.Loads[i]
		r := stands[l.ID]
		missed := late[l.ID]
		min := 0.0
		if !r.Placed() {
			missed = true
		} else {
			if x := r.Start.Add(l.Process + l.Tail).Sub(l.Due).Minutes(); !l.Due.IsZero() && x > 0 {
				min = x
			}
			missed = missed || !l.LatestStart.IsZero() && r.Start.After(l.LatestStart)
			sum += l.Wait * max(0, r.Start.Sub(p.Start).Minutes())
		}
		if missed != r.Missed {
			return fmt.Errorf("%s: missed %v told, is %v", l.ID, r.Missed, missed)
		}
		if math.Abs(min-r.LateMin) > 1e-6 {
			return fmt.Errorf("%s: %g min late told, is %g", l.ID, r.LateMin, min)
		}
		sum += l.Weight * min
		if missed {
			sum += l.MissCost
		}
		if r.Why == "" {
			return fmt.Errorf("%s: no reason", l.ID)
		}
	}
	if math.Abs(sum-got.Objective) > 1e-6*(1+sum) {
		return fmt.Errorf("objective %g told, is %g", got.Objective, sum)
	}
	if got.LowerBound > got.Objective || got.Optimal != (got.LowerBound == got.Objective) {
		return fmt.Errorf("bound %g, objective %g, optimal %v", got.LowerBound, got.Objective, got.Optimal)
	}
	return nil
}
