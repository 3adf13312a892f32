package feed

import (
	"cmp"
	"slices"
	"strings"
	"time"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

func (v *view) bay(terminal string, ro floor.RO, seam string) (screens.Bay, error) {
	b := screens.Bay{Picture: v.pic, Terminal: terminal, Zone: v.bayName(terminal), People: v.s.people(), Nozzle: v.nozzle(terminal)}
	if ro == "" {
		b.Cars = v.cars(terminal)
		return b, nil
	}
	j := v.f.Job(ro)
	if j == nil {
		return b, fault.Missing("job", string(ro), "pick a car from the list")
	}
	b.Job = v.bayJob(j, seam == "")
	if seam == "" {
		return b, nil
	}
	s := v.f.Seam(seamID(ro, seam))
	if s == nil {
		return b, fault.Missing("seam", seam, "pick it from the car's list")
	}
	b.Seam = v.baySeam(s, terminal)
	return b, nil
}

// seamID is a seam's identifier from its address: the part behind the job.
func seamID(ro floor.RO, seam string) floor.SeamID { return floor.SeamID(string(ro) + "/" + seam) }

func shortID(id floor.SeamID) string {
	_, s, _ := strings.Cut(string(id), "/")
	return s
}

func (v *view) bayName(terminal string) string {
	if z := v.terminalZone(terminal); z != "" {
		return upper(placeName(string(z)))
	}
	return upper(placeName(terminal))
}

// task is a seam with its next step, for lists.
type task struct {
	seam *floor.Seam
	step step
	by   time.Time // zero: no hurry
	hold string
}

// urgency ranks steps for whoever has hands free: what runs away first, then
// what is to be done, then what waits, then what is over.
var urgency = map[step]int{
	stepTool: 0, stepDeair: 0,
	stepBead: 1, stepBed: 1, stepPrep: 1, stepPlan: 1, stepDecide: 1, stepScuff: 1, stepRedo: 1,
	stepWax: 2, stepTest: 2, stepInspect: 2, stepUnknown: 2, stepHeld: 2,
	stepFlow: 3, stepWait: 3, stepPaint: 3, stepBake: 3, stepSet: 3, stepCure: 3, stepDone: 4,
}

// tasks lists the seams of a job, the most urgent first.
func (v *view) tasks(ro floor.RO) []task {
	var out []task
	for _, s := range v.seamsOf(ro) {
		t := task{seam: s, step: v.step(s, ""), hold: v.hold(s)}
		t.by, _ = v.deadline(s, t.step)
		out = append(out, t)
	}
	slices.SortStableFunc(out, func(a, b task) int {
		return cmp.Or(cmp.Compare(urgency[a.step], urgency[b.step]), laterZero(a.by, b.by))
	})
	return out
}

// laterZero orders moments with those that are not known behind.
func laterZero(a, b time.Time) int {
	switch {
	case a.IsZero() && b.IsZero():
		return 0
	case a.IsZero():
		return 1
	case b.IsZero():
		return -1
	}
	return a.Compare(b)
}

// deadline is by when a step is to be done, and what for.
func (v *view) deadline(s *floor.Seam, st step) (by time.Time, forWhat string) {
	switch st {
	case stepTool:
		if c, ok := v.clock(s.ID, floorv1.Clock_CLOCK_TOOLING); ok {
			return c.DueHot, "while it can be worked"
		}
	case stepDeair:
		if c, ok := v.clock(s.ID, floorv1.Clock_CLOCK_FLOW_OUT); ok {
			return c.DueHot, "while it flows"
		}
	case stepFlow, stepWait, stepPaint, stepHeld, stepUnknown, stepBake, stepSet, stepCure, stepDone:
		return time.Time{}, ""
	case stepScuff:
		if p, ok := v.place(s); ok {
			if w := v.due(s.ID); w.GetDoneBy() != nil {
				return w.GetDoneBy().AsTime(), v.forLoad(p)
			}
			return p.from, v.forLoad(p)
		}
	}
	if at, p, ok := v.layBy(s); ok {
		return at, v.forLoad(p)
	}
	return time.Time{}, ""
}

// cars lists the cars on the floor, those in this terminal's zone first.
func (v *view) cars(terminal string) []screens.BayCar {
	zone := v.terminalZone(terminal)
	var out []screens.BayCar
	for _, ro := range v.openJobs() {
		j := v.f.Job(ro)
		c := screens.BayCar{RO: string(ro), Vehicle: upper(j.Vehicle), Promised: j.Promised, Here: zone != "" && v.zoneOf(ro) == zone}
		for _, t := range v.tasks(ro) {
			if t.step != stepDone {
				c.Open++
			}
			if t.hold != "" {
				c.Holds++
			}
			if c.Next == "" && urgency[t.step] < 3 && t.step != stepHeld {
				c.Next, c.By = v.toDo(t), t.by
			}
		}
		out = append(out, c)
	}
	slices.SortStableFunc(out, func(a, b screens.BayCar) int {
		if a.Here == b.Here {
			return 0
		}
		if a.Here {
			return -1
		}
		return 1
	})
	return out
}

// zoneOf is where a car is; empty when nobody knows.
func (v *view) zoneOf(ro floor.RO) floor.ZoneID { return v.f.Zone(&floor.Seam{Job: ro}) }

// toDo is a step with the seam that it is on.
func (v *view) toDo(t task) string {
	place := lower(t.seam.Name())
	switch t.step {
	case stepPlan, stepDecide:
		return stepTitles[t.step].next + " for " + place
	case stepBead, stepBed:
		return "lay " + place
	}
	return stepTitles[t.step].next + ": " + place
}

func (v *view) bayJob(j *floor.Job, withSeams bool) *screens.BayJob {
	out := &screens.BayJob{RO: string(j.RO), Vehicle: j.Vehicle, Colour: j.PaintColour, Promised: j.Promised}
	if !withSeams {
		return out
	}
	for _, t := range v.tasks(j.RO) {
		row := v.seamRow(t.seam)
		out.Seams = append(out.Seams, screens.BayLine{
			ID: shortID(t.seam.ID), Place: t.seam.Name(), Stage: string(t.seam.Stage), Mark: row.Mark, Next: v.lineNext(t), By: t.by, Hold: t.hold,
		})
	}
	return out
}

// lineNext is a seam's next step in the list of its car, with what it waits
// for.
func (v *view) lineNext(t task) string {
	s := t.seam
	switch t.step {
	case stepDone:
		return v.finishedNote(s)
	case stepFlow, stepWait:
		if c, ok := v.clock(s.ID, floorv1.Clock_CLOCK_COAT_OPENS); ok {
			return "wait: " + v.openingWords(s, c)
		}
	case stepPaint:
		if c, ok := v.clock(s.ID, floorv1.Clock_CLOCK_COAT_CLOSES); ok && !c.DueHot.IsZero() {
			return "ready for paint until " + v.at(c.DueHot)
		}
	case stepSet, stepCure:
		if c, ok := v.clock(s.ID, waits[t.step]); ok && c.Reached != cure.Yes && !c.DueCold.IsZero() {
			return stepTitles[t.step].next + ": " + v.by(c.DueCold)
		}
	case stepPlan, stepPrep, stepBead, stepBed:
		return strings.Trim(stepTitles[t.step].next+" · "+v.beadWords(s), " ·")
	}
	return stepTitles[t.step].next
}

// waits are the clocks that the waiting steps wait for.
var waits = map[step]floorv1.Clock{
	stepFlow: floorv1.Clock_CLOCK_FLOW_OUT, stepDeair: floorv1.Clock_CLOCK_FLOW_OUT, stepWait: floorv1.Clock_CLOCK_COAT_OPENS,
	stepSet: floorv1.Clock_CLOCK_HANDLING, stepCure: floorv1.Clock_CLOCK_FULL_CURE, stepTool: floorv1.Clock_CLOCK_TOOLING,
}

// clockNames are what the screen calls them.
var clockNames = map[floorv1.Clock]string{
	floorv1.Clock_CLOCK_FLOW_OUT: "flow-out", floorv1.Clock_CLOCK_COAT_OPENS: "coat time", floorv1.Clock_CLOCK_HANDLING: "handling time",
	floorv1.Clock_CLOCK_FULL_CURE: "full cure", floorv1.Clock_CLOCK_TOOLING: "tooling time",
}
