package feed

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/calc/spec"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// booth is the painter's picture of a booth.
func (v *view) booth(b *floor.Booth, g *boothv1.Gate) screens.Booth {
	out := screens.Booth{
		Picture: v.pic, ID: string(b.ID), Name: upper(placeName(string(b.ID))), Gate: v.gate(b, g), Gun: b.Colour,
		Phase: v.phaseWords(b), Climate: v.climateOf(b.Zone, upper(placeName(string(b.Zone)))), People: v.s.people(), Warning: v.warning(b),
	}
	for _, s := range v.plan().lanes[b.ID] {
		if !s.running && (len(out.Loads) == 0 || midnight(s.from.In(v.now.Location())).Equal(midnight(v.now))) {
			out.Loads = append(out.Loads, v.boothLoad(s, g))
		}
	}
	spoken := floor.LoadID(g.GetLoadId())
	if next := v.f.NextLoads(b.ID); g == nil && len(next) > 0 {
		spoken = next[0] // shown, with every seam unknown
	}
	if l := v.f.Load(spoken); l != nil {
		p, ok := v.plan().slots[l.ID]
		if !ok {
			p = slot{load: l.ID}
		}
		load := v.boothLoad(p, g)
		out.Load = &load
		if b.Colour != "" && l.Colour != "" && l.Colour != b.Colour && b.Loaded == "" {
			out.Change, out.Setup = l.Colour, b.Setups[[2]string{b.Colour, l.Colour}]
		}
		out.Seams = v.boothSeams(l, p, g)
	}
	busy := ""
	for _, r := range g.GetReasons() {
		switch {
		case r.GetName() == floor.HoldBoothBusy:
			busy = v.reason(r).Text
		case seamOf(r.GetSubject()) == "":
			out.Reasons = append(out.Reasons, v.reason(r))
		}
	}
	if out.Gate.State == screens.GateHold && len(g.GetReasons()) > 0 {
		out.Gate.Sentence = strings.TrimSpace(busy + " " + countWords(g.GetReasons()))
	}
	v.boothButtons(b, g, &out)
	return out
}

// phaseWords is what the booth does: "baking 2198-A until 11:25".
func (v *view) phaseWords(b *floor.Booth) string {
	w := phases[b.Phase]
	if b.Fault != "" {
		return "out of use: " + b.Fault
	}
	if b.Loaded != "" {
		w += " " + string(b.Loaded)
	}
	if b.PhaseEnds.After(v.now) {
		w += " until " + v.at(b.PhaseEnds)
	}
	return w
}

func (v *view) boothLoad(p slot, g *boothv1.Gate) screens.BoothLoad {
	l := v.f.Load(p.load)
	out := screens.BoothLoad{
		ID: string(l.ID), RO: string(l.RO), Colour: l.Colour, Coat: string(v.coatOf(l)), Start: p.from, End: p.to, State: screens.GateHold,
	}
	if j := v.f.Job(l.RO); j != nil {
		out.Vehicle = j.Vehicle
	}
	out.Panels = v.panels(l)
	n := 0
	seams, _ := v.f.LoadSeams(l)
	for _, s := range seams {
		if !v.readyFor(s) {
			n++
		}
	}
	if n > 0 {
		out.Note = "waits for " + count(n, "seam")
	}
	if string(l.ID) == g.GetLoadId() && g.GetSign() == boothv1.Sign_SIGN_CLEAR {
		out.State = screens.GateClear
	}
	return out
}

// countWords sums up what the rows below it tell one by one: "2 seams not
// ready, 1 not laid."
func countWords(rs []*boothv1.Reason) string {
	n := map[string]map[string]bool{}
	for _, r := range rs {
		k := "other"
		if r.GetName() == floor.HoldBoothBusy {
			continue
		}
		if seamOf(r.GetSubject()) != "" {
			k = seamNeeds(r.GetName())
		}
		if n[k] == nil {
			n[k] = map[string]bool{}
		}
		n[k][r.GetSubject()] = true
	}
	var parts []string
	add := func(k, what string) {
		if m := len(n[k]); m > 0 && len(parts) == 0 {
			parts = append(parts, count(m, "seam")+" "+what)
		} else if m > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", m, what))
		}
	}
	add("wait", "not ready")
	add("lay", "not laid")
	add("decide", "on hold")
	add("scuff", "to be scuffed")
	add("unknown", "not known")
	if m := len(n["other"]); m > 0 {
		parts = append(parts, count(m, "other ground"))
	}
	return sentence(strings.Join(parts, ", "))
}

// readyFor reports whether a seam waits for nothing: coated, or open and
// neither held nor closed.
func (v *view) readyFor(s *floor.Seam) bool {
	if s.Coated() {
		return true
	}
	opens, ok := v.clock(s.ID, floorv1.Clock_CLOCK_COAT_OPENS)
	closes, ok2 := v.clock(s.ID, floorv1.Clock_CLOCK_COAT_CLOSES)
	return ok && ok2 && opens.Reached == cure.Yes && closes.Reached == cure.No && len(v.stops(s.ID)) == 0
}

func (v *view) panels(l *floor.Load) string {
	var out []string
	for _, id := range l.Seams {
		if s := v.f.Seam(id); s != nil {
			if name := placeName(string(s.Panel)); !slices.Contains(out, name) {
				out = append(out, name)
			}
		}
	}
	return strings.Join(out, ", ")
}

// warning is the worst of what went wrong with the load that is in the
// booth: it cannot be held any more.
func (v *view) warning(b *floor.Booth) string {
	l := v.f.Load(b.Loaded)
	if l == nil {
		return ""
	}
	for _, f := range v.f.Findings(l.ID.Subject()) {
		if f.Severity == spec.Stop && f.Open() {
			return v.inUTC(f.Reason)
		}
	}
	seams, _ := v.f.LoadSeams(l)
	for _, s := range seams {
		if all := v.stops(s.ID); len(all) > 0 {
			return s.Name() + ": " + v.inUTC(all[0].Reason)
		}
	}
	return ""
}

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
