package feed

import (
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/calc/spec"
	"seamwright/services/floor"
)

// step is the next step of a seam for whoever stands at a terminal; without
// a terminal the cartridge is left out of it.
func (v *view) step(s *floor.Seam, terminal string) step {
	return nextStep(v.situation(s, terminal))
}

func (v *view) situation(s *floor.Seam, terminal string) situation {
	stops := v.stops(s.ID)
	x := situation{
		planned: s.Plan != nil, prepped: s.Stage.Rank() >= floor.Prepped.Rank(), exposed: s.Finish == spec.Exposed,
		needsBed: s.NeedsBed(), hasBed: s.Bead.Has(spec.Bed), complete: s.Complete(), coated: s.Coated(),
		held: len(stops) > 0, ordered: ordered(stops), waxed: s.Waxed, baked: v.baked(s),
		tested: v.s.index.tested(v.f, s), accepted: s.Stage == floor.Accepted, hand: v.hand(s, terminal),
	}
	if !x.planned && !x.complete {
		x.decided = !v.suggest(s).NeedsDecision
	}
	if s.Bead == nil {
		return x
	}
	x.noClocks = s.Bead.Elsewhere || s.Bead.Product == nil
	x.tooled, x.deaird = s.Bead.Tooled, s.Bead.Deaired
	x.mustTool, x.mustDeair = toolWord(s.Bead.Technique) != "", selfLevelling(s)
	v.readClocks(s, &x)
	if s.Stage.Rank() >= floor.Cured.Rank() {
		x.cured = cure.Yes
	}
	return x
}

// readClocks takes in what the bead's clocks say now. A clock that the
// product's sheet does not give leaves its answer at maybe.
func (v *view) readClocks(s *floor.Seam, x *situation) {
	windows := false
	for _, c := range v.f.Clocks(s.ID, v.now) {
		switch c.ClockID.Clock {
		case floorv1.Clock_CLOCK_TOOLING:
			x.tooling = c.Reached
		case floorv1.Clock_CLOCK_FLOW_OUT:
			x.flow = c.Reached
		case floorv1.Clock_CLOCK_COAT_OPENS:
			x.opens, windows = c.Reached, true
		case floorv1.Clock_CLOCK_COAT_CLOSES:
			x.closes = c.Reached
		case floorv1.Clock_CLOCK_HANDLING:
			x.handling = c.Reached
		case floorv1.Clock_CLOCK_FULL_CURE:
			x.cured = c.Reached
		}
	}
	if !windows && !x.coated && !x.exposed {
		x.noClocks = true // no window for this coat: nobody can tell
	}
}

// baked reports whether every load over a seam that was begun is out, and
// none is still to come.
func (v *view) baked(s *floor.Seam) bool {
	for _, id := range v.f.Loads() {
		l := v.f.Load(id)
		if l.RO != s.Job || l.Finished {
			continue
		}
		for _, o := range l.Seams {
			if o == s.ID {
				return false
			}
		}
	}
	return true
}

// toolWord is what is done to a bead inside its tooling time; empty when it
// is left as laid.
func toolWord(t spec.Technique) string {
	switch t {
	case spec.TapeEdge:
		return "tape pulled"
	case spec.BrushedOn:
		return "brushed"
	}
	return ""
}
