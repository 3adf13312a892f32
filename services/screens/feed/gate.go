package feed

import (
	"fmt"
	"slices"
	"strings"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// gate is what the gate of a booth says, in the shop's words. Nil: it does
// not answer, and nothing is known.
func (v *view) gate(b *floor.Booth, g *boothv1.Gate) screens.Gate {
	out := screens.Gate{Booth: string(b.ID), BoothName: upper(placeName(string(b.ID))), Load: g.GetLoadId()}
	if g == nil {
		if next := v.f.NextLoads(b.ID); len(next) > 0 {
			out.Load = string(next[0])
		}
		out.Headline, out.Sentence = strings.TrimSpace("Do not spray "+out.Load), "The gate does not answer: see whether the shop's program runs."
		return out
	}
	switch g.GetSign() {
	case boothv1.Sign_SIGN_CLEAR:
		out.State, out.Headline, out.Sentence = screens.GateClear, "Spray "+out.Load, v.clearWords(g)
	case boothv1.Sign_SIGN_OVERRIDE:
		out.State, out.Headline, out.Sentence = screens.GateOverride, "Override: "+out.Load, v.overrideWords(b, g)
	default:
		v.heldGate(b, g, &out)
		return out
	}
	out.Until = g.GetPermit().GetStartBy().AsTime()
	return out
}

func (v *view) clearWords(g *boothv1.Gate) string {
	l := v.f.Load(floor.LoadID(g.GetLoadId()))
	if l == nil {
		return ""
	}
	w := fmt.Sprintf("%s, first coat %s.", strings.TrimSpace(upper(string(v.coatOf(l))+" "+l.Colour)), length(v.f.FirstCoat(l)))
	if p := v.f.Permit(l.Booth); p != nil {
		if ev, _, ok := v.f.Event(p.Seq); ok {
			w += " Permit for " + ev.Actor + "."
		}
	}
	return w
}

func (v *view) overrideWords(b *floor.Booth, g *boothv1.Gate) string {
	w := ""
	if p := v.f.Permit(b.ID); p != nil {
		w = p.By + " answers for it"
		if ev, _, ok := v.f.Event(p.Seq); ok {
			if is, ok := ev.Body.(*boothv1.PermitIssued); ok {
				w += ": \"" + is.GetOverrideReason() + "\""
			}
		}
		w += "."
	}
	return strings.TrimSpace(w + " " + v.holdWords(g.GetReasons()))
}

// heldGate: what a booth on hold waits for, and when that will be over.
func (v *view) heldGate(b *floor.Booth, g *boothv1.Gate, out *screens.Gate) {
	out.State = screens.GateHold
	switch {
	case out.Load == "" && b.Loaded != "":
		out.Headline, out.Sentence = "Do not spray", fmt.Sprintf("%s is in the booth, %s. No other load waits.", b.Loaded, phases[b.Phase])
		return
	case out.Load == "":
		out.Headline, out.Sentence = "No load waits", "Nothing is planned for this booth."
		return
	}
	out.Headline, out.Sentence = "Do not spray "+out.Load, v.holdWords(g.GetReasons())
	if len(g.GetReasons()) == 0 {
		out.Sentence = "Everything is ready. Ask for the permit when you stand at the gun."
		return
	}
	if at := g.GetClearAt(); at != nil {
		out.ClearAt = upToMinute(at.AsTime())
		if m := g.GetMaybeAt(); m != nil && m.AsTime().Before(at.AsTime()) {
			out.MaybeFrom = m.AsTime()
		}
		return
	}
	v.clearIfLaid(g, out)
}

// clearIfLaid: where nothing but time and laying holds a load, it is clear at
// its place in the lane, if what is not laid is laid by then.
func (v *view) clearIfLaid(g *boothv1.Gate, out *screens.Gate) {
	p, ok := v.plan().slots[floor.LoadID(g.GetLoadId())]
	if !ok {
		return
	}
	var first time.Time
	var names []string
	for _, r := range g.GetReasons() {
		if r.GetName() != floor.HoldNotLaid && r.GetName() != floor.HoldLayerMissing {
			if r.GetUntil() == nil && r.GetName() != floor.HoldSilent {
				return
			}
			continue
		}
		s := v.f.Seam(seamOf(r.GetSubject()))
		if s == nil {
			return
		}
		at, _, ok := v.layBy(s)
		if !ok {
			return
		}
		names = append(names, lower(s.Name()))
		if first.IsZero() || at.Before(first) {
			first = at
		}
	}
	switch {
	case len(names) == 0:
		return
	case len(names) == 1:
		out.If = fmt.Sprintf("if %s is laid by %s", names[0], v.at(first))
	default:
		out.If = fmt.Sprintf("if %s are laid, the first by %s", count(len(names), "seam"), v.at(first))
	}
	out.ClearAt = upToMinute(p.from)
}

// seamOf is the seam that a reason is about; empty for another thing.
func seamOf(subject string) floor.SeamID {
	if id, ok := strings.CutPrefix(subject, "seam/"); ok {
		return floor.SeamID(id)
	}
	return ""
}

// holdWords puts all reasons of a gate into one or two sentences: the seams
// by what they need, then what is wrong with the rest.
func (v *view) holdWords(rs []*boothv1.Reason) string {
	groups := map[string][]string{}
	var rest []string
	var wrong []string // with the program itself: told before all else
	for _, r := range byRank(rs) {
		s := v.f.Seam(seamOf(r.GetSubject()))
		switch {
		case floor.OfProcess(r.GetName()):
			wrong = append(wrong, v.reason(r).Text)
			continue
		case s == nil:
			rest = append(rest, v.reason(r).Text)
			continue
		}
		k := seamNeeds(r.GetName())
		if name := lower(s.Name()); !slices.Contains(groups[k], name) {
			groups[k] = append(groups[k], name)
		}
	}
	out := wrong
	if names := groups["wait"]; len(names) > 0 {
		out = append(out, "Waits for "+list(names)+".")
	}
	if names := groups["lay"]; len(names) > 0 {
		out = append(out, "Not laid: "+list(names)+".")
	}
	if names := groups["decide"]; len(names) > 0 {
		out = append(out, "On hold: "+list(names)+".")
	}
	if names := groups["scuff"]; len(names) > 0 {
		out = append(out, "To be scuffed: "+list(names)+".")
	}
	if names := groups["unknown"]; len(names) > 0 {
		out = append(out, "Not known: "+list(names)+".")
	}
	for _, r := range rest {
		out = append(out, sentence(r))
	}
	return strings.Join(out, " ")
}

// seamNeeds groups the reasons about a seam by what it takes to be rid of
// them.
func seamNeeds(name string) string {
	switch name {
	case floor.HoldNotOpen:
		return "wait"
	case floor.HoldNotLaid, floor.HoldLayerMissing:
		return "lay"
	case floor.HoldStop:
		return "decide"
	case floor.HoldClosed, floor.HoldMayClose:
		return "scuff"
	}
	return "unknown"
}

// silentWords: the tablet that was not heard, or the job that no tablet is
// known to stand beside.
func silentWords(subject string) screens.Reason {
	kind, id, _ := strings.Cut(subject, "/")
	if kind != "terminal" {
		return screens.Reason{
			Text: "No terminal is known of the bay that " + placeName(id) + " was worked in.",
			Do:   "Confirm by name that no bead was touched, or have that bay's tablet enrolled.",
		}
	}
	return screens.Reason{
		Text: upper(placeName(id)) + " is not heard: it is off, asleep or out of reach.",
		Do:   "Wake it, or confirm by name that no bead was touched.",
	}
}

// reason is one ground to hold that belongs to no seam, and what to do about
// it. Its moments are told in the shop's own time.
func (v *view) reason(r *boothv1.Reason) screens.Reason {
	_, id, _ := strings.Cut(r.GetSubject(), "/")
	name := placeName(id)
	switch r.GetName() {
	case floor.HoldNoReading:
		return v.settles(r, name, screens.Reason{Text: "The probe of " + name + " has never been heard.", Do: "Look at the probe, or read the air by hand."})
	case floor.HoldStale:
		if a, ok := v.f.Air(floor.ZoneID(id), v.now); ok {
			return v.settles(r, name, screens.Reason{Text: fmt.Sprintf("The probe of %s was last read at %s.", name, v.at(a.Last.At)), Do: "Look at the probe, or read the air by hand."})
		}
	case floor.HoldImplausible:
		if a, ok := v.f.Air(floor.ZoneID(id), v.now); ok {
			return v.settles(r, name, screens.Reason{
				Text: fmt.Sprintf("The reading of %s at %s, %.1f °C, jumped more than the air can.", name, v.at(a.Last.At), a.Last.C),
				Do:   "Wait for the next one, or look at the probe.",
			})
		}
	case floor.HoldSilent:
		return silentWords(r.GetSubject())
	case floor.HoldBoothBusy:
		return v.busy(floor.BoothID(id))
	case floor.HoldBoothFault:
		if b := v.f.Booth(floor.BoothID(id)); b != nil {
			return screens.Reason{Text: upper(name) + " is out of use: " + b.Fault + ".", Do: "Put it back in use first."}
		}
	case floor.HoldBoothClosed:
		return screens.Reason{Text: upper(name) + " is outside its hours, or they end before the first coat does.", Do: v.nextHours(floor.BoothID(id))}
	}
	if w, ok := processWords[r.GetName()]; ok {
		return w
	}
	return screens.Reason{Text: sentence(v.inUTC(r.GetText()))}
}

// settles says of a place that has been left why its air still counts.
func (v *view) settles(r *boothv1.Reason, name string, out screens.Reason) screens.Reason {
	if until := r.GetUntil(); until != nil {
		out.Text += fmt.Sprintf(" What came from there, or may have, settles until %s: its air counts until then.", v.at(upToMinute(until.AsTime())))
	}
	return out
}

func (v *view) busy(id floor.BoothID) screens.Reason {
	b := v.f.Booth(id)
	if b == nil {
		return screens.Reason{Text: "The booth is busy."}
	}
	if l := v.f.Load(b.Loaded); l != nil {
		w := fmt.Sprintf("%s is in the booth, %s", l.ID, phases[b.Phase])
		if end := l.Sprayed.Add(v.f.Process(l)); end.After(v.now) {
			w += " until about " + v.at(end)
		}
		return screens.Reason{Text: w + "."}
	}
	return screens.Reason{Text: "The booth is " + phases[b.Phase] + "."}
}

func (v *view) nextHours(id floor.BoothID) string {
	b := v.f.Booth(id)
	if b == nil {
		return ""
	}
	var next time.Time
	for _, h := range b.Hours {
		if h.From.After(v.now) && (next.IsZero() || h.From.Before(next)) {
			next = h.From
		}
	}
	if next.IsZero() {
		return "No further hours are entered for it."
	}
	return "It opens " + v.at(next) + "."
}
