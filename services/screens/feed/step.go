package feed

import (
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/cure"
)

// step is what comes next on a seam.
type step string

// The steps in the order of a seam's way.
const (
	stepDecide   step = "decide"   // what is laid is not settled: a person decides
	stepPlan     step = "plan"     // the rules have settled it: say so
	stepPrep     step = "prep"     // clean, prime, scuff
	stepOpen     step = "open"     // take a cartridge and open it
	stepEqualise step = "equalise" // bring both sides level
	stepOff      step = "off"      // the nozzle may have gelled: take it off
	stepFit      step = "fit"      // fit a nozzle
	stepPurge    step = "purge"    // run the first material to waste
	stepBed      step = "bed"      // lay the wet bed
	stepBead     step = "bead"     // lay the bead
	stepDeair    step = "deair"    // take the trapped air out
	stepTool     step = "tool"     // brush, or pull the tape
	stepFlow     step = "flow"     // wait for flow-out
	stepWait     step = "wait"     // wait for the coat window
	stepPaint    step = "paint"    // the booth's turn
	stepScuff    step = "scuff"    // the window has closed, or a foreman orders it
	stepRedo     step = "redo"     // a foreman orders it off
	stepHeld     step = "held"     // a foreman decides
	stepUnknown  step = "unknown"  // laid, and no clock tells anything
	stepBake     step = "bake"     // wait for the last load to be out
	stepWax      step = "wax"      // cavity wax
	stepSet      step = "set"      // wait until it may be handled
	stepTest     step = "test"     // water test
	stepCure     step = "cure"     // wait for full cure
	stepInspect  step = "inspect"  // compare with the factory's
	stepDone     step = "done"
)

// situation is all that the next step of a seam hangs on.
type situation struct {
	planned, decided  bool // a plan stands; the rules can settle one
	prepped           bool
	exposed           bool
	needsBed, hasBed  bool
	complete          bool // all layers are on it
	coated            bool
	noClocks          bool // laid elsewhere or with an unknown product
	mustTool, tooled  bool
	mustDeair, deaird bool
	held              bool
	ordered           floorv1.Disposition // by a foreman's answer
	// Zero is maybe, which neither opens nor ends anything.
	tooling, flow, opens, closes, handling, cured cure.Reached
	baked, waxed, tested, accepted                bool

	hand hand
}

// hand is the cartridge that the seam would be laid with.
type hand struct {
	have, equalised, nozzle, purged bool
	wrongTip                        bool // the nozzle on it is not of the kind that is planned
	flowed                          bool
	gel                             cure.Reached
}

// nextStep is the one thing to do next on a seam.
func nextStep(s situation) step {
	switch {
	case s.accepted:
		return stepDone
	case !s.complete:
		return nextUnlaid(s)
	// Tooling and the air in the bead do not wait for a foreman.
	case s.mustTool && !s.tooled && s.tooling != cure.Yes && !s.coated:
		return stepTool
	case s.mustDeair && !s.deaird && s.flow != cure.Yes && !s.coated:
		return stepDeair
	case s.held:
		return nextHeld(s)
	case s.coated || s.exposed:
		return nextFinish(s)
	case s.noClocks:
		return stepUnknown
	case s.closes != cure.No:
		return stepScuff
	case s.opens == cure.Yes:
		return stepPaint
	case s.mustDeair && s.flow != cure.Yes:
		return stepFlow
	}
	return stepWait
}

func nextHeld(s situation) step {
	switch s.ordered {
	case floorv1.Disposition_DISPOSITION_REDO:
		return stepRedo
	case floorv1.Disposition_DISPOSITION_SCUFF:
		return stepScuff
	}
	return stepHeld
}

// nextUnlaid: plan, prep, cartridge, nozzle, layers. Where the rules cannot
// settle the plan the joint is prepped first: what it lies on is often what
// they lack.
func nextUnlaid(s situation) step {
	switch {
	case s.held:
		return nextHeld(s)
	case !s.planned && s.decided && !s.hasBed:
		return stepPlan
	case !s.prepped:
		return stepPrep
	case !s.planned && !s.hasBed:
		return stepDecide
	}
	if c := nextHand(s.hand); c != "" {
		return c
	}
	if s.needsBed && !s.hasBed {
		return stepBed
	}
	return stepBead
}

// nextHand is what the cartridge still lacks; empty when it is ready.
func nextHand(h hand) step {
	switch {
	case !h.have:
		return stepOpen
	case h.nozzle && (h.wrongTip || h.flowed && h.gel != cure.No):
		return stepOff
	case !h.equalised:
		return stepEqualise
	case !h.nozzle:
		return stepFit
	case !h.purged:
		return stepPurge
	}
	return ""
}

// nextFinish: after the last coat, or on a seam that stays exposed. Cavity
// wax goes on after the bake, the water test from handling on, and what is
// accepted has cured.
func nextFinish(s situation) step {
	switch {
	case s.coated && !s.baked:
		return stepBake
	case s.coated && !s.waxed:
		return stepWax
	case !s.tested && s.handling == cure.No && !s.noClocks:
		return stepSet
	case !s.tested:
		return stepTest
	case s.cured != cure.Yes && !s.noClocks:
		return stepCure
	}
	return stepInspect
}

// stepTitle is a step in words.
type stepTitle struct {
	next    string // in a list: "lay the bead"
	why     string // one sentence
	station string // where it stands in the bar of steps
}

var stepTitles = map[step]stepTitle{
	stepDecide: {"decide what is laid", "The survey and the rules do not settle it.", "plan"},
	stepPlan:   {"take the plan", "Look at it on the car: once taken, it is what the bead is judged by.", "plan"},
	stepPrep:   {"prep", "A sealer holds on clean, dry metal or primer only.", "prep"},
	stepOpen:   {"open a cartridge", "None of this product is in hand at this terminal.", "purge"},
	stepEqualise: {
		"bring both sides level", "The sides of a new cartridge stand unequal: the first material would be off its mixing ratio.", "purge",
	},
	stepOff:     {"take the old nozzle off", "The mix in it has been still for so long that it may have gelled.", "purge"},
	stepFit:     {"fit a nozzle", "Every nozzle is used once.", "purge"},
	stepPurge:   {"purge", "The first material through a new nozzle is not mixed.", "purge"},
	stepBed:     {"lay the wet bed", "The bead is set into it while it is wet.", "bed"},
	stepBead:    {"lay the bead", "", "bead"},
	stepDeair:   {"take the trapped air out", "Air trapped below a self-levelling bead comes up while it flows.", "tool"},
	stepTool:    {"tool the bead", "Only inside the tooling time does the edge lie down.", "tool"},
	stepFlow:    {"wait for flow-out", "A coat over a bead that still flows sinks into it.", "coat"},
	stepWait:    {"wait for the coat window", "A coat that goes on before the window opens lifts or sinks.", "coat"},
	stepPaint:   {"ready for paint", "The booth has it from here.", "coat"},
	stepScuff:   {"scuff", "The coat window has closed, or may have: a coat would not hold. Scuffing opens it again for a time.", "coat"},
	stepRedo:    {"take the bead off", "The foreman decided so.", "bead"},
	stepHeld:    {"wait for the foreman", "A finding holds this seam until it is answered.", ""},
	stepUnknown: {"ask the foreman", "It was laid elsewhere or with a product that is not known: no clock can tell when it may be painted.", "coat"},
	stepBake:    {"wait for the booth", "Wax and water come after the last coat is baked.", "coat"},
	stepWax:     {"wax the cavity", "Cavity wax goes on last, after the paint.", "finish"},
	stepSet:     {"wait until it may be handled", "Water on a bead that has not set washes it out.", "finish"},
	stepTest:    {"water test", "What is not tight now will not be tight on the road.", "finish"},
	stepCure:    {"wait for full cure", "A seam is accepted once it has cured.", "finish"},
	stepInspect: {"inspect", "Compare it with what the factory made.", "inspect"},
	stepDone:    {"finished", "", "inspect"},
}
