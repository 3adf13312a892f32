package plan

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"seamwright/services/fault"
)

// Limits of what is taken.
const (
	MaxMinutes = 525600 // of any length, setup or lag
	MaxCost    = 1e9    // of weight and miss cost
	MaxPeople  = 1000
	MaxLoads   = 10_000
	MaxTasks   = 50_000
	MaxBooths  = 100
	MaxColours = 10_001
)

// Bounds of the moments that are taken.
var (
	Earliest = time.Date(1970, 1, 1, 0, 0, 0, 0, time.UTC)
	Latest   = time.Date(2200, 1, 1, 0, 0, 0, 0, time.UTC)
)

// Check says whether the parts of a problem fit together: names that exist
// and are used once, colour pairs that are given, frozen loads that do not
// overlap, tasks that do not wait for each other in a circle. The fault is
// Invalid and names the field, the value and the limit.
func (p *Problem) Check() error {
	for _, check := range []func() error{p.checkBooths, p.checkLoads, p.checkSetups, p.checkFrozen, p.checkTasks} {
		if err := check(); err != nil {
			return err
		}
	}
	return nil
}

func outside(t time.Time) bool { return t.Before(Earliest) || !t.Before(Latest) }

const momentLimit = "a time from 1970 to 2200"

func length(field string, d time.Duration, zero bool) error {
	if d < 0 || d > MaxMinutes*time.Minute || d == 0 && !zero {
		if zero {
			return fault.Bad(field, d.Minutes(), "from 0 to 525600 minutes")
		}
		return fault.Bad(field, d.Minutes(), "above 0 to 525600 minutes")
	}
	return nil
}

func calendar(field string, open []Interval) error {
	for i, o := range open {
		f := fmt.Sprintf("%s[%d]", field, i)
		switch {
		case outside(o.From):
			return fault.Bad(f, o.From.Format(time.RFC3339), momentLimit)
		case outside(o.To):
			return fault.Bad(f, o.To.Format(time.RFC3339), momentLimit)
		case !o.From.Before(o.To):
			return fault.Bad(f, o.To.Format(time.RFC3339), "an end after its begin, "+o.From.Format(time.RFC3339)+"; the earlier time stands first")
		case i > 0 && !open[i-1].To.Before(o.From):
			return fault.Bad(f, o.From.Format(time.RFC3339), "a begin after the end of the one before, "+open[i-1].To.Format(time.RFC3339)+"; join or order them")
		}
	}
	return nil
}

func (p *Problem) checkBooths() error {
	if outside(p.Start) {
		return fault.Bad("start", p.Start.Format(time.RFC3339), momentLimit)
	}
	if len(p.Booths) == 0 || len(p.Booths) > MaxBooths {
		return fault.Bad("booths", len(p.Booths), fmt.Sprintf("1 to %d booths", MaxBooths))
	}
	seen := map[string]int{}
	for i, b := range p.Booths {
		f := fmt.Sprintf("booths[%d]", i)
		if err := named(seen, "booths", i, b.ID); err != nil {
			return err
		}
		if b.Colour == "" {
			return fault.Bad(f+".colour", quote(""), "the colour in the gun at the start")
		}
		if err := calendar(f+".open", b.Open); err != nil {
			return err
		}
	}
	return nil
}

func (p *Problem) checkLoads() error {
	if len(p.Loads) > MaxLoads {
		return fault.Bad("loads", len(p.Loads), fmt.Sprintf("at most %d loads", MaxLoads))
	}
	booths := map[string]bool{}
	var names []string
	for _, b := range p.Booths {
		booths[b.ID] = true
		names = append(names, b.ID)
	}
	seen := map[string]int{}
	for i := range p.Loads {
		l := &p.Loads[i]
		f := fmt.Sprintf("loads[%d]", i)
		if err := named(seen, "loads", i, l.ID); err != nil {
			return err
		}
		if l.Colour == "" {
			return fault.Bad(f+".colour", quote(""), "a colour")
		}
		if len(l.Booths) == 0 {
			return fault.Bad(f+".booths", "none", "the booths that may take load "+quote(l.ID)+", at least one")
		}
		for k, b := range l.Booths {
			if !booths[b] {
				return fault.Bad(f+".booths", quote(b), oneOf("booths", names)+", for load "+quote(l.ID))
			}
			if slices.Contains(l.Booths[:k], b) {
				return fault.Bad(f+".booths", quote(b), "each booth once, for load "+quote(l.ID))
			}
		}
		if err := l.checkNumbers(f); err != nil {
			return err
		}
	}
	return nil
}

func (l *Load) checkNumbers(f string) error {
	for _, t := range []struct {
		name string
		at   time.Time
	}{{"release", l.Release}, {"latest_start", l.LatestStart}, {"due", l.Due}} {
		if !t.at.IsZero() && outside(t.at) {
			return fault.Bad(f+"."+t.name, t.at.Format(time.RFC3339), momentLimit)
		}
	}
	if err := length(f+".process_min", l.Process, false); err != nil {
		return err
	}
	if err := length(f+".tail_min", l.Tail, true); err != nil {
		return err
	}
	if !(l.Weight >= 0 && l.Weight <= MaxCost) {
		return fault.Bad(f+".weight", l.Weight, "from 0 to 1e9")
	}
	if !(l.MissCost >= 0 && l.MissCost <= MaxCost) {
		return fault.Bad(f+".miss_cost", l.MissCost, "from 0 to 1e9")
	}
	if !(l.Wait >= 0 && l.Wait <= MaxCost) {
		return fault.Bad(f+".wait", l.Wait, "from 0 to 1e9")
	}
	return nil
}

func (p *Problem) checkFrozen() error {
	byBooth := map[string][]int{}
	for i := range p.Loads {
		l := &p.Loads[i]
		if l.Frozen == nil {
			continue
		}
		f := fmt.Sprintf("loads[%d].frozen", i)
		if !slices.Contains(l.Booths, l.Frozen.Booth) {
			return fault.Bad(f+".booth", quote(l.Frozen.Booth), "one of the booths that may take load "+quote(l.ID)+": "+strings.Join(l.Booths, ", "))
		}
		if outside(l.Frozen.Start) {
			return fault.Bad(f+".start", l.Frozen.Start.Format(time.RFC3339), momentLimit)
		}
		byBooth[l.Frozen.Booth] = append(byBooth[l.Frozen.Booth], i)
	}
	for _, b := range p.Booths {
		ids := byBooth[b.ID]
		slices.SortStableFunc(ids, func(x, y int) int { return p.Loads[x].Frozen.Start.Compare(p.Loads[y].Frozen.Start) })
		for k := 1; k < len(ids); k++ {
			before, l := &p.Loads[ids[k-1]], &p.Loads[ids[k]]
			if end := before.Frozen.Start.Add(before.Process); end.After(l.Frozen.Start) {
				return fault.Bad(fmt.Sprintf("loads[%d].frozen.start", ids[k]), l.Frozen.Start.Format(time.RFC3339),
					"not before "+end.Format(time.RFC3339)+", when frozen load "+before.ID+" leaves booth "+b.ID)
			}
		}
	}
	return nil
}

// quote makes a name fit for one line of an error.
func quote(s string) string {
	if s == "" {
		return "(empty)"
	}
	if r := []rune(s); len(r) > 60 {
		s = string(r[:60]) + "..."
	}
	return fmt.Sprintf("%q", s)
}

// named refuses an identifier that is empty or used before.
func named(seen map[string]int, list string, i int, id string) error {
	at, twice := seen[id]
	switch f := fmt.Sprintf("%s[%d].id", list, i); {
	case id == "":
		return fault.Bad(f, quote(id), "an identifier of its own")
	case twice:
		return fault.Bad(f, quote(id), fmt.Sprintf("an identifier of its own; %s[%d] has this one", list, at))
	}
	seen[id] = i
	return nil
}

// oneOf says that a name must be one of those that there are.
func oneOf(list string, names []string) string {
	const most = 8
	switch n := len(names); {
	case n == 0:
		return "one of the " + list + " of this problem, which has none; add it to " + list
	case n > most:
		return fmt.Sprintf("one of the %d %s of this problem: %s, ...", n, list, strings.Join(names[:most], ", "))
	}
	return "one of the " + list + " of this problem: " + strings.Join(names, ", ")
}
