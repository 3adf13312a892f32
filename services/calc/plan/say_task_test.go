package plan

import (
	"fmt"
	"slices"
	"time"
)

// task checks what is said of a task that begins a step later than its latest
// start, when all others begin at theirs.
func (s sayer) task(i int) error {
	t := &s.got.Tasks[i]
	if t.Start.IsZero() {
		if t.IfLater != "" {
			return fmt.Errorf("it is not done")
		}
		return nil
	}
	q := &s.p.Tasks[t.Index]
	over := t.LatestStart.Add(q.Length)
	at := map[string]time.Time{}
	for _, o := range s.got.Tasks {
		at[o.ID] = o.LatestStart
	}
	at[t.ID] = at[t.ID].Add(s.p.step())
	load := s.planned(q.Load)
	own := func() error { // its own load starts when it must, and not later
		if _, task := s.taskAt(t.ID); !load.Start.Equal(over.Add(task.MinLag)) {
			return fmt.Errorf("%s starts at %s", load.ID, load.Start)
		}
		return nil
	}
	if m := find(`^(\w+) starts later than (.*) in (\w+)$`, t.IfLater); m != nil {
		s.seen["own load"]++
		if m[1] != load.ID || !s.when(m[2]).Equal(load.Start) || m[3] != load.Booth {
			return fmt.Errorf("%s stands in %s at %s", load.ID, load.Booth, load.Start)
		}
		return own()
	}
	if m := find(`^(\w+) misses its window, which closes at (.*)$`, t.IfLater); m != nil {
		s.seen["own window"]++
		if m[1] != load.ID || load.Missed || !load.Start.Equal(s.p.Loads[load.Index].LatestStart) || !s.when(m[2]).Equal(load.Start) {
			return fmt.Errorf("%s starts at %s", load.ID, load.Start)
		}
		return own()
	}
	if m := find(`^it is too late for (\w+), frozen at (.*) in (\w+)$`, t.IfLater); m != nil {
		s.seen["own frozen"]++
		if m[1] != load.ID || s.p.Loads[load.Index].Frozen == nil {
			return fmt.Errorf("%s is not frozen", m[1])
		}
		return own()
	}
	if m := find(`^it is not over before (\w+) stops work at (.*)$`, t.IfLater); m != nil {
		s.seen["stops work"]++
		if m[1] != q.Crew || !s.when(m[2]).Equal(over) {
			return fmt.Errorf("%s is over at %s", t.ID, over)
		}
		return breaks(judgeCrew(s.p, q, at[t.ID], at))
	}
	if m := find(`^(\w+) after it begins later than (.*?)(,| and)`, t.IfLater); m != nil {
		s.seen["after"]++
		next, task := s.taskAt(m[1])
		if !slices.Contains(task.After, t.ID) || !s.when(m[2]).Equal(next.LatestStart) || !next.LatestStart.Equal(over) {
			return fmt.Errorf("%s has to begin by %s", next.ID, next.LatestStart)
		}
		return s.chain(next, t.IfLater)
	}
	m := find(`^(\w+) begins (\w+) later than (.*?)(,| and)`, t.IfLater)
	if m == nil {
		return fmt.Errorf("not a form that is known")
	}
	s.seen["crew"]++
	next, task := s.taskAt(m[2])
	if m[1] != q.Crew || task.Crew != q.Crew || !s.when(m[3]).Equal(next.LatestStart) || !next.LatestStart.Equal(over) {
		return fmt.Errorf("%s has to begin by %s", next.ID, next.LatestStart)
	}
	if crewHolds(s.p, at) {
		return fmt.Errorf("the crew has somebody for both")
	}
	delete(at, next.ID) // without it there is room
	if !crewHolds(s.p, at) {
		return fmt.Errorf("it is not %s that is in the way", next.ID)
	}
	return s.chain(next, t.IfLater)
}

// chain checks that what a task is said to hold up in the end is what the task
// behind it says itself.
func (s sayer) chain(next *PlannedTask, text string) error {
	load := s.planned(s.p.Tasks[next.Index].Load)
	last := next
	for n := 0; ; n++ {
		m := find(`^(?:\w+ begins )?(\w+) (?:after it begins )?later than `, last.IfLater)
		if m == nil || n > len(s.got.Tasks) {
			break
		}
		last, _ = s.taskAt(m[1])
		load = s.planned(s.p.Tasks[last.Index].Load)
	}
	closes := find(`(\w+) stops work at (.*)$`, last.IfLater)
	switch m := find(`(?:,|and) ?(?:(\w+) is not over|is not over|too late for (\w+).*?) ?(?:before (\w+) stops work at (.*))?$`, text); {
	case m == nil:
		return fmt.Errorf("no end")
	case closes != nil && (m[3] != closes[1] || m[4] != closes[2] || m[1] != "" && m[1] != last.ID):
		return fmt.Errorf("%s says %q", last.ID, last.IfLater)
	case closes == nil && m[2] != load.ID:
		return fmt.Errorf("%s says %q", last.ID, last.IfLater)
	}
	return nil
}

func breaks(err error) error {
	if err == nil {
		return fmt.Errorf("a step later breaks nothing")
	}
	return nil
}
