package feed

import (
	"testing"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/cure"
)

// The order of the steps is the order of corrosion protection and of a
// two-part cartridge: common practice, no source.
func TestNextStep(t *testing.T) {
	ready := hand{have: true, equalised: true, nozzle: true, purged: true, flowed: true, gel: cure.No}
	unlaid := situation{planned: true, prepped: true, hand: ready}
	laid := situation{planned: true, prepped: true, complete: true, closes: cure.No, opens: cure.No, flow: cure.No, tooling: cure.No, handling: cure.No, cured: cure.No}
	with := func(s situation, change func(*situation)) situation { change(&s); return s }
	tests := []struct {
		name string
		s    situation
		want step
	}{
		{"surveyed, the rules settle it", situation{decided: true}, stepPlan},
		{"surveyed, the rules do not settle it: look at the joint first", situation{}, stepPrep},
		{"prepped, still not settled", situation{prepped: true}, stepDecide},
		{"prepped, settled by what it lies on", situation{prepped: true, decided: true}, stepPlan},
		{"planned", situation{planned: true}, stepPrep},
		{"no cartridge", with(unlaid, func(s *situation) { s.hand = hand{} }), stepOpen},
		{"a new cartridge", with(unlaid, func(s *situation) { s.hand = hand{have: true} }), stepEqualise},
		{"equalised", with(unlaid, func(s *situation) { s.hand = hand{have: true, equalised: true} }), stepFit},
		{"fitted", with(unlaid, func(s *situation) { s.hand = hand{have: true, equalised: true, nozzle: true} }), stepPurge},
		{"purged", unlaid, stepBead},
		{"the nozzle may have gelled", with(unlaid, func(s *situation) { s.hand.gel = cure.Maybe }), stepOff},
		{"the nozzle has gelled", with(unlaid, func(s *situation) { s.hand.gel = cure.Yes }), stepOff},
		{"another tip is on", with(unlaid, func(s *situation) { s.hand.wrongTip = true }), stepOff},
		{"a gel clock that nothing has flowed through says nothing", with(unlaid, func(s *situation) { s.hand = hand{have: true, equalised: true, nozzle: true} }), stepPurge},
		{"a wet bed is planned", with(unlaid, func(s *situation) { s.needsBed = true }), stepBed},
		{"the bed is laid", with(unlaid, func(s *situation) { s.needsBed, s.hasBed = true, true }), stepBead},
		{"a lot was recalled before it was laid", with(unlaid, func(s *situation) { s.held = true }), stepHeld},

		{"to be brushed", with(laid, func(s *situation) { s.mustTool = true }), stepTool},
		{"it may be brushed although it is held", with(laid, func(s *situation) { s.mustTool, s.held = true, true }), stepTool},
		{"the tooling time may be over", with(laid, func(s *situation) { s.mustTool, s.tooling = true, cure.Maybe }), stepTool},
		{"the tooling time is over", with(laid, func(s *situation) { s.mustTool, s.tooling = true, cure.Yes }), stepWait},
		{"air in it", with(laid, func(s *situation) { s.mustDeair = true }), stepDeair},
		{"flowing", with(laid, func(s *situation) { s.mustDeair, s.deaird = true, true }), stepFlow},
		{"may have flowed out", with(laid, func(s *situation) { s.mustDeair, s.deaird, s.flow = true, true, cure.Maybe }), stepFlow},
		{"flowed out with air in it", with(laid, func(s *situation) { s.mustDeair, s.flow = true, cure.Yes }), stepWait},
		{"window may be open", with(laid, func(s *situation) { s.opens = cure.Maybe }), stepWait},
		{"window open", with(laid, func(s *situation) { s.opens = cure.Yes }), stepPaint},
		{"window may have closed", with(laid, func(s *situation) { s.opens, s.closes = cure.Yes, cure.Maybe }), stepScuff},
		{"window closed", with(laid, func(s *situation) { s.opens, s.closes = cure.Yes, cure.Yes }), stepScuff},
		{"held", with(laid, func(s *situation) { s.opens, s.held = cure.Yes, true }), stepHeld},
		{"the foreman said scuff", with(laid, func(s *situation) {
			s.held, s.ordered = true, floorv1.Disposition_DISPOSITION_SCUFF
		}), stepScuff},
		{"the foreman said redo", with(laid, func(s *situation) {
			s.held, s.ordered = true, floorv1.Disposition_DISPOSITION_REDO
		}), stepRedo},
		{"no clock tells", with(laid, func(s *situation) { s.noClocks = true }), stepUnknown},

		{"in the booth", with(laid, func(s *situation) { s.coated = true }), stepBake},
		{"out of the booth", with(laid, func(s *situation) { s.coated, s.baked = true, true }), stepWax},
		{"waxed, not fit for water", with(laid, func(s *situation) { s.coated, s.baked, s.waxed = true, true, true }), stepSet},
		{"perhaps fit for water", with(laid, func(s *situation) {
			s.coated, s.baked, s.waxed, s.handling = true, true, true, cure.Maybe
		}), stepTest},
		{"tested, not cured", with(laid, func(s *situation) { s.coated, s.baked, s.waxed, s.tested = true, true, true, true }), stepCure},
		{"tested and cured", with(laid, func(s *situation) {
			s.coated, s.baked, s.waxed, s.tested, s.cured = true, true, true, true, cure.Yes
		}), stepInspect},
		{"accepted", with(laid, func(s *situation) { s.coated, s.accepted = true, true }), stepDone},
		{"held after the coat", with(laid, func(s *situation) { s.coated, s.baked, s.held = true, true, true }), stepHeld},

		{"exposed: no coat, no wax", with(laid, func(s *situation) { s.exposed = true }), stepSet},
		{"exposed, fit for water", with(laid, func(s *situation) { s.exposed, s.handling = true, cure.Yes }), stepTest},
		{"laid elsewhere and coated: nothing waits for a clock", with(laid, func(s *situation) {
			s.noClocks, s.coated, s.baked, s.waxed, s.tested = true, true, true, true, true
		}), stepInspect},
	}
	for _, c := range tests {
		t.Run(c.name, func(t *testing.T) {
			if got := nextStep(c.s); got != c.want {
				t.Errorf("next step %q, want %q", got, c.want)
			}
		})
	}
}

// Every step has its words.
func TestStepTitles(t *testing.T) {
	all := []step{
		stepDecide, stepPlan, stepPrep, stepOpen, stepEqualise, stepOff, stepFit, stepPurge, stepBed, stepBead, stepDeair, stepTool, stepFlow, stepWait,
		stepPaint, stepScuff, stepRedo, stepHeld, stepUnknown, stepBake, stepWax, stepSet, stepTest, stepCure, stepInspect, stepDone,
	}
	for _, s := range all {
		if stepTitles[s].next == "" {
			t.Errorf("step %q has no words", s)
		}
		if _, ranked := urgency[s]; !ranked && stepTitles[s].station != "purge" {
			t.Errorf("step %q has no place in the lists", s)
		}
	}
	if len(stepTitles) != len(all) {
		t.Errorf("%d steps have words, %d are known", len(stepTitles), len(all))
	}
}
