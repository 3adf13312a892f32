package feed

import (
	"fmt"
	"slices"
	"strings"
	"time"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/calc/spec"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// baySeam is the next step of a seam for whoever stands at a terminal.
func (v *view) baySeam(s *floor.Seam, terminal string) *screens.BaySeam {
	x := v.situation(s, terminal)
	st := nextStep(x)
	b := &screens.BaySeam{
		ID: shortID(s.ID), Place: s.Name(), RO: string(s.Job), Steps: v.steps(x, st, s), Do: v.doWords(s, st), Why: v.why(s, st, terminal),
		Work: v.work(s), Clock: v.seamClock(s, st), Hold: v.hold(s), Cautions: v.cautions(s, st),
	}
	b.By, b.For = v.deadline(s, generic(st, v.step(s, "")))
	for _, f := range v.openFindings(s.ID) {
		if f.Severity == spec.Note {
			continue // it goes to the report and asks nothing of anybody here
		}
		b.Findings = append(b.Findings, string(f.Severity)+": "+v.inUTC(f.Reason))
	}
	for _, c := range v.doubted(s, terminal) {
		for _, f := range v.doubts(c) {
			b.Findings = append(b.Findings, string(f.Severity)+": "+v.inUTC(f.Reason))
		}
	}
	if st == stepDone {
		b.Done = v.doneWords(s)
	}
	b.Next = v.button(s, st, terminal)
	b.Else = v.others(s, st, terminal)
	b.Undo, b.UndoAt = v.undo(s, terminal)
	return b
}

// generic: the steps of the cartridge have the deadline of what they are for.
func generic(st, without step) step {
	if stepTitles[st].station == "purge" {
		return without
	}
	return st
}

// doWords is what to do, in the words of this seam's bead.
func (v *view) doWords(s *floor.Seam, st step) string {
	switch st {
	case stepTool:
		if s.Bead.Technique == spec.BrushedOn {
			return "brush the bead"
		}
		return "pull the tape"
	case stepOpen:
		return strings.TrimSpace("open a cartridge of " + productWords(v.productFor(s)))
	case stepFit:
		if n := v.beadOf(s).Nozzle; n != "" {
			return "fit a nozzle: " + n
		}
	case stepPaint:
		return ""
	}
	return stepTitles[st].next
}

func (v *view) why(s *floor.Seam, st step, terminal string) string {
	switch st {
	case stepDecide, stepPrep:
		if undecided := v.suggest(s).Undecided; s.Plan == nil && len(undecided) > 0 {
			for i := range undecided {
				undecided[i] = sentence(undecided[i])
			}
			return "Not settled. " + strings.Join(undecided, " ")
		}
	case stepOff:
		if c := v.cartridge(s, terminal); c != nil {
			if n := v.f.Nozzle(c.Nozzle); n != nil && otherTip(n.Kind, v.beadOf(s).Nozzle) {
				return fmt.Sprintf("A %s is on cartridge %s; this bead wants another: %s.", n.Kind, c.ID, v.beadOf(s).Nozzle)
			}
		}
	case stepPaint:
		if c, ok := v.clock(s.ID, floorv1.Clock_CLOCK_COAT_CLOSES); ok && !c.DueHot.IsZero() {
			return "It is ready for paint until " + v.at(c.DueHot) + ". " + stepTitles[st].why
		}
		return "It is ready for paint. " + stepTitles[st].why
	case stepBead:
		if s.NeedsBed() {
			return "Into the bed while it is wet."
		}
	}
	return stepTitles[st].why
}

// work is what to lay and with what.
func (v *view) work(s *floor.Seam) *screens.Work {
	b := v.beadOf(s)
	w := &screens.Work{
		Product: productWords(v.productFor(s)), Profile: profileWords(b.Profile, b.WidthMM), Reference: referenceWords(s.Reference),
		Nozzle: b.Nozzle, Technique: v.techniqueWords(s, b.Technique), Reason: v.whyTechnique(s, b.Technique),
	}
	if s.LengthMM > 0 {
		mm := s.LengthMM
		w.LengthMM = &mm
	}
	if ml := v.volume(s, b); ml > 0 {
		w.VolumeML = &ml
	}
	if s.Plan == nil && s.Bead == nil && v.suggest(s).NeedsDecision {
		w.Product, w.Technique, w.Reason, w.Nozzle = "not settled", "", "", ""
	}
	w.Profile = orWord(w.Profile, "not settled")
	if p := v.productFor(s); p != nil && guessed(p.Basis) {
		w.More = append(w.More, screens.Line{Label: "Its clocks", Value: "literature band", Detail: "the label names no activation energy: each clock takes the safe end of 45 to 60 kJ/mol"})
	}
	return w
}

// techniqueWords: "direct bead on e-coat, brush within 10 min". The minutes
// are at the warm edge of the air now.
func (v *view) techniqueWords(s *floor.Seam, t spec.Technique) string {
	w := map[spec.Technique]string{spec.BrushedOn: "direct bead", spec.TapeEdge: "between tapes"}[t]
	if w == "" {
		w = orWord(techniques[t], "not settled")
	}
	if s.Substrate == spec.SubstrateUnknown || s.Substrate == "" {
		w += ", on a surface that nobody has named yet"
	} else {
		w += " on " + substrateWords(s.Substrate)
	}
	p := v.productFor(s)
	if toolWord(t) == "" || p == nil || s.Complete() {
		return strings.TrimSpace(w)
	}
	if needed, ok := p.Needs(floorv1.Clock_CLOCK_TOOLING, ""); ok {
		if d, ok := v.stretched(s, p, needed, cure.Hot); ok {
			verb := map[spec.Technique]string{spec.TapeEdge: "pull the tape", spec.BrushedOn: "brush"}[t]
			w += fmt.Sprintf(", %s within %s", verb, length(d.Truncate(time.Minute)))
		}
	}
	return w
}

// seamClock is the clock that the step waits for, or runs against.
func (v *view) seamClock(s *floor.Seam, st step) *screens.SeamClock {
	k, ok := waits[st]
	if !ok {
		return nil
	}
	c, ok := v.clock(s.ID, k)
	if !ok {
		return nil
	}
	out := &screens.SeamClock{Doing: clockNames[k], Since: c.Clock.From}
	if k == floorv1.Clock_CLOCK_TOOLING {
		out.Expires = c.DueHot
		return out
	}
	out.DoneSure, out.DoneMaybe = c.Progress(), maybeProgress(c)
	out.ReadyAt, out.MaybeFrom = upToMinute(c.DueCold), c.DueHot
	return out
}

// maybeProgress is the part of a wait that is perhaps over: the hot age of
// its target.
func maybeProgress(c floor.ClockState) float64 {
	target := c.Target(cure.Hot)
	if target <= 0 {
		return 1
	}
	return min(max(c.AgeHotS/target, c.Progress()), 1)
}

// doneWords says who accepted a seam and when.
func (v *view) doneWords(s *floor.Seam) string {
	for _, seq := range v.s.index.inspections(s.ID) {
		ev, counts, ok := v.f.Event(seq)
		if b, is := ev.Body.(*jobsv1.SeamInspected); ok && counts && is && b.GetAccepted() {
			return fmt.Sprintf("accepted %s by %s", v.at(ev.Occurred), ev.Actor)
		}
	}
	return "accepted"
}

func classOf(p *floor.Product) spec.Class {
	if p == nil {
		return ""
	}
	return p.Spec.Class
}

// station is one place in the bar of steps.
type station struct{ key, todo, done string }

// stations are the bar of a seam's steps.
func (v *view) stations(x situation, s *floor.Seam, technique spec.Technique) []station {
	out := []station{{"prep", "prep", "prepped"}, {"purge", "cartridge", "purged"}}
	if x.needsBed || technique.WetBed() {
		out = append(out, station{"bed", "wet bed", "bed laid"})
	}
	out = append(out, station{"bead", "lay bead", "laid"})
	switch {
	case technique == spec.BrushedOn:
		out = append(out, station{"tool", "brush", "brushed"})
	case technique == spec.TapeEdge:
		out = append(out, station{"tool", "pull tape", "tape off"})
	case x.mustDeair || classOf(v.productFor(s)) == spec.SelfLevelling:
		out = append(out, station{"tool", "de-air", "de-aired"})
	}
	if !x.exposed {
		out = append(out, station{"coat", "paint", coated(s.CoatedWith)})
		return append(out, station{"finish", "wax, test", "tested"}, station{"inspect", "inspect", "accepted"})
	}
	return append(out, station{"finish", "water test", "tested"}, station{"inspect", "inspect", "accepted"})
}

// steps is the bar with what is done, what is now and what is still to do.
func (v *view) steps(x situation, st step, s *floor.Seam) []screens.Step {
	technique := spec.Technique("")
	switch {
	case s.Bead != nil:
		technique = s.Bead.Technique
	case s.Plan != nil:
		technique = s.Plan.Technique
	}
	all := v.stations(x, s, technique)
	if s.Plan == nil && !x.complete { // what the rules cannot settle is settled after the prep
		first := 0
		if !x.decided || x.prepped {
			first = 1
		}
		all = slices.Insert(all, first, station{"plan", "plan", "planned"})
	}
	now := len(all)
	for i, p := range all {
		if p.key == stepTitles[st].station {
			now = i
		}
	}
	if st == stepHeld {
		now = heldAt(x, all)
	}
	var out []screens.Step
	for i, p := range all {
		switch {
		case st == stepDone || i < now:
			out = append(out, screens.Step{Label: p.done, State: screens.StepDone})
		case i == now:
			out = append(out, screens.Step{Label: p.todo, State: screens.StepNow})
		default:
			out = append(out, screens.Step{Label: p.todo})
		}
	}
	return out
}

// heldAt is the station that a seam on hold would be at.
func heldAt(x situation, all []station) int {
	x.held = false
	key := stepTitles[nextStep(x)].station
	for i, p := range all {
		if p.key == key {
			return i
		}
	}
	return 0
}
