package plan

import (
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"
)

// stands checks what is odd about a frozen load.
func (s sayer) stands(l *PlannedLoad, text string) error {
	s.seen["frozen"]++
	if m := find(` (\S.*?) short of the setup (from|in the colour run) (\w+)`, text); m != nil {
		s.seen["short"]++
		m[1] = m[1][strings.LastIndex(m[1], ",")+1:]
		by, err := lengthOf(strings.TrimSpace(m[1]))
		free := s.p.Start
		for _, o := range s.got.Loads {
			if o.Booth == l.Booth && o.Start.Before(l.Start) && o.End.After(free) {
				free = o.End
			}
		}
		if setup := s.p.Setups[m[3]][s.p.Loads[l.Index].Colour]; err != nil || !free.Add(setup).Equal(l.Start.Add(by)) {
			return fmt.Errorf("free at %s, %s of setup, starts at %s", free, setup, l.Start)
		}
	} else if l.Start.After(s.p.Start) && l.SetupStart.Before(s.p.Start) {
		return fmt.Errorf("its setup begins at %s", l.SetupStart)
	}
	return nil
}

// lengthOf is what Minutes showed.
func lengthOf(text string) (time.Duration, error) {
	if m := find(`^(\d+) d (\d+) h$`, text); m != nil {
		return time.ParseDuration(m[2] + "h")
	}
	return time.ParseDuration(strings.NewReplacer(" min", "m", " h", "h", " ", "").Replace(text))
}

// stake checks what hangs on a load's start.
func (s sayer) stake(i int, text string) error {
	l := &s.got.Loads[i]
	q := &s.p.Loads[l.Index]
	switch {
	case strings.HasPrefix(text, "missed: more than "):
		s.seen["closed lag"]++
		m := find(`^missed: more than (.*?) after task (\w+)`, text)
		most, err := lengthOf(m[1])
		if at, task := s.taskAt(m[2]); err != nil || task.MaxLag != most || !l.Start.After(at.End.Add(most)) {
			return fmt.Errorf("task %s is over at %s, %v", m[2], at.End, err)
		}
	case strings.HasPrefix(text, "missed: its window closed"):
		s.seen["closed window"]++
		if !s.when(find(`closed at (.*?)(, |$)`, text)[1]).Equal(q.LatestStart) || !l.Start.After(q.LatestStart) {
			return fmt.Errorf("its window closes at %s", q.LatestStart)
		}
	case strings.Contains(text, " late, due "):
		s.seen["late"]++
	case strings.Contains(text, "slack"):
		s.seen["slack"]++
		by := time.Duration(0)
		if m := find(`^(.*?) of slack`, text); m != nil {
			var err error
			if by, err = lengthOf(m[1]); err != nil {
				return err
			}
		}
		if x := *l.SlackMin; by != time.Duration(x*float64(time.Minute)) && by < 48*time.Hour {
			return fmt.Errorf("slack_min is %g", x)
		}
		by = time.Duration(*l.SlackMin * float64(time.Minute))
		if err := s.shifted(i, by); err != nil {
			return fmt.Errorf("later by its slack: %w", err)
		}
		if s.shifted(i, by+s.p.step()) == nil {
			return fmt.Errorf("a step later than its slack breaks nothing")
		}
	}
	return nil
}

// TestMinutesComeBack: what lengthOf reads is what Minutes showed.
func TestMinutesComeBack(t *testing.T) {
	for _, n := range []int{0, 1, 119, 120, 121, 180, 2879} {
		if got, err := lengthOf(Minutes(float64(n))); err != nil || got != time.Duration(n)*time.Minute {
			t.Errorf("%s: %s, %v", strconv.Itoa(n), got, err)
		}
	}
}
