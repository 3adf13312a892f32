package plan

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
)

// TestNoPlaceIsTrue tries all moments for loads that have no place: where it
// is said that nothing is left there is nothing, where it is said that there
// is room there is.
func TestNoPlaceIsTrue(t *testing.T) {
	d := newDice(62)
	seen := map[string]int{}
	for k := range rounds(t, 400, 6000) {
		x := mix{
			loads: 2 + d.below(5), tasks: d.below(3) * d.below(5), booths: 1 + d.below(2), slots: 10 + d.below(14), long: 1 + d.below(6),
			frozen: d.below(2) == 0, windows: true, tightCalendar: true,
		}
		p := randomProblem(d, x)
		for i := range p.Crews { // short of hours
			first := 1 + d.below(8)
			at := func(k int) time.Time { return monday.Add(time.Duration(k) * grain) }
			p.Crews[i].RoundTheClock, p.Crews[i].Open = false, []Interval{{monday, at(first)}}
			if d.below(2) == 0 {
				p.Crews[i].Open = append(p.Crews[i].Open, Interval{at(first + 4), at(first + 8)})
			}
		}
		got := solved(t, p, Options{Seed: uint64(k), Rounds: 20, More: tries(5_000)})
		for _, l := range got.Loads {
			if l.Placed() {
				continue
			}
			s := sayer{p: &p, got: &got, seen: seen}
			if err := s.none(&p.Loads[l.Index], l.Why); err != nil {
				t.Fatalf("problem %d, %s: %q: %v\n%s\n%s", k, l.ID, l.Why, err, show(p), show(got))
			}
		}
	}
	for _, kind := range []string{"no hours beside", "no hours", "too long", "not all", "over then closed", "frozen fill", "room but crew", "no room", "in vain", "no interval"} {
		if seen[kind] == 0 && !testing.Short() {
			t.Errorf("no sentence of the kind %q was seen", kind)
		}
	}
}

// standsAt asks the evaluator whether a load could stand in one of its booths
// at a moment, beside those that are taken.
func (s sayer) standsAt(q *Load, at time.Time, taken func(*Load) bool) bool {
	loads, stands := map[string]*Load{}, map[string]PlannedLoad{}
	for i := range s.p.Loads {
		loads[s.p.Loads[i].ID] = &s.p.Loads[i]
	}
	for _, o := range s.got.Loads {
		if o.Placed() && taken(loads[o.ID]) {
			stands[o.ID] = o
		}
	}
	for _, b := range q.Booths {
		x := PlannedLoad{ID: q.ID, Booth: b, Start: at, End: at.Add(q.Process)}
		with := map[string]PlannedLoad{q.ID: x}
		for id, o := range stands {
			with[id] = o
		}
		mend(s.p, loads, with, b)
		if judgeBooths(s.p, loads, with) == nil {
			return true
		}
	}
	return false
}

// mend sets the setups of a booth's loads as they follow each other.
func mend(p *Problem, loads map[string]*Load, stands map[string]PlannedLoad, booth string) {
	for id, r := range stands {
		if r.Booth != booth {
			continue
		}
		colour := ""
		for _, b := range p.Booths {
			if b.ID == booth {
				colour = b.Colour
			}
		}
		last := time.Time{}
		for _, o := range stands {
			if o.Booth == booth && o.End.After(p.Start) && o.Start.Before(r.Start) && o.Start.After(last) {
				colour, last = loads[o.ID].Colour, o.Start
			}
		}
		r.SetupStart = r.Start.Add(-p.Setups[colour][loads[id].Colour])
		stands[id] = r
	}
}

// moments are all that a random problem's loads and tasks can start at.
func moments() (out []time.Time) {
	for k := range 120 {
		out = append(out, monday.Add(time.Duration(k)*grain))
	}
	return out
}

// crewTakes asks the evaluator whether a task could be done at some moment of
// its crew, behind the tasks of other loads that it waits for.
func (s sayer) crewTakes(q *Task, from string, beside bool) bool {
	low := q.Release
	if from != "" {
		low = s.when(from)
	}
	at := map[string]time.Time{}
	for _, o := range s.got.Tasks {
		if beside && !o.Start.IsZero() {
			at[o.ID] = o.Start
		}
	}
	for _, m := range moments() {
		at[q.ID] = m
		ok := !m.Before(low)
		for _, a := range q.After {
			if o, task := s.taskAt(a); beside && !o.Start.IsZero() && m.Before(o.Start.Add(task.Length)) {
				ok = false
			}
		}
		if ok && crewHolds(s.p, at) {
			return true
		}
	}
	return false
}

// none checks the reason of a load without a place.
func (s sayer) none(q *Load, why string) error {
	if m := find(`^no place was found in the time of the search, though there is room at (.*); `, why); m != nil {
		if !s.standsAt(q, s.when(m[1]), anyLoad) {
			return fmt.Errorf("there is no room then")
		}
		return nil
	}
	text, known := strings.CutPrefix(why, "no place: ")
	if known {
		for _, check := range []func(*Load, string) (bool, error){s.hours, s.room, s.frozenOrShut, s.undone} {
			if said, err := check(q, text); said {
				return err
			}
		}
	}
	return fmt.Errorf("not a form that is known")
}

// fits reports whether a load could stand at some moment from one on beside
// those that are taken.
func (s sayer) fits(q *Load, from time.Time, taken func(*Load) bool) bool {
	return slices.ContainsFunc(moments(), func(m time.Time) bool { return !m.Before(from) && s.standsAt(q, m, taken) })
}

func anyLoad(*Load) bool      { return true }
func noLoad(*Load) bool       { return false }
func frozenLoad(l *Load) bool { return l.Frozen != nil }

// hours are sentences about a crew's working hours.
func (s sayer) hours(q *Load, text string) (bool, error) {
	if m := find(`^(\w+) has no working hours left for task (\w+) beside (.*?)(?: from (.*) on(?:, when task (\w+) can be over)?)?; `, text); m != nil {
		s.seen["no hours beside"]++
		_, task := s.taskAt(m[2])
		if m[1] != task.Crew || task.Load != q.ID || m[5] != "" && !slices.Contains(task.After, m[5]) || s.crewTakes(task, m[4], true) || !s.crewTakes(task, "", false) {
			return true, fmt.Errorf("beside others %v, alone %v", s.crewTakes(task, m[4], true), s.crewTakes(task, "", false))
		}
		return true, nil
	}
	if m := find(`^(\w+) has no working hours left for task (\w+)(?: from (.*) on(?:, when task (\w+) can be over)?)?; `, text); m != nil {
		s.seen["no hours"]++
		if _, task := s.taskAt(m[2]); s.crewTakes(task, m[3], false) {
			return true, fmt.Errorf("there are hours for it")
		}
		return true, nil
	}
	if m := find(`^no working hours of (\w+) hold the (.*) of task (\w+) without a break; `, text); m != nil {
		s.seen["too long"]++
		_, task := s.taskAt(m[3])
		if by, err := lengthOf(m[2]); err != nil || by != task.Length || s.crewTakes(task, "", false) {
			return true, fmt.Errorf("there are hours for it")
		}
		return true, nil
	}
	return false, nil
}

// room are sentences about room beside the other loads.
func (s sayer) room(q *Load, text string) (bool, error) {
	if m := find(`^(?:from (.*) on, when its tasks can be over, )?([\w, ]+?) (?:has|have) no room of (.*) and the setup beside the loads that stand there; `, text); m != nil {
		s.seen["no room"]++
		from := s.p.Start
		if m[1] != "" {
			from = s.when(m[1])
		}
		if by, err := lengthOf(m[3]); err != nil || by != q.Process || m[2] != strings.Join(q.Booths, ", ") || s.fits(q, from, anyLoad) {
			return true, fmt.Errorf("there is room for it")
		}
		return true, nil
	}
	if m := find(`^there is room for it at (.*), but (\w+) cannot be done with task (\w+) before (.*?) beside other tasks(?: and (.*) must pass then)?; `, text); m != nil {
		s.seen["room but crew"]++
		_, task := s.taskAt(m[3])
		if task.Crew != m[2] || task.Load != q.ID || !s.standsAt(q, s.when(m[1]), anyLoad) || s.fits(q, s.when(m[4]).Add(task.MinLag), anyLoad) {
			return true, fmt.Errorf("at %s %v, later %v", m[1], s.standsAt(q, s.when(m[1]), anyLoad), s.fits(q, s.when(m[4]), anyLoad))
		}
		return true, nil
	}
	return false, nil
}

// frozenOrShut are sentences about what leaves a load no room by itself.
func (s sayer) frozenOrShut(q *Load, text string) (bool, error) {
	if m := find(`^frozen loads leave ([\w, ]+?) no room of (.*) and the setup(?: from (.*) on, when task (\w+) can be over(?: and .* must pass then)?)?; `, text); m != nil {
		s.seen["frozen fill"]++
		from := s.p.Start
		if m[3] != "" {
			_, task := s.taskAt(m[4])
			from = s.when(m[3]).Add(task.MinLag)
		}
		if s.fits(q, from, frozenLoad) || !s.fits(q, from, noLoad) {
			return true, fmt.Errorf("beside the frozen loads there is room for it, or there is none without them either")
		}
		return true, nil
	}
	if m := find(`^task (\w+) is over at (.*?) at the soonest(?: and .* must pass then)?, and no open interval of its booths holds (.*) from then on; `, text); m != nil {
		s.seen["over then closed"]++
		o, task := s.taskAt(m[1])
		if !o.Start.IsZero() || task.Load != q.ID || s.fits(q, s.when(m[2]).Add(task.MinLag), frozenLoad) {
			return true, fmt.Errorf("there is room for it")
		}
		return true, nil
	}
	if strings.HasPrefix(text, "no open interval of its booths holds ") || strings.Contains(text, " no opening hours ") {
		s.seen["no interval"]++
		if s.fits(q, s.p.Start, frozenLoad) {
			return true, fmt.Errorf("there is room for it")
		}
		return true, nil
	}
	return false, nil
}

// undone are sentences about tasks that are not done, or that claim little.
func (s sayer) undone(q *Load, text string) (bool, error) {
	if m := find(`^task (\w+) waits for task (\w+), which is not done$`, text); m != nil {
		s.seen["in vain"]++
		o, _ := s.taskAt(m[2])
		if _, task := s.taskAt(m[1]); task.Load != q.ID || !slices.Contains(task.After, m[2]) || !o.Start.IsZero() {
			return true, fmt.Errorf("task %s is done", m[2])
		}
		return true, nil
	}
	if strings.HasPrefix(text, "its tasks do not all fit into the working hours of ") {
		s.seen["not all"]++
		return true, nil
	}
	return strings.HasPrefix(text, "no room was found for it and its tasks"), nil
}
