package feed

import (
	"fmt"
	"slices"
	"strings"
	"time"

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
		Picture: v.pic, ID: string(b.ID), Name: upper(placeName(string(b.ID))), Gate: v.gate(b, g), Gun: v.gunWords(b),
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
		if gun, _ := b.Gun(); gun != "" && l.Colour != "" && l.Colour != gun && b.Loaded == "" {
			out.Change, out.Setup = l.Colour, b.Setups[[2]string{gun, l.Colour}]
		}
		out.Seams = v.boothSeams(l, p, g)
	}
	busy := ""
	if l := g.GetLost(); l != nil {
		out.Reasons = append(out.Reasons, v.lostPermit(l))
	}
	for _, r := range byRank(g.GetReasons()) {
		switch {
		case r.GetName() == floor.HoldBoothBusy:
			busy = v.reason(r).Text
		case seamOf(r.GetSubject()) == "":
			out.Reasons = append(out.Reasons, v.reason(r))
		}
	}
	if out.Gate.State == screens.GateHold && len(g.GetReasons()) > 0 {
		out.Gate.Sentence = joined(v.faultWords(g.GetReasons()), busy, v.countWords(g.GetReasons()))
	} else if len(g.GetReasons()) == 0 && len(v.pic.Faults) > 0 {
		w := v.pic.Faults[0]
		out.Gate.Sentence = joined(w.Text, w.Do, out.Gate.Sentence)
	}
	v.boothButtons(b, g, &out)
	if lacks := v.gunLacks(b, &out); lacks != "" && b.Loaded == "" {
		switch {
		case out.Request != nil && out.Request.Ready:
			out.Gate.Sentence = "Everything else is ready, but " + lacks + "."
		case out.Start != nil && out.Start.Ready:
			out.Gate.Sentence = joined(out.Gate.Sentence, sentence(lacks))
		}
	}
	return out
}

// lostPermit says that a permit is gone and why: what holds the load that is
// next may be about another one.
func (v *view) lostPermit(l *boothv1.LostPermit) screens.Reason {
	return screens.Reason{
		Text: fmt.Sprintf("The permit for %s was taken back at %s: %s", l.GetLoadId(), v.at(l.GetAt().AsTime()), sentence(v.inUTC(l.GetWhy()))),
		Do:   "Ask anew when nothing holds it any more.",
	}
}

// gunWords is the colour in the gun, and what it is being set up to.
func (v *view) gunWords(b *floor.Booth) string {
	next, ready := b.Gun()
	switch {
	case b.Next == "":
		return b.Colour
	case !ready.After(v.now):
		return next
	}
	return strings.TrimPrefix(b.Colour+", set up to ", ", ") + next + " at " + v.at(upTo(ready, time.Minute))
}

// phaseWords is what the booth does: "baking 2198-A until 11:25".
func (v *view) phaseWords(b *floor.Booth) string {
	w := phases[b.Phase]
	if b.Fault != "" {
		return "out of use: " + b.Fault
	}
	switch {
	case b.Loaded != "":
		w += " " + string(b.Loaded)
	case b.Next != "":
		w = "gun is set up to " + b.Next
	}
	if b.Ends().After(v.now) {
		w += " until " + v.at(upTo(b.Ends(), time.Minute))
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
	if p.missed {
		out.Note = joined(out.Note, "misses its window: scuff first")
	}
	why, _, _ := strings.Cut(p.why, ";") // what hangs on it stands in the desk's plan
	out.Why = strings.TrimSuffix(v.inPlan(why), ".")
	if string(l.ID) == g.GetLoadId() && g.GetSign() == boothv1.Sign_SIGN_CLEAR {
		out.State = screens.GateClear
	}
	return out
}

// joined puts together what there is of some sentences.
func joined(sentences ...string) string {
	return strings.Join(slices.DeleteFunc(sentences, func(s string) bool { return s == "" }), " ")
}

// countWords sums up what the rows below it tell one by one: "2 seams not
// ready, 1 not laid." Of what belongs to no seam the worst is told whole, unless
// a fault of the program is told before it, by faultWords.
func (v *view) countWords(rs []*boothv1.Reason) string {
	n := map[string]map[string]bool{}
	var other []string
	for _, r := range byRank(rs) {
		if r.GetName() == floor.HoldBoothBusy || floor.OfProcess(r.GetName()) {
			continue
		}
		if seamOf(r.GetSubject()) == "" {
			other = append(other, v.reason(r).Text)
			continue
		}
		k := seamNeeds(r.GetName())
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
	seams := sentence(strings.Join(parts, ", "))
	if len(other) == 0 {
		return seams
	}
	if slices.ContainsFunc(rs, func(r *boothv1.Reason) bool { return floor.OfProcess(r.GetName()) }) {
		return joined(seams, count(len(other), "more reason")+" below.")
	}
	if len(other) == 1 {
		return joined(seams, other[0])
	}
	return joined(seams, other[0], count(len(other)-1, "more reason")+" below.")
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

// phases are what a booth does, in words.
var phases = map[boothv1.Phase]string{
	boothv1.Phase_PHASE_IDLE: "idle", boothv1.Phase_PHASE_PREPARING: "preparing", boothv1.Phase_PHASE_SPRAYING: "spraying",
	boothv1.Phase_PHASE_FLASH_OFF: "flash-off", boothv1.Phase_PHASE_BAKING: "baking", boothv1.Phase_PHASE_COOLING: "cooling",
}
