package intake

import (
	"io"
	"strconv"

	"seamwright/services/calc/plan"
)

// ReadPlanAnswer reads a plan (JSON) that was told before. Of what stands in
// it the places of the loads count; the rest is told again in a new answer.
func ReadPlanAnswer(name string, r io.Reader) (plan.Plan, error) {
	s := &sheet{name: name}
	var p plan.Plan
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
	o := s.object(root, "", "objective", "lower_bound", "optimal", "loads", "tasks", "changes", "kept")
	if o == nil {
		return p, s.err()
	}
	seen := map[string]bool{}
	for i, n := range o.list("loads", true) {
		o := s.object(n, "loads["+strconv.Itoa(i)+"]", "id", "booth", "setup_start", "start", "end", "late_min", "missed", "why", "slack_min")
		if o == nil {
			continue
		}
		l := plan.PlannedLoad{ID: o.text("id", true), Index: i}
		if seen[l.ID] {
			s.bad(n.line, o.path+"id", l.ID, "an identifier of its own")
		}
		seen[l.ID] = true
		if b := o.get("booth", "a booth or null", true); b != nil && b.kind != jsonNull {
			l.Booth, l.Start = o.text("booth", true), o.moment("start", true)
		}
		p.Loads = append(p.Loads, l)
	}
	if err := s.err(); err != nil {
		return plan.Plan{}, err
	}
	return p, nil
}
