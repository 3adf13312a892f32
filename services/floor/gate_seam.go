package floor

import (
	"fmt"
	"slices"
	"strings"
	"time"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/calc/spec"
)

func (g *gate) seam(l *Load, s *Seam) {
	subject := string(s.ID.key())
	for _, f := range g.fl.SeamFindings(s.ID) {
		if f.Severity == spec.Stop && f.Open() {
			g.hold(HoldStop, subject, fmt.Sprintf("%s: %s; foreman to decide (finding %s)", s.Name(), strings.TrimSuffix(f.Reason, "."), f.ID))
		}
	}
	switch {
	case s.Coated():
		return
	case s.Bead == nil:
		g.hold(HoldNotLaid, subject, s.Name()+" is not laid")
		return
	case !s.Complete():
		g.hold(HoldLayerMissing, subject, s.Name()+" lacks a layer: "+missingLayer(s))
		return
	case s.Bead.Elsewhere:
		g.hold(HoldElsewhere, subject, s.Name()+" was laid elsewhere; its clocks are not known")
		return
	case s.Bead.Product == nil:
		g.hold(HoldProduct, subject, s.Name()+" was laid with an unknown product")
		return
	}
	g.window(l, s)
}

func missingLayer(s *Seam) string {
	if s.Bead.Has(spec.Bead) {
		return "the wet bed was not told"
	}
	return "the bead on the wet bed"
}

// window asks for the coat window: surely open now, surely not closed up to
// the end of the first coat.
func (g *gate) window(l *Load, s *Seam) {
	subject := string(s.ID.key())
	path := g.fl.path(s)
	if path == nil {
		g.hold(HoldZoneUnknown, subject, "nobody knows where "+s.Name()+" is and no zone is defined")
		return
	}
	for _, z := range g.fl.Places(s, g.at) {
		beside, until := g.place(s, z)
		g.air(z, s.Name(), beside, until)
	}
	coat := l.Coat
	if coat == "" {
		coat = s.firstCoat
	}
	asked := *s
	asked.firstCoat = coat
	opens, ok := beadClock(&asked, floorv1.Clock_CLOCK_COAT_OPENS)
	closes, ok2 := beadClock(&asked, floorv1.Clock_CLOCK_COAT_CLOSES)
	if !ok || !ok2 {
		g.hold(HoldCoatUnknown, subject, fmt.Sprintf("%s: the product's sheet as entered has no window for %s", s.Name(), orUnknown(string(coat))))
		return
	}
	opens.where, closes.where = path, path
	g.opening(s, opens, subject)
	g.closing(l, s, closes, subject)
}

// place says of a zone that counts for a seam why it does, where that is not
// the one that it is in, and until when.
func (g *gate) place(s *Seam, z ZoneID) (why string, until time.Time) {
	now := g.fl.Zone(s)
	switch now {
	case "":
		return "; nobody said where " + s.Name() + " is, so every place it may be in counts: tap where it is", until
	case z:
		return "", until
	}
	if until = g.fl.CountsUntil(s, z, g.at); until.IsZero() {
		return "", until
	}
	if !slices.ContainsFunc(g.fl.where[s.Job].moves(s.Panel), func(m move) bool { return m.zone == z }) {
		return fmt.Sprintf("; nobody said where %s was before it came into %s, so every place it may have come from counts until %s", s.Name(), now, clockTime(upMinute(until))), until
	}
	return fmt.Sprintf("; %s is in %s now and settles to it: until %s %s counts as well", s.Name(), now, clockTime(upMinute(until)), z), until
}

// upMinute is the full minute at which a moment has surely come.
func upMinute(t time.Time) time.Time {
	return t.Add(time.Minute - time.Nanosecond).Truncate(time.Minute)
}

func (g *gate) opening(s *Seam, r runningClock, subject string) {
	forward, _ := g.live.setSince(r.clock.From)
	c := r.judge(g.at.Add(-forward))
	if c.Reached == cure.Yes {
		return
	}
	c.DueCold, c.DueHot = moved(c.DueCold, forward), moved(c.DueHot, forward)
	text := fmt.Sprintf("%s, %s %.0f %%", s.Name(), readyWord(s, r), 100*c.Progress())
	switch {
	case c.DueCold.IsZero():
		text += ", stands still at the cold end"
	default:
		text += ", clear " + clockTime(upMinute(c.DueCold))
		if !c.DueHot.IsZero() && c.DueHot.Before(c.DueCold) {
			text += " (may be ready from " + clockTime(c.DueHot) + ")"
		}
	}
	g.holdUntil(HoldNotOpen, subject, text+clockWas(forward, 0), c.DueCold, c.DueHot)
}

// moved is a moment later on; none stays none.
func moved(t time.Time, by time.Duration) time.Time {
	if t.IsZero() {
		return t
	}
	return t.Add(by)
}

// readyWord is what is waited for: the flow-out of a self-levelling sealer,
// or the coat's own time when that is longer.
func readyWord(s *Seam, r runningClock) string {
	if s.flows() && r.clock.Needed <= s.Bead.Product.flowOut() {
		return "flow-out"
	}
	return "coat window"
}

// closing asks for the other end of the window. While the first coat is
// sprayed the panel is in the booth, or still where it was.
func (g *gate) closing(l *Load, s *Seam, r runningClock, subject string) {
	_, back := g.live.setSince(r.clock.From)
	at, end := g.at.Add(back), g.end.Add(back)
	c := r.judge(at)
	if b := g.fl.booths[l.Booth]; b != nil {
		if path := g.fl.pathInto(s, b.Zone, g.at); path != nil {
			r.where = path
		}
	}
	switch {
	case c.Reached == cure.Yes:
		g.hold(HoldClosed, subject, fmt.Sprintf("%s: the coat window closed at %s; scuff it first", s.Name(), clockTime(c.DueHot))+clockWas(0, back))
	case c.Reached == cure.Maybe:
		g.hold(HoldMayClose, subject, fmt.Sprintf("%s: the coat window may have closed%s; wait for a reading, or scuff it", s.Name(), since(c.DueHot))+clockWas(0, back))
	case !cure.SurelyOpenUntil(r.where, r.clock, at, end):
		g.hold(HoldMayClose, subject, fmt.Sprintf("%s: the coat window may close before the first coat ends at %s; scuff it, or answer for it", s.Name(), clockTime(g.end))+clockWas(0, back))
	}
}

func orUnknown(s string) string {
	if s == "" {
		return "an unknown coat"
	}
	return s
}

// terminal wants a sign of life from the bay that the job was worked in, or
// the painter's word: a bead that was touched there may not have been told
// yet. Where no fact was told beside the car, any terminal of its bay will do.
func (g *gate) terminal(l *Load) {
	if g.live.Untouched {
		return
	}
	ts := []string{g.fl.Tablet(l.RO)}
	if ts[0] == "" {
		ts = g.fl.bayTerminals(l.RO)
	}
	if len(ts) == 0 {
		g.hold(HoldSilent, string(l.RO.key()), fmt.Sprintf("no terminal is known of the bay that job %s was worked in; confirm by name that no bead was touched, or enrol one", l.RO))
		return
	}
	within := g.live.HearFor
	if within == 0 {
		within = DefaultHearFor
	}
	var heard time.Time
	for _, t := range ts {
		heard = later(heard, later(g.fl.heard[t], g.live.Heard[t]))
	}
	if g.at.Sub(heard) > within {
		g.hold(HoldSilent, "terminal/"+ts[0], fmt.Sprintf("terminal %s of the job's bay %s; confirm by name that no bead was touched", ts[0], lastHeard(heard)))
	}
}

// lastHeard says when a terminal was.
func lastHeard(at time.Time) string {
	if at.IsZero() {
		return "was never heard"
	}
	return "was last heard at " + clockTime(at)
}

// bayTerminals lists the terminals of the bay that a car was last in.
func (fl *Floor) bayTerminals(ro RO) []string {
	w := fl.where[ro]
	if w == nil {
		return nil
	}
	for _, m := range slices.Backward(w.car) {
		if z := fl.zones[m.zone]; z != nil && z.Works {
			return z.Terminals
		}
	}
	return nil
}
