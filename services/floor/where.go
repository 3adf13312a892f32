package floor

import (
	"slices"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/calc/cure"
)

// move is a change of place: somewhere between early and late the panel came
// into the zone.
type move struct {
	early, late time.Time
	zone        ZoneID
	inferred    bool // by the terminal in use or the booth, not by a tap
}

// whereabouts is where the panels of a job have been, in order.
type whereabouts struct {
	car    []move
	panels map[PanelID][]move // while a panel was off the car: since it came off
	off    map[PanelID]bool
}

// foldWhere makes the whereabouts of a job out of its facts.
func (fl *Floor) foldWhere(b *book, ro RO) *whereabouts {
	w := &whereabouts{panels: map[PanelID][]move{}, off: map[PanelID]bool{}}
	for _, f := range b.of(ro.where()) {
		switch e := f.body.(type) {
		case *jobsv1.CarMoved:
			w.car = append(w.car, move{f.early, f.late, ZoneID(e.GetZoneId()), false})
		case *jobsv1.PanelMoved:
			w.movePanel(PanelID(e.GetPanel()), e.GetOffCar(), move{f.early, f.late, ZoneID(e.GetZoneId()), false})
		case *boothv1.SprayStarted:
			w.toBooth(fl, e, f)
		default:
			fl.infer(b, w, f)
		}
	}
	return w
}

// movePanel keeps a panel's own list once it was off the car. Fitted again,
// it goes where the car goes.
func (w *whereabouts) movePanel(p PanelID, off bool, m move) {
	if !off && !w.off[p] {
		w.car = append(w.car, m)
		return
	}
	if _, ok := w.panels[p]; !ok {
		w.panels[p] = slices.Clone(w.car)
	}
	w.panels[p] = append(w.panels[p], m)
	w.off[p] = off
}

// toBooth: what is sprayed is in the booth.
func (w *whereabouts) toBooth(fl *Floor, e *boothv1.SprayStarted, f *fact) {
	booth, load := fl.booths[BoothID(e.GetBoothId())], fl.loads[LoadID(e.GetLoadId())]
	if booth == nil || load == nil {
		return
	}
	m := move{f.early, f.late, booth.Zone, true}
	onCar := len(load.Seams) == 0
	for _, s := range load.Seams {
		p := fl.panelOf(s)
		if w.off[p] {
			w.add(p, m)
		} else {
			onCar = true
		}
	}
	if onCar {
		w.add("", m)
	}
}

// add appends an inferred move unless the thing is there already.
func (w *whereabouts) add(p PanelID, m move) {
	list := w.car
	if w.off[p] {
		list = w.panels[p]
	}
	if n := len(list); n > 0 && list[n-1].zone == m.zone {
		return
	}
	if w.off[p] {
		w.panels[p] = append(list, m)
	} else {
		w.car = append(list, m)
	}
}

// infer reads the place off the terminal that a hands-on fact was told at.
// A claimed fact may have been told anywhere.
func (fl *Floor) infer(_ *book, w *whereabouts, f *fact) {
	if f.head.AgeKind == AgeClaimed || f.head.AgeKind == AgeSigned || !handsOn(f) {
		return
	}
	zone := fl.terminalZone(f.head.Terminal)
	if zone == "" {
		return
	}
	var p PanelID
	for _, s := range seamsOf(f) {
		p = fl.panelOf(s)
	}
	w.add(p, move{f.early, f.late, zone, true})
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

func (fl *Floor) panelOf(s SeamID) PanelID {
	if seam, ok := fl.seams[s]; ok {
		return seam.Panel
	}
	return ""
}

// terminalZone is the zone that a terminal stands in; empty when unknown.
func (fl *Floor) terminalZone(t string) ZoneID { return fl.terminals[t] }

// moves is where a panel has been.
func (w *whereabouts) moves(p PanelID) []move {
	if list, ok := w.panels[p]; ok {
		return list
	}
	return w.car
}

// Zone is where a seam's panel is now; empty when unknown.
func (fl *Floor) Zone(s *Seam) ZoneID {
	w := fl.where[s.Job]
	if w == nil {
		return ""
	}
	if list := w.moves(s.Panel); len(list) > 0 {
		return list[len(list)-1].zone
	}
	return ""
}

// stretch is a part of a path before its courses are looked up.
type stretch struct {
	from  time.Time
	now   ZoneID   // the zone it is in by the last move; empty: unknown
	zones []ZoneID // the current one first, when it is known
	fixed []cure.Fixed
}

// path is what a seam cures in from a moment on: the zones that its panel
// was in, the hull of old and new while it settles, the heat that was held to
// it, and every bay while nobody knows. Nil when no zone is known at all.
func (fl *Floor) path(s *Seam) *cure.Path {
	if p, ok := fl.paths.get(s.ID); ok {
		return p
	}
	p := fl.makePath(fl.where[s.Job], s)
	fl.paths.put(s.ID, p)
	return p
}

func (fl *Floor) makePath(w *whereabouts, s *Seam) *cure.Path {
	var moves []move
	if w != nil {
		moves = w.moves(s.Panel)
	}
	parts := fl.stretches(moves)
	parts = fl.heat(parts, s)
	var spans []cure.Span
	for _, p := range parts {
		sp := cure.Span{From: p.from, Fixed: p.fixed}
		for _, z := range p.zones {
			if zone, ok := fl.zones[z]; ok {
				sp.Zones = append(sp.Zones, zone.course)
			}
		}
		if len(sp.Zones) == 0 {
			return nil
		}
		spans = append(spans, sp)
	}
	path, err := cure.NewPath(spans...)
	if err != nil {
		return nil // no zone is known: the gate holds by that name
	}
	return path
}

// stretches turns moves into parts of a path: the zone that the panel is in,
// and while it settles the one it came from as well.
func (fl *Floor) stretches(moves []move) []stretch {
	stays := fl.stays(moves)
	breaks := []time.Time{time.Unix(0, 0).UTC()}
	for _, y := range stays {
		breaks = append(breaks, y.from, y.settled)
	}
	slices.SortFunc(breaks, time.Time.Compare)
	var parts []stretch
	for _, at := range slices.CompactFunc(breaks, time.Time.Equal) {
		parts = append(parts, fl.stretchAt(stays, at))
	}
	return parts
}

// stay is one zone of a panel's way and the one before it.
type stay struct {
	from, settled time.Time
	zone          ZoneID
	before        []ZoneID
}

func (fl *Floor) stays(moves []move) []stay {
	var stays []stay
	before := fl.bays()
	for i, m := range moves {
		if i > 0 && m.zone == moves[i-1].zone {
			continue
		}
		var settling time.Duration
		if z, ok := fl.zones[m.zone]; ok {
			settling = z.course.Zone().Settling
		}
		stays = append(stays, stay{m.early, m.late.Add(settling), m.zone, before})
		before = []ZoneID{m.zone}
	}
	return stays
}

func (fl *Floor) stretchAt(stays []stay, at time.Time) stretch {
	p := stretch{from: at, zones: fl.bays()}
	for _, y := range stays {
		if y.from.After(at) {
			break
		}
		p.now, p.zones = y.zone, []ZoneID{y.zone}
	}
	for _, y := range stays {
		if !y.from.After(at) && at.Before(y.settled) {
			p.zones = union(p.zones, append([]ZoneID{y.zone}, y.before...))
		}
	}
	return p
}

func union(a, b []ZoneID) []ZoneID {
	out := slices.Clone(a)
	for _, z := range b {
		if !slices.Contains(out, z) {
			out = append(out, z)
		}
	}
	return out
}

// bays are the zones that a car of unknown whereabouts may be in.
func (fl *Floor) bays() []ZoneID {
	var out []ZoneID
	for id, z := range fl.zones {
		if z.Works {
			out = append(out, id)
		}
	}
	slices.Sort(out)
	return out
}

// Common practice, no source: without a measured surface and without the
// setting of the heat source, gentle heat stays below 80 °C.
const gentleHeatC = 80

// heat lays the heat that was held to a seam over its path, from its begin
// until the panel has settled again.
func (fl *Floor) heat(parts []stretch, s *Seam) []stretch {
	for _, f := range fl.book.of(s.ID.key()) {
		switch e := f.body.(type) {
		case *jobsv1.HeatApplied:
			fix := heatSet(e, fl.probeError(parts))
			begin := f.early.Add(-e.GetLasted().AsDuration())
			end := f.late.Add(fl.settling(parts, f.late))
			parts = overlay(parts, begin, end, func(p stretch) stretch {
				p.fixed = append(slices.Clone(p.fixed), fix)
				return p
			})
		case *jobsv1.BeadLaid:
			if e.SurfaceTempC != nil {
				parts = fl.measured(parts, f.at, e.GetSurfaceTempC())
			}
		}
	}
	return parts
}

// measured: once the panel's own surface was measured, that stands for the
// zone it came from until it has settled.
func (fl *Floor) measured(parts []stretch, at time.Time, c float64) []stretch {
	err := fl.probeError(parts)
	fix := cure.Fixed{Set: cure.Set{Lo: c - err, Hi: c + err}, NominalC: c}
	return overlay(parts, at, endOfTime, func(p stretch) stretch {
		if p.now != "" && len(p.zones) > 1 {
			p.zones, p.fixed = []ZoneID{p.now}, append(slices.Clone(p.fixed), fix)
		}
		return p
	})
}

func heatSet(e *jobsv1.HeatApplied, err float64) cure.Fixed {
	switch {
	case e.SurfaceTempC != nil:
		c := e.GetSurfaceTempC()
		return cure.Fixed{Set: cure.Set{Lo: c - err, Hi: c + err}, NominalC: c}
	case e.SourceTempC != nil:
		c := e.GetSourceTempC()
		return cure.Fixed{Set: cure.Set{Lo: c, Hi: c}, NominalC: c}
	}
	return cure.Fixed{Set: cure.Set{Lo: gentleHeatC, Hi: gentleHeatC}, NominalC: gentleHeatC}
}

func (fl *Floor) probeError(parts []stretch) float64 {
	for _, z := range parts[len(parts)-1].zones {
		if zone, ok := fl.zones[z]; ok {
			return zone.course.Zone().ProbeErrorC
		}
	}
	return 0
}

func (fl *Floor) settling(parts []stretch, at time.Time) time.Duration {
	var d time.Duration
	for _, p := range parts {
		if p.from.After(at) {
			break
		}
		d = 0
		for _, z := range p.zones {
			if zone, ok := fl.zones[z]; ok {
				d = max(d, zone.course.Zone().Settling)
			}
		}
	}
	return d
}

// overlay changes the parts between two moments, cutting those that reach
// over the edges.
func overlay(parts []stretch, begin, end time.Time, change func(stretch) stretch) []stretch {
	var out []stretch
	for i, p := range parts {
		stop := time.Time{}
		if i+1 < len(parts) {
			stop = parts[i+1].from
		}
		out = append(out, cut(p, stop, begin, end, change)...)
	}
	return out
}

func cut(p stretch, stop, begin, end time.Time, change func(stretch) stretch) []stretch {
	if !stop.IsZero() && !stop.After(begin) || !p.from.Before(end) {
		return []stretch{p}
	}
	mid := change(p)
	var out []stretch
	if p.from.Before(begin) {
		out = append(out, p)
		mid.from = begin
	}
	out = append(out, mid)
	if stop.IsZero() || stop.After(end) {
		rest := p
		rest.from = end
		out = append(out, rest)
	}
	return out
}
