package floor

import (
	curesv1 "seamwright/proto/seamwright/cures/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
)

// Touched is what an event may have changed about clocks.
type Touched struct {
	All        bool // anything may have changed; what is named beside it, surely
	Jobs       []RO // the whereabouts of these
	Seams      []SeamID
	Cartridges []CartridgeID
	Zone       ZoneID // this zone's past, not only its newest reading
}

// Touches tells what an applied event may have changed about clocks, so that
// who keeps them looks at those only.
func (fl *Floor) Touches(seq uint64) Touched {
	if seq == 0 || seq > uint64(len(fl.log)) {
		return Touched{All: true}
	}
	ev := fl.log[seq-1].ev
	switch b := ev.Body.(type) {
	case *jobsv1.FactWithdrawn:
		return fl.amendedTouches(b.GetSequence())
	case *jobsv1.FactCorrected:
		return fl.amendedTouches(b.GetSequence())
	case *materialsv1.ProductDefined, *curesv1.ZoneDefined:
		return Touched{All: true}
	case *curesv1.ReadingTaken:
		z := fl.zones[ZoneID(b.GetZoneId())]
		if z != nil && (z.jumped || z.loosened || z.last.After(z.marks[seq])) {
			return Touched{Zone: z.ID}
		}
		return Touched{}
	}
	return fl.touchedBy(&ev)
}

// amendedTouches: what was taken back or corrected may have been about
// anything.
func (fl *Floor) amendedTouches(seq uint64) Touched {
	var t Touched
	if seq > 0 && seq <= uint64(len(fl.log)) {
		ev := fl.log[seq-1].ev
		t = fl.touchedBy(&ev)
	}
	t.All = true
	return t
}

// touchedBy: what the fold derives again for a fact, clocks are looked at
// again for.
func (fl *Floor) touchedBy(ev *Event) Touched {
	stale := stale{fl: fl}
	for _, p := range fl.place(ev) {
		stale.note(p)
	}
	return Touched{
		Jobs:  distinct(append(stale.wheres, stale.jobs...)),
		Seams: distinct(stale.seams), Cartridges: distinct(stale.cartridges),
	}
}
