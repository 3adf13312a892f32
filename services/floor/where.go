package floor

import (
	"slices"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

// move is a change of place: somewhere between early and late the panel came
// into the zone.
type move struct {
	early, late time.Time
	zone        ZoneID // empty: it left the one before, and nobody said where to
	inferred    bool   // by the terminal in use or the booth, not by a tap
}

// whereabouts is where the panels of a job have been, in order.
type whereabouts struct {
	car    []move
	panels map[PanelID][]move // panels that were ever off the car, from the beginning
	off    map[PanelID]bool
	tablet string // the bay terminal that its seams were last worked at; empty: none
}

// foldWhere makes the whereabouts of a job out of its facts.
func (fl *Floor) foldWhere(b *book, ro RO) *whereabouts {
	facts := b.of(ro.where())
	if len(facts) == 0 {
		return nil
	}
	w := &whereabouts{panels: map[PanelID][]move{}, off: map[PanelID]bool{}}
	for _, f := range facts {
		switch e := f.body.(type) {
		case *jobsv1.CarMoved:
			w.moveCar(move{f.early, f.late, ZoneID(e.GetZoneId()), false})
		case *jobsv1.PanelMoved:
			w.movePanel(PanelID(e.GetPanel()), e.GetOffCar(), move{f.early, f.late, ZoneID(e.GetZoneId()), false})
		case *boothv1.SprayStarted:
			w.toBooth(b, e, f)
		case *boothv1.LoadFinished:
			w.outOfBooth(b, e, f)
		default:
			fl.infer(b, w, f)
		}
	}
	return w
}

// moveCar takes the car along, and every panel that is on it.
func (w *whereabouts) moveCar(m move) {
	w.car = append(w.car, m)
	for p, list := range w.panels {
		if !w.off[p] {
			w.panels[p] = append(list, m)
		}
	}
}

// movePanel keeps a panel's own list once it was off the car. Fitted again,
// it goes where the car goes; where it is fitted, the car is.
func (w *whereabouts) movePanel(p PanelID, off bool, m move) {
	if !off && !w.off[p] {
		w.moveCar(m)
		return
	}
	if _, ok := w.panels[p]; !ok {
		w.panels[p] = slices.Clone(w.car)
	}
	w.panels[p] = append(w.panels[p], m)
	w.off[p] = off
	if !off && lastZone(w.car) != m.zone {
		w.car = append(w.car, m)
	}
}

// toBooth: what is sprayed is in the booth.
func (w *whereabouts) toBooth(b *book, e *boothv1.SprayStarted, f *fact) {
	zone, load := boothZone(b, BoothID(e.GetBoothId())), plannedLoad(b, LoadID(e.GetLoadId()))
	if zone == "" || load == nil {
		return
	}
	for _, p := range w.sprayed(b, load) {
		w.add(p, move{f.early, f.late, zone, true})
	}
}

// outOfBooth: what is finished is rolled out, and where to shows when
// somebody works on it, or taps.
func (w *whereabouts) outOfBooth(b *book, e *boothv1.LoadFinished, f *fact) {
	zone, load := boothZone(b, BoothID(e.GetBoothId())), plannedLoad(b, LoadID(e.GetLoadId()))
	if zone == "" || load == nil {
		return
	}
	for _, p := range w.sprayed(b, load) {
		list := w.car
		if w.off[p] {
			list = w.panels[p]
		}
		if lastZone(list) == zone {
			w.add(p, move{f.early, f.late, "", true})
		}
	}
}

// sprayed lists what a load takes into the booth: panels that are off the
// car, and the car itself, as the empty panel, for all others.
func (w *whereabouts) sprayed(b *book, load *boothv1.LoadPlanned) []PanelID {
	var out []PanelID
	onCar := len(load.GetSeamIds()) == 0
	for _, s := range load.GetSeamIds() {
		if p := panelOf(b, SeamID(s)); w.off[p] {
			out = append(out, p)
		} else {
			onCar = true
		}
	}
	if onCar {
		out = append(out, "")
	}
	return out
}

// add appends an inferred move unless the thing is there already.
func (w *whereabouts) add(p PanelID, m move) {
	switch {
	case w.off[p] && lastZone(w.panels[p]) != m.zone:
		w.panels[p] = append(w.panels[p], m)
	case !w.off[p] && lastZone(w.car) != m.zone:
		w.moveCar(m)
	}
}

func lastZone(list []move) ZoneID {
	if len(list) == 0 {
		return ""
	}
	return list[len(list)-1].zone
}

// infer reads the place off the terminal that a hands-on fact was told at.
// A claimed fact may have been told anywhere.
func (fl *Floor) infer(b *book, w *whereabouts, f *fact) {
	if !handsOn(f) {
		return
	}
	zone := fl.terminalZone(b, f.head.Terminal, f.at)
	if zone == "" {
		return
	}
	w.tablet = f.head.Terminal
	if f.head.AgeKind == AgeClaimed || f.head.AgeKind == AgeSigned {
		return
	}
	for _, s := range seamsOf(f) {
		w.add(panelOf(b, s), move{f.early, f.late, zone, true})
	}
}

// handsOn reports whether a fact is told beside the seam that it is about.
func handsOn(f *fact) bool {
	if f.lay != nil {
		return true
	}
	switch f.body.(type) {
	case *jobsv1.SurfacePrepped, *jobsv1.BeadTooled, *jobsv1.BeadDeaired, *jobsv1.SeamScuffed, *jobsv1.HeatApplied, *jobsv1.SeamReworked:
		return true
	}
	return false
}

// seamsOf lists the seams that a fact is about.
func seamsOf(f *fact) []SeamID {
	if f.lay != nil {
		return []SeamID{f.lay.seam}
	}
	switch e := f.body.(type) {
	case interface{ GetSeamIds() []string }:
		var out []SeamID
		for _, s := range e.GetSeamIds() {
			out = append(out, SeamID(s))
		}
		return out
	case interface{ GetSeamId() string }:
		return []SeamID{SeamID(e.GetSeamId())}
	}
	return nil
}

// newest is the newest body of a type among the facts of a thing.
func newest[M any](facts []*fact) (m M, ok bool) {
	for _, f := range slices.Backward(facts) {
		if m, ok = any(f.body).(M); ok {
			return m, true
		}
	}
	return m, false
}

// panelOf is the panel of a seam as last surveyed; empty when unknown.
func panelOf(b *book, s SeamID) PanelID {
	e, _ := newest[*jobsv1.SeamSurveyed](b.of(s.key()))
	return PanelID(e.GetPanel())
}

// boothZone is the zone of a booth as last defined; empty when unknown.
func boothZone(b *book, id BoothID) ZoneID {
	e, _ := newest[*boothv1.BoothDefined](b.of(id.key()))
	return ZoneID(e.GetZoneId())
}

// plannedLoad is a load as last told, or nil; where the planner moved it is
// left out.
func plannedLoad(b *book, id LoadID) *boothv1.LoadPlanned {
	for _, f := range slices.Backward(b.of(id.key())) {
		if e, ok := f.body.(*boothv1.LoadPlanned); ok && !e.GetMoved() {
			return e
		}
	}
	return nil
}

// terminalZone is the zone that a terminal stood in at a moment, by the
// newest definition up to then that names it; by a later one when it was
// only entered afterwards; empty when no zone ever named it.
func (fl *Floor) terminalZone(b *book, t string, at time.Time) ZoneID {
	switch {
	case t == "":
		return ""
	case b == fl.book && !at.Before(fl.enrolled):
		return fl.stands[t]
	}
	return fl.standsIn(b, t, at)
}

// standsIn looks through the definitions. Of two that name the terminal one is
// always the newer, whatever order they are met in.
func (fl *Floor) standsIn(b *book, t string, at time.Time) ZoneID {
	var best *fact
	var zone ZoneID
	for z := range fl.zones {
		f := definition(b, z, at)
		if f == nil || !slices.Contains(f.body.(*curesv1.ZoneDefined).GetTerminals(), t) {
			continue
		}
		if best == nil || best.at.After(at) && !f.at.After(at) || best.at.After(at) == f.at.After(at) && compareFacts(f, best) > 0 {
			best, zone = f, z
		}
	}
	return zone
}

// enrol notes where each terminal stands by the newest definitions, which is
// what nearly every fact asks for.
func (fl *Floor) enrol() {
	fl.stands, fl.enrolled = map[string]ZoneID{}, time.Time{}
	for z := range fl.zones {
		for _, f := range fl.book.of(z.key()) {
			fl.enrolled = later(fl.enrolled, f.at)
			for _, t := range f.body.(*curesv1.ZoneDefined).GetTerminals() {
				fl.stands[t] = ""
			}
		}
	}
	for t := range fl.stands {
		fl.stands[t] = fl.standsIn(fl.book, t, fl.enrolled)
	}
}

// definition is a zone's definition in force at a moment, or its first one.
func definition(b *book, z ZoneID, at time.Time) *fact {
	var best *fact
	for _, f := range b.of(z.key()) {
		if best == nil || !f.at.After(at) {
			best = f
		}
	}
	return best
}

// moves is where a panel has been.
func (w *whereabouts) moves(p PanelID) []move {
	if w == nil {
		return nil
	}
	if list, ok := w.panels[p]; ok {
		return list
	}
	return w.car
}

// carAt is the zone that the car was in at a moment, by what was told; empty
// when unknown.
func (w *whereabouts) carAt(at time.Time) ZoneID {
	var zone ZoneID
	if w != nil {
		for _, m := range w.car {
			if m.early.After(at) {
				break
			}
			zone = m.zone
		}
	}
	return zone
}

// Zone is where a seam's panel is now; empty when unknown.
func (fl *Floor) Zone(s *Seam) ZoneID { return lastZone(fl.where[s.Job].moves(s.Panel)) }

// Tablet is the bay terminal that a job's seams were last worked at; empty
// when none was.
func (fl *Floor) Tablet(ro RO) string {
	if w := fl.where[ro]; w != nil {
		return w.tablet
	}
	return ""
}
