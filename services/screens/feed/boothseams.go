package feed

import (
	"cmp"
	"slices"
	"strings"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// seamOrder ranks rows: what a person can do something about first.
var seamOrder = map[screens.SeamState]int{
	screens.SeamHeld: 0, screens.SeamUnknown: 1, screens.SeamClosed: 2, screens.SeamClosing: 3, screens.SeamNotLaid: 4,
	screens.SeamWaiting: 5, screens.SeamReady: 6,
}

// boothSeams are the seams of a load as the gate has them: a seam that the
// gate names is not ready, whatever its clocks say here.
func (v *view) boothSeams(l *floor.Load, p slot, g *boothv1.Gate) []screens.BoothSeam {
	about := map[floor.SeamID][]*boothv1.Reason{}
	for _, r := range g.GetReasons() {
		if id := seamOf(r.GetSubject()); id != "" {
			about[id] = append(about[id], r)
		}
	}
	var out []screens.BoothSeam
	seams, missing := v.f.LoadSeams(l)
	for _, s := range seams {
		out = append(out, v.boothSeam(s, p, about[s.ID], g != nil))
	}
	for _, id := range missing {
		out = append(out, screens.BoothSeam{ID: rowID(id), Place: string(id), Text: "not surveyed"})
	}
	slices.SortStableFunc(out, func(a, b screens.BoothSeam) int {
		return cmp.Or(cmp.Compare(seamOrder[a.State], seamOrder[b.State]), laterZero(a.LayBy, b.LayBy), b.ReadyAt.Compare(a.ReadyAt))
	})
	return out
}

func (v *view) boothSeam(s *floor.Seam, p slot, rs []*boothv1.Reason, answered bool) screens.BoothSeam {
	row := screens.BoothSeam{ID: rowID(s.ID), Place: s.Name(), TempC: v.tempOf(s)}
	if s.Bead != nil {
		row.LaidAt, row.LaidBy = s.Bead.Ended, s.Bead.By
	}
	worst := worstReason(rs)
	switch {
	case !answered:
		row.Text = "the gate does not answer"
	case worst == nil:
		v.readyRow(s, &row)
	default:
		v.reasonRow(s, p, worst, &row)
	}
	return row
}

func (v *view) readyRow(s *floor.Seam, row *screens.BoothSeam) {
	row.State = screens.SeamReady
	if s.Coated() {
		row.Text = coated(s.CoatedWith)
		if !s.CoatedAt.IsZero() {
			row.Text += " " + v.at(s.CoatedAt)
		}
		return
	}
	if c, ok := v.clock(s.ID, floorv1.Clock_CLOCK_COAT_CLOSES); ok {
		row.ClosesAt = c.DueHot
	}
}

// worstReason is the reason that a person must do most about.
func worstReason(rs []*boothv1.Reason) *boothv1.Reason {
	rank := map[string]int{"decide": 5, "unknown": 4, "scuff": 3, "lay": 2, "wait": 1}
	var worst *boothv1.Reason
	for _, r := range rs {
		if worst == nil || rank[seamNeeds(r.GetName())] > rank[seamNeeds(worst.GetName())] {
			worst = r
		}
	}
	return worst
}

func (v *view) reasonRow(s *floor.Seam, p slot, r *boothv1.Reason, row *screens.BoothSeam) {
	switch seamNeeds(r.GetName()) {
	case "decide":
		row.State = screens.SeamHeld
		if all := v.stops(s.ID); len(all) > 0 {
			row.Text, row.Else = shortOf(all[0]), orders(all)
		}
	case "scuff":
		v.closingRow(s, r, row)
	case "lay":
		row.State, row.Text = screens.SeamNotLaid, v.notLaid(s)
		if at, _, ok := v.layBy(s); ok {
			row.LayBy, row.Else = at, "or it misses "+v.at(p.from)
		} else if v.tooCold(s) {
			row.Else = "may be too cold to cure there"
		}
	case "wait":
		v.waitingRow(s, r, row)
	default:
		row.Text = unknownWords(r.GetName())
	}
}

func unknownWords(name string) string {
	switch name {
	case floor.HoldElsewhere:
		return "laid elsewhere: its clocks are not known"
	case floor.HoldProduct:
		return "laid with a product that is not known"
	case floor.HoldCoatUnknown:
		return "the product's sheet has no window for this coat"
	case floor.HoldZoneUnknown:
		return "nobody knows where it is"
	case floor.HoldSeamUnknown:
		return "not surveyed"
	}
	return "held: " + name
}

func (v *view) closingRow(s *floor.Seam, r *boothv1.Reason, row *screens.BoothSeam) {
	row.State = screens.SeamClosing
	c, ok := v.clock(s.ID, floorv1.Clock_CLOCK_COAT_CLOSES)
	if r.GetName() == floor.HoldClosed {
		row.State = screens.SeamClosed
	}
	if !ok || c.DueHot.IsZero() {
		return
	}
	switch {
	case row.State == screens.SeamClosed:
		row.Text = "closed " + v.at(c.DueHot)
	case c.Reached == cure.No:
		row.Text = "closes " + v.at(c.DueHot) + ", maybe before the first coat ends"
	default:
		row.ClosesAt, row.Text = c.DueHot, "the window may have closed"
	}
}

func (v *view) waitingRow(s *floor.Seam, r *boothv1.Reason, row *screens.BoothSeam) {
	row.State, row.Doing = screens.SeamWaiting, "coat time"
	if opens, ok := v.clock(s.ID, floorv1.Clock_CLOCK_COAT_OPENS); ok {
		row.Doing, row.DoneSure = v.doing(s, opens)
		row.DoneMaybe = maybeProgress(opens)
		if k, ok := v.clock(s.ID, floorv1.Clock_CLOCK_FLOW_OUT); ok && row.Doing == clockNames[floorv1.Clock_CLOCK_FLOW_OUT] {
			row.DoneMaybe = maybeProgress(k)
		}
	}
	if r.GetUntil() != nil {
		row.ReadyAt = upToMinute(r.GetUntil().AsTime())
	} else {
		row.Text = "stands still, too cold"
	}
	if r.GetMaybe() != nil {
		row.MaybeFrom = r.GetMaybe().AsTime()
	}
}

// notLaid: "not laid · bay 2 · heavy-bodied white, ribbon 25 mm".
func (v *view) notLaid(s *floor.Seam) string {
	parts := []string{"not laid"}
	if s.Bead != nil {
		parts[0] = "wet bed laid, bead not"
	}
	if z := v.f.Zone(s); z != "" {
		parts = append(parts, placeName(string(z)))
	}
	if w := v.beadWords(s); w != "" {
		parts = append(parts, w)
	}
	return strings.Join(parts, " · ")
}

// tempOf is the air that a seam is in, as last read.
func (v *view) tempOf(s *floor.Seam) *float64 {
	zones := v.f.Places(s, v.now)
	if len(zones) == 0 {
		return nil
	}
	a, ok := v.f.Air(zones[0], v.now)
	if !ok || !a.Read {
		return nil
	}
	c := a.Last.C
	return &c
}
