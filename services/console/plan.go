package console

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"seamwright/services/calc/plan"
	"seamwright/services/fault"
	"seamwright/services/intake"
)

// Plan asks which load is sprayed when, in which booth, and when the work
// before it is done.
type Plan struct {
	File   string
	Budget string // how long the search may take
	Seed   string
	From   string // an earlier answer, in JSON
	Keep   string // gain in % of the earlier plan's cost from which loads are moved; empty: 1
	SVG    bool
}

type planAnswer struct {
	Objective  float64      `json:"objective"`
	LowerBound float64      `json:"lower_bound"`
	Optimal    bool         `json:"optimal"`
	Loads      []planLoad   `json:"loads"`
	Tasks      []planTask   `json:"tasks"`
	Changes    []planChange `json:"changes"`
	Kept       *planKept    `json:"kept"` // a better plan that was not taken; null: none

	problem *plan.Problem
	plan    *plan.Plan
}

// planKept is what another plan would gain, and what it would have had to.
type planKept struct {
	Gain  float64 `json:"gain"`
	Asked float64 `json:"asked"`
}

type planLoad struct {
	ID         string   `json:"id"`
	Booth      *string  `json:"booth"` // null, as the times: no place
	SetupStart *string  `json:"setup_start"`
	Start      *string  `json:"start"`
	End        *string  `json:"end"`
	LateMin    float64  `json:"late_min"`
	Missed     bool     `json:"missed"`
	Why        string   `json:"why"`
	SlackMin   *float64 `json:"slack_min"`
}

type planTask struct {
	ID          string   `json:"id"`
	Start       *string  `json:"start"`
	End         *string  `json:"end"`
	LatestStart *string  `json:"latest_start"`
	SlackMin    *float64 `json:"slack_min"` // null: it is not done
}

type planChange struct {
	ID       string  `json:"id"`
	Booth    *string `json:"booth"`
	Start    *string `json:"start"`
	OldBooth *string `json:"old_booth"`
	OldStart *string `json:"old_start"`
	What     string  `json:"what"`
}

// Run answers. When a load has no place the answer is given all the same and
// the fault is Refused with the reason "no-place".
func (q Plan) Run(o Out) error {
	begun := time.Now()
	if q.SVG && o.JSON {
		return fault.Bad("--svg", "beside --json", "one of them: a drawing, or figures")
	}
	options, budget, err := q.options()
	if err != nil {
		return err
	}
	p, err := readFile("FILE", q.File, intake.ReadPlan)
	if err != nil {
		return err
	}
	if err := p.CheckLags(); err != nil {
		return inFile(q.File, err)
	}
	if q.From != "" {
		old, err := readFile("--from", q.From, intake.ReadPlanAnswer)
		if err != nil {
			return notAnAnswer(err)
		}
		options.From = &old
	}
	end := begun.Add(budget)
	options.More = func() bool { return time.Now().Before(end) }
	got, err := plan.Solve(p, options)
	if err != nil {
		return err
	}
	a := planTold(&p, &got)
	switch {
	case q.SVG:
		err = o.lines(planDrawing(&p, &got)...)
	default:
		err = o.put(a)
	}
	if err != nil {
		return err
	}
	return noPlace(&got)
}

// notAnAnswer shortens a fault about a file in which much is wrong, as in one
// that is no earlier answer at all.
func notAnAnswer(err error) error {
	const most = 3
	e, ok := errors.AsType[*fault.Error](err)
	if !ok || len(e.Fields) <= most {
		return err
	}
	f := e.Fields[0]
	return fault.Bad(f.Path, f.Value, fmt.Sprintf("%s; and %d more mistakes: give an answer of seamwright plan FILE --json", f.Limit, len(e.Fields)-1))
}

// inFile names the file that a fault about a field is in.
func inFile(name string, err error) error {
	e, ok := errors.AsType[*fault.Error](err)
	if !ok || len(e.Fields) != 1 {
		return err
	}
	f := e.Fields[0]
	return fault.Bad(name+" "+f.Path, f.Value, f.Limit)
}

// noPlace is the fault that says which loads have no place.
func noPlace(got *plan.Plan) error {
	var none []string
	for _, l := range got.Loads {
		if !l.Placed() {
			none = append(none, l.ID)
		}
	}
	if len(none) == 0 {
		return nil
	}
	n := len(none)
	if n > 10 {
		none = append(none[:10], "...")
	}
	return fault.New(fault.Refused, reasonNoPlace, fmt.Sprintf("loads without a place: %d: %s", n, strings.Join(none, ", ")), "its why says what each lacks")
}

const reasonNoPlace = "no-place"

func (q Plan) options() (plan.Options, time.Duration, error) {
	o := plan.Options{}
	budget, err := time.ParseDuration(q.Budget)
	if err != nil || budget < 0 || budget > time.Hour {
		return o, 0, fault.Bad("--budget", show(q.Budget), "a time like 1s or 500ms, at most 1h")
	}
	if o.Seed, err = strconv.ParseUint(q.Seed, 10, 64); err != nil {
		return o, 0, fault.Bad("--seed", show(q.Seed), "a whole number from 0")
	}
	if q.Keep == "" {
		o.Keep = 0.01
		return o, budget, nil
	}
	keep, err := number("--keep", q.Keep, "a number from 0 to 100 %")
	if err != nil {
		return o, 0, err
	}
	if keep < 0 || keep > 100 {
		return o, 0, fault.Bad("--keep", show(q.Keep), "a number from 0 to 100 %")
	}
	if q.From == "" {
		return o, 0, fault.Bad("--keep", show(q.Keep)+" without --from", "beside an earlier plan that may be kept; give it with --from PLAN.json, or leave --keep out")
	}
	o.Keep = keep / 100
	return o, budget, nil
}

func planTold(p *plan.Problem, got *plan.Plan) planAnswer {
	a := planAnswer{
		Objective: got.Objective, LowerBound: got.LowerBound, Optimal: got.Optimal,
		Loads: []planLoad{}, Tasks: []planTask{}, Changes: []planChange{}, problem: p, plan: got,
	}
	if k := got.Kept; k != nil {
		a.Kept = &planKept{k.Gain, k.Asked}
	}
	for _, l := range got.Loads {
		a.Loads = append(a.Loads, planLoad{
			l.ID, name(l.Booth), stamp(l.SetupStart), stamp(l.Start), stamp(l.End), l.LateMin, l.Missed, l.Why, l.SlackMin,
		})
	}
	for _, t := range got.Tasks {
		a.Tasks = append(a.Tasks, planTask{t.ID, stamp(t.Start), stamp(t.End), stamp(t.LatestStart), taskSlack(t)})
	}
	for _, c := range got.Changes {
		a.Changes = append(a.Changes, planChange{c.ID, name(c.Booth), stamp(c.Start), name(c.OldBooth), stamp(c.OldStart), c.What})
	}
	return a
}

// taskSlack is by how many minutes a task could begin later; nil: it is not
// done.
func taskSlack(t plan.PlannedTask) *float64 {
	if t.Start.IsZero() {
		return nil
	}
	x := t.LatestStart.Sub(t.Start).Minutes()
	return &x
}

// name is a name or null.
func name(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}
