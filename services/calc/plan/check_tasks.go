package plan

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"seamwright/services/fault"
)

func (p *Problem) checkTasks() error {
	crews, err := p.checkCrews()
	if err != nil {
		return err
	}
	known := map[string]bool{}
	for _, c := range crews {
		known[c] = true
	}
	loads := map[string]bool{}
	var names []string
	for i := range p.Loads {
		loads[p.Loads[i].ID] = true
		names = append(names, p.Loads[i].ID)
	}
	if len(p.Tasks) > MaxTasks {
		return fault.Bad("tasks", len(p.Tasks), fmt.Sprintf("at most %d tasks", MaxTasks))
	}
	tasks := map[string]int{}
	for i := range p.Tasks {
		t := &p.Tasks[i]
		f := fmt.Sprintf("tasks[%d]", i)
		if err := named(tasks, "tasks", i, t.ID); err != nil {
			return err
		}
		switch {
		case !loads[t.Load]:
			return fault.Bad(f+".load", quote(t.Load), oneOf("loads", names)+", for task "+quote(t.ID))
		case !known[t.Crew]:
			return fault.Bad(f+".crew", quote(t.Crew), oneOf("crews", crews)+", for task "+quote(t.ID))
		case !t.Release.IsZero() && outside(t.Release):
			return fault.Bad(f+".release", t.Release.Format(time.RFC3339), momentLimit)
		}
		if err := t.checkLengths(f); err != nil {
			return err
		}
	}
	if err := p.checkAfter(tasks); err != nil {
		return err
	}
	return p.checkCircle(tasks)
}

// checkCrews gives the crews' names.
func (p *Problem) checkCrews() ([]string, error) {
	var names []string
	seen := map[string]int{}
	for i, c := range p.Crews {
		if err := named(seen, "crews", i, c.ID); err != nil {
			return nil, err
		}
		if c.People < 1 || c.People > MaxPeople {
			return nil, fault.Bad("crews."+c.ID+".people", c.People, "a whole number from 1 to 1000")
		}
		if err := calendar("crews."+c.ID+".open", c.Open); err != nil {
			return nil, err
		}
		names = append(names, c.ID)
	}
	return names, nil
}

func (p *Problem) checkAfter(tasks map[string]int) error {
	var names []string
	for i := range p.Tasks {
		names = append(names, p.Tasks[i].ID)
	}
	for i := range p.Tasks {
		t := &p.Tasks[i]
		for k, a := range t.After {
			if _, ok := tasks[a]; !ok {
				return fault.Bad(fmt.Sprintf("tasks[%d].after", i), quote(a), oneOf("tasks", names)+", for task "+quote(t.ID))
			}
			if slices.Contains(t.After[:k], a) {
				return fault.Bad(fmt.Sprintf("tasks[%d].after", i), quote(a), "each task once, for task "+quote(t.ID))
			}
		}
	}
	return nil
}

func (t *Task) checkLengths(f string) error {
	if err := length(f+".minutes", t.Length, false); err != nil {
		return err
	}
	if err := length(f+".min_lag_min", t.MinLag, true); err != nil {
		return err
	}
	if !t.HasMax {
		return nil
	}
	return length(f+".max_lag_min", t.MaxLag, true)
}

// checkCircle walks the tasks along "after" and names the first circle. It
// keeps its own stack: a chain may be as long as the list of tasks.
func (p *Problem) checkCircle(tasks map[string]int) error {
	const (
		unseen = iota
		open
		done
	)
	mark := make([]uint8, len(p.Tasks))
	next := make([]int, len(p.Tasks)) // which predecessor comes next
	for root := range p.Tasks {
		if mark[root] != unseen {
			continue
		}
		path := []int{root}
		mark[root] = open
		for len(path) > 0 {
			i := path[len(path)-1]
			if next[i] == len(p.Tasks[i].After) {
				mark[i] = done
				path = path[:len(path)-1]
				continue
			}
			k := tasks[p.Tasks[i].After[next[i]]]
			next[i]++
			switch mark[k] {
			case unseen:
				mark[k] = open
				path = append(path, k)
			case open:
				return fault.Bad(fmt.Sprintf("tasks[%d].after", i), p.circle(path, k), "tasks that do not wait for each other in a circle; take one of them out of after")
			}
		}
	}
	return nil
}

// circle names the tasks from k to the end of the path and k again, in the
// order in which they would be done.
func (p *Problem) circle(path []int, k int) string {
	ring := path[slices.Index(path, k):]
	names := []string{p.Tasks[k].ID}
	for x := len(ring) - 1; x >= 0; x-- {
		names = append(names, p.Tasks[ring[x]].ID)
	}
	if len(names) > 12 {
		names = append(append(names[:6:6], "..."), names[len(names)-5:]...)
	}
	return strings.Join(names, " before ")
}
