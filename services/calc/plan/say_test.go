package plan

import (
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"
)

// TestSentencesAreTrue reads what plans of random problems say, as somebody
// who has only the problem and the plan's figures, and asks the evaluator:
// what a load waits for ends when it says and a step sooner it could not
// stand there; a step later than its slack breaks or costs; and what a task
// that begins a step too late is said to break, breaks.
func TestSentencesAreTrue(t *testing.T) {
	d := newDice(61)
	seen := map[string]int{}
	for k := range rounds(t, 400, 6000) {
		x := mix{
			loads: 1 + d.below(6), tasks: d.below(3) * d.below(5), booths: 1 + d.below(2), slots: 14 + d.below(30), long: 1 + d.below(5),
			frozen: d.below(2) == 0, windows: true, tightCalendar: d.below(2) == 0,
		}
		p := randomProblem(d, x)
		got := solved(t, p, Options{Seed: uint64(k), Rounds: 10, More: tries(3_000)})
		s := sayer{p: &p, got: &got, seen: seen}
		for i := range got.Loads {
			if err := s.load(i); err != nil {
				t.Fatalf("problem %d, %s: %q: %v\n%s\n%s", k, got.Loads[i].ID, got.Loads[i].Why, err, show(p), show(got))
			}
		}
		for i := range got.Tasks {
			if err := s.task(i); err != nil {
				t.Fatalf("problem %d, %s: %q: %v\n%s\n%s", k, got.Tasks[i].ID, got.Tasks[i].IfLater, err, show(p), show(got))
			}
		}
	}
	for _, kind := range []string{
		"behind", "free", "release", "task", "could", "break", "opens", "sooner", "slack", "late", "frozen", "closed lag", "closed window",
		"own load", "own window", "own frozen", "stops work", "after", "crew",
	} {
		if seen[kind] == 0 && !testing.Short() {
			t.Errorf("no sentence of the kind %q was seen", kind)
		}
	}
}

// sayer checks the sentences of one plan.
type sayer struct {
	p    *Problem
	got  *Plan
	seen map[string]int
}

// find gives what a sentence says, nil if it is not of that form.
func find(form, text string) []string { return regexp.MustCompile(form).FindStringSubmatch(text) }

func (s sayer) when(text string) time.Time {
	for _, layout := range []string{"2 Jan 15:04", "15:04"} {
		if at, err := time.Parse(layout, text); err == nil {
			day := monday
			if layout != "15:04" {
				day = at
			}
			return time.Date(monday.Year(), monday.Month(), day.Day(), at.Hour(), at.Minute(), 0, 0, time.UTC)
		}
	}
	return time.Time{}
}

func (s sayer) planned(id string) *PlannedLoad {
	for i := range s.got.Loads {
		if s.got.Loads[i].ID == id {
			return &s.got.Loads[i]
		}
	}
	return nil
}

func (s sayer) taskAt(id string) (*PlannedTask, *Task) {
	for i := range s.got.Tasks {
		if t := &s.got.Tasks[i]; t.ID == id {
			return t, &s.p.Tasks[t.Index]
		}
	}
	return nil, nil
}

// shifted asks the evaluator about the plan with one load elsewhere, of which
// it is told the truth about lateness and windows.
func (s sayer) shifted(i int, by time.Duration) error {
	q := *s.got
	q.Loads = append([]PlannedLoad(nil), s.got.Loads...)
	x := &q.Loads[i]
	x.Start, x.End, x.SetupStart = x.Start.Add(by), x.End.Add(by), x.SetupStart.Add(by)
	return judge(s.p, &q)
}

func (s sayer) load(i int) error {
	l := &s.got.Loads[i]
	q := &s.p.Loads[l.Index]
	if !l.Placed() {
		return nil // by hand, and in TestNoPlaceIsTrue
	}
	parts := strings.Split(l.Why, "; ")
	if q.Frozen == nil {
		if err := s.then(l, q, parts[0]); err != nil {
			return err
		}
	} else if err := s.stands(l, parts[0]); err != nil {
		return err
	}
	for _, part := range parts[1:] {
		if err := s.stake(i, part); err != nil {
			return fmt.Errorf("%q: %w", part, err)
		}
	}
	return nil
}

// then checks what a load waits for.
func (s sayer) then(l *PlannedLoad, q *Load, text string) error {
	first, rest, _ := strings.Cut(text, ", does not fit before ")
	bound := time.Time{}
	switch {
	case find(`^waits for its release at (.*?)(, |$)`, first) != nil:
		s.seen["release"]++
		bound = s.when(find(`^waits for its release at (.*?)(, |$)`, first)[1])
		if !bound.Equal(q.Release) {
			return fmt.Errorf("its release is %s", q.Release)
		}
	case find(`^waits for task (\w+) until (.*?)(, |$)`, first) != nil:
		s.seen["task"]++
		m := find(`^waits for task (\w+) until (.*?)(, |$)`, first)
		at, task := s.taskAt(m[1])
		if bound = s.when(m[2]); task.Load != l.ID || !bound.Equal(at.End.Add(task.MinLag)) {
			return fmt.Errorf("task %s is over at %s", m[1], at.End)
		}
	case find(`^could start from (.*?) \(task (\w+)\), `, text) != nil:
		s.seen["could"]++
		m := find(`^could start from (.*?) \(task (\w+)\), `, text)
		at, task := s.taskAt(m[2])
		bound = s.when(m[1])
		if task.Load != l.ID || !bound.Before(at.End.Add(task.MinLag)) || bound.Before(task.Release.Add(task.Length+task.MinLag)) || bound.After(l.Start) {
			return fmt.Errorf("task %s, released at %s, is over at %s", m[2], task.Release, at.End)
		}
		if rest == "" {
			return s.opens(l, first)
		}
	case strings.HasPrefix(first, "behind "):
		s.seen["behind"]++
		b := s.planned(find(`^behind (\w+)`, first)[1])
		if bound = b.End.Add(s.p.Setups[s.p.Loads[b.Index].Colour][q.Colour]); b.Booth != l.Booth || bound.Before(s.p.Start) {
			return fmt.Errorf("%s is in %s until %s", b.ID, b.Booth, b.End)
		}
	case find(`^B\d is free`, first) != nil:
		s.seen["free"]++
		colour := ""
		for _, b := range s.p.Booths {
			if b.ID == l.Booth {
				colour = b.Colour
			}
		}
		bound = s.p.Start.Add(s.p.Setups[colour][q.Colour])
		for _, o := range s.got.Loads { // what began before the start may still be in
			if o.Booth == l.Booth && o.Start.Before(l.Start) && o.End.After(s.p.Start) {
				return fmt.Errorf("%s stands before it", o.ID)
			}
		}
	case strings.HasPrefix(first, "starts when "):
		s.seen["opens"]++
		return s.opens(l, first)
	default:
		return fmt.Errorf("not a form that is known")
	}
	switch {
	case strings.Contains(first, ", starts when "):
		if l.Start.Before(bound) {
			return fmt.Errorf("it starts before %s", bound)
		}
		return s.opens(l, first)
	case find(`, put at (.*) though nothing keeps it from starting at (.*)$`, first) != nil:
		s.seen["sooner"]++
		m := find(`, put at (.*) though nothing keeps it from starting at (.*)$`, first)
		if !s.when(m[1]).Equal(l.Start) || s.when(m[2]).Before(bound) || !s.when(m[2]).Before(l.Start) {
			return fmt.Errorf("it starts at %s", l.Start)
		}
		return s.couldStand(l, s.when(m[2]))
	case rest != "":
		if l.Start.Before(bound) {
			return fmt.Errorf("it starts before %s", bound)
		}
		return s.doesNotFit(l, q, bound, rest)
	case !l.Start.Equal(bound):
		return fmt.Errorf("it starts at %s, not at %s", l.Start, bound)
	}
	return nil
}

// opens checks that a load starts when its booth opens.
func (s sayer) opens(l *PlannedLoad, text string) error {
	m := find(`starts when (\w+) opens at (.*)$`, text)
	if m == nil || m[1] != l.Booth && m[1] != "it" || !s.when(m[2]).Equal(l.Start) {
		return fmt.Errorf("it starts at %s in %s", l.Start, l.Booth)
	}
	for _, b := range s.p.Booths {
		for _, o := range b.Open {
			if b.ID == l.Booth && o.From.Equal(l.Start) {
				return nil
			}
		}
	}
	return fmt.Errorf("%s does not open then", l.Booth)
}

// doesNotFit checks that from a bound on there is no room before what is
// named: the booth's closing, or a load.
func (s sayer) doesNotFit(l *PlannedLoad, q *Load, bound time.Time, rest string) error {
	if m := find(`^(\w+) closes at (.*?), starts when (\w+) opens at (.*)$`, rest); m != nil {
		s.seen["break"]++
		for _, b := range s.p.Booths {
			for _, o := range b.Open {
				from := bound
				if o.From.After(from) {
					from = o.From
				}
				if b.ID == l.Booth && !o.To.After(s.when(m[2])) && !from.Add(q.Process).After(o.To) {
					return fmt.Errorf("from %s on it fits before %s", bound, m[2])
				}
			}
		}
		return s.opens(l, rest)
	}
	return fmt.Errorf("not a form that is known")
}

// couldStand asks the evaluator whether a load could start at another moment
// with all else in place.
func (s sayer) couldStand(l *PlannedLoad, at time.Time) error {
	loads, stands, starts := map[string]*Load{}, map[string]PlannedLoad{}, map[string]time.Time{}
	for i := range s.p.Loads {
		loads[s.p.Loads[i].ID] = &s.p.Loads[i]
	}
	for _, o := range s.got.Loads {
		stands[o.ID] = o
	}
	for _, o := range s.got.Tasks {
		starts[o.ID] = o.Start
	}
	by := at.Sub(l.Start)
	x := *l
	x.Start, x.End, x.SetupStart = x.Start.Add(by), x.End.Add(by), x.SetupStart.Add(by)
	stands[l.ID] = x
	if err := judgeBooths(s.p, loads, stands); err != nil {
		return err
	}
	late, err := judgeTasks(s.p, stands, starts)
	if err == nil && late[l.ID] && !l.Missed {
		return fmt.Errorf("its lags are not kept at %s", at)
	}
	return err
}
