package floor

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/calc/spec"
	"seamwright/services/fault"
)

// Placeable reports why a load is not to be put into a booth by hand; nil: it
// may. A load that is being sprayed, or was, stays where it is. A booth that says which
// coats it takes takes no others, and one that says how its colours are changed
// takes no colour beside those. The booths that the load was told for when
// nothing of its place was kept, or that were named beside them, take it
// whatever they say. What is not known of the load is not held against it.
//
// Errors: Refused for a load that was sprayed, Invalid for a booth that does
// not take it.
func (fl *Floor) Placeable(l *Load, id BoothID) error {
	if err := fl.notSprayed(l); err != nil {
		return err
	}
	t := fl.booths[id]
	if t == nil || slices.Contains(l.Also, id) || slices.Contains(fl.toldFor(l.ID), id) {
		return nil
	}
	return fl.takes(t, l)
}

func (fl *Floor) notSprayed(l *Load) error {
	if l.Sprayed.IsZero() {
		return nil
	}
	says := fmt.Sprintf("%s was sprayed at %s", l.ID, clockTime(l.Sprayed))
	for _, t := range fl.booths {
		if t.Loaded == l.ID {
			says = fmt.Sprintf("%s has been in %s since %s", l.ID, t.ID, clockTime(l.Sprayed))
		}
	}
	return fault.New(fault.Refused, "load-begun", says+"; it cannot be placed",
		"place another load, or withdraw the start of its spraying if that never was")
}

func (fl *Floor) takes(t *Booth, l *Load) error {
	coat := l.Coat
	if j := fl.jobs[l.RO]; coat == "" && j != nil && len(j.Coats) > 0 {
		coat = j.Coats[0]
	}
	const hint = "; place it in a booth that takes it, or correct what is told of the load or the booth"
	if coat != "" && len(t.Coats) > 0 && !spec.Known(coat, t.Coats) {
		return fault.Bad("booth_id", t.ID, fmt.Sprintf("takes %s, and load %s begins with %s%s", orNone(t.Coats), l.ID, coat, hint))
	}
	if l.Colour != "" && len(t.Setups) > 0 && !t.Knows(l.Colour) {
		return fault.Bad("booth_id", t.ID, fmt.Sprintf("knows how to change to %s, and load %s is %s%s", strings.Join(t.colours(), ", "), l.ID, l.Colour, hint))
	}
	return nil
}

// needSetUp refuses a setup to a colour that a booth cannot be set up to, and
// one in a phase in which the gun is not set up.
func (fl *Floor) needSetUp(e *boothv1.BoothPhaseChanged) error {
	c, t := e.GetColour(), fl.booths[BoothID(e.GetBoothId())]
	switch {
	case c == "":
		return nil
	case e.GetPhase() != boothv1.Phase_PHASE_PREPARING:
		return fault.Bad("colour", c, fmt.Sprintf("left out: the gun is set up while the booth is preparing, not while it is %s", enumWord(e.GetPhase())))
	case len(t.Setups) > 0 && !t.Knows(c):
		return fault.Bad("colour", c, fmt.Sprintf("one of those that booth %s knows how to change to: %s; name one, or define the booth with it", t.ID, strings.Join(t.colours(), ", ")))
	}
	return nil
}

// Knows reports whether a booth says how long a change to a colour takes.
func (t *Booth) Knows(colour string) bool {
	for pair := range t.Setups {
		if pair[1] == colour {
			return true
		}
	}
	return false
}

func (t *Booth) colours() []string {
	to := map[string]bool{}
	for pair := range t.Setups {
		to[pair[1]] = true
	}
	return slices.Sorted(maps.Keys(to))
}

// toldFor lists the booths that a load was told for first, and later without
// anything of its place being kept.
func (fl *Floor) toldFor(id LoadID) (out []BoothID) {
	for _, f := range fl.book.of(id.key()) {
		if e, ok := f.body.(*boothv1.LoadPlanned); ok && !e.GetMoved() && (len(out) == 0 || keepOf(e) == KeepNothing) {
			out = append(out, BoothID(e.GetBoothId()))
		}
	}
	return out
}

// needPlaceable checks a place that somebody gives to a load that is known. What was
// so before the spraying may still be told after it, and what was told wrongly
// corrected.
func (fl *Floor) needPlaceable(b *boothv1.LoadPlanned, ev *Event) error {
	old := fl.loads[LoadID(b.GetLoadId())]
	if old == nil || old.RO == "" || keepOf(b) == KeepNothing {
		return nil
	}
	l := Load{ID: old.ID}
	l.plan(b)
	facts := fl.book.of(l.ID.key())
	switch correction := ev.Seq <= fl.seq; {
	case correction && facts[0].seq == ev.Seq:
		return nil // the first telling is the one that is corrected
	case !correction && !ev.Occurred.Before(old.Sprayed):
		l.Sprayed = old.Sprayed
	}
	return fl.Placeable(&l, l.Booth)
}
