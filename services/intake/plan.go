package intake

import (
	"errors"
	"io"
	"strconv"
	"time"

	"seamwright/services/calc/plan"
	"seamwright/services/fault"
)

var (
	costSpan   = span{lo: 0, hi: plan.MaxCost}
	peopleSpan = span{lo: 1, hi: plan.MaxPeople, whole: true}
)

// ReadPlan reads a plan problem (JSON) and checks it.
func ReadPlan(name string, r io.Reader) (plan.Problem, error) {
	s := &sheet{name: name}
	var p plan.Problem
	data, err := s.slurp(r, MaxBytes)
	if err != nil {
		return p, err
	}
	if data == nil {
		return p, s.err()
	}
	root := s.json(data)
	if root == nil {
		return p, s.err()
	}
	o := s.object(root, "", "start", "booths", "setup_min", "loads", "crews", "tasks")
	if o == nil {
		return p, s.err()
	}
	p.Start = o.moment("start", true)
	for i, n := range o.list("booths", true) {
		p.Booths = append(p.Booths, readPlanBooth(s, n, "booths["+strconv.Itoa(i)+"]"))
	}
	p.Setups = readPlanSetups(o)
	for i, n := range o.list("loads", true) {
		if i == plan.MaxLoads {
			s.bad(n.line, "loads", "more than 10000", "at most 10000 loads")
			break
		}
		p.Loads = append(p.Loads, readPlanLoad(s, n, "loads["+strconv.Itoa(i)+"]"))
	}
	p.Crews = readPlanCrews(o)
	for i, n := range o.list("tasks", false) {
		p.Tasks = append(p.Tasks, readPlanTask(s, n, "tasks["+strconv.Itoa(i)+"]"))
	}
	if err := s.err(); err != nil {
		return plan.Problem{}, err
	}
	if err := p.Check(); err != nil {
		return plan.Problem{}, atLine(name, root, err)
	}
	return p, nil
}

// atLine puts the file's name and, when the field names an item of a list,
// that item's line before an error about how values go together.
func atLine(name string, root *jsonNode, err error) error {
	e, ok := errors.AsType[*fault.Error](err)
	if !ok || len(e.Fields) != 1 {
		return err
	}
	f := e.Fields[0]
	s := &sheet{name: name}
	s.bad(lineOf(root, f.Path), f.Path, f.Value, f.Limit)
	return s.err()
}

// lineOf follows a field's name, like loads[3].frozen.start, as far as the
// tree goes and gives the line that it ends on.
func lineOf(n *jsonNode, path string) int {
	for path != "" {
		var next *jsonNode
		i := 0
		if path[0] == '[' {
			for i = 1; i < len(path) && path[i] != ']'; i++ {
			}
			if k, err := strconv.Atoi(path[1:min(i, len(path))]); err == nil && k < len(n.items) {
				next = n.items[k]
			}
			i = min(i+1, len(path))
		} else {
			for i = 0; i < len(path) && path[i] != '.' && path[i] != '['; i++ {
			}
			next = n.keys[path[:i]]
		}
		if next == nil {
			break
		}
		n = next
		if path = path[i:]; path != "" && path[0] == '.' {
			path = path[1:]
		}
	}
	return n.line
}

func readPlanBooth(s *sheet, n *jsonNode, path string) plan.Booth {
	o := s.object(n, path, "id", "colour", "open")
	if o == nil {
		return plan.Booth{}
	}
	return plan.Booth{ID: o.text("id", true), Colour: o.text("colour", true), Open: o.intervals("open", true)}
}

// intervals reads a list of [from, to].
func (o *object) intervals(key string, need bool) []plan.Interval {
	var out []plan.Interval
	for i, n := range o.list(key, need) {
		path := o.path + key + "[" + strconv.Itoa(i) + "]"
		if n.kind != jsonList || len(n.items) != 2 {
			o.s.bad(n.line, path, n.shown(), `a pair of times in square brackets, ["2026-03-02T07:30:00Z", "2026-03-02T17:00:00Z"]`)
			continue
		}
		out = append(out, plan.Interval{From: o.s.momentOf(n.items[0], path), To: o.s.momentOf(n.items[1], path)})
	}
	return out
}

func readPlanSetups(o *object) map[string]map[string]time.Duration {
	out := map[string]map[string]time.Duration{}
	n := o.get("setup_min", "minutes by colour and colour", true)
	if n == nil {
		return out
	}
	rows := o.s.object(n, "setup_min")
	if rows == nil {
		return out
	}
	for _, from := range n.names {
		row := o.s.object(n.keys[from], "setup_min."+show(from))
		if row == nil {
			continue
		}
		out[from] = map[string]time.Duration{}
		for _, to := range row.n.names {
			out[from][to] = row.minutes(to, minutes, true)
		}
	}
	return out
}

func readPlanLoad(s *sheet, n *jsonNode, path string) plan.Load {
	o := s.object(n, path, "id", "booths", "colour", "process_min", "release", "latest_start", "due", "weight", "tail_min", "miss_cost", "frozen")
	if o == nil {
		return plan.Load{}
	}
	l := plan.Load{
		ID: o.text("id", true), Booths: o.texts("booths", true), Colour: o.text("colour", true),
		Process: o.minutes("process_min", minutesPos, true),
		Release: o.moment("release", false), LatestStart: o.moment("latest_start", false), Due: o.moment("due", false),
		Weight: o.number("weight", costSpan, false, 1), Tail: o.minutes("tail_min", minutes, false),
		MissCost: o.number("miss_cost", costSpan, false, 0),
	}
	if f := o.n.keys["frozen"]; f != nil {
		if o := s.object(f, path+".frozen", "booth", "start"); o != nil {
			l.Frozen = &plan.Frozen{Booth: o.text("booth", true), Start: o.moment("start", true)}
		}
	}
	return l
}

func readPlanCrews(o *object) []plan.Crew {
	n := o.n.keys["crews"]
	if n == nil {
		return nil
	}
	if o.s.object(n, "crews") == nil {
		return nil
	}
	var out []plan.Crew
	for _, id := range n.names {
		path := "crews." + show(id)
		if id == "" || !line(id, 60) {
			o.s.bad(n.keys[id].line, path, show(id), "a name of 1 to 60 characters")
		}
		c := o.s.object(n.keys[id], path, "people", "open")
		if c == nil {
			continue
		}
		out = append(out, plan.Crew{
			ID: id, People: int(c.number("people", peopleSpan, true, 0)),
			RoundTheClock: c.n.keys["open"] == nil, Open: c.intervals("open", false),
		})
	}
	return out
}

func readPlanTask(s *sheet, n *jsonNode, path string) plan.Task {
	o := s.object(n, path, "id", "load", "crew", "minutes", "min_lag_min", "max_lag_min", "after", "release")
	if o == nil {
		return plan.Task{}
	}
	return plan.Task{
		ID: o.text("id", true), Load: o.text("load", true), Crew: o.text("crew", true),
		Length: o.minutes("minutes", minutesPos, true), MinLag: o.minutes("min_lag_min", minutes, false),
		MaxLag: o.minutes("max_lag_min", minutes, false), HasMax: o.n.keys["max_lag_min"] != nil,
		After: o.texts("after", false), Release: o.moment("release", false),
	}
}
