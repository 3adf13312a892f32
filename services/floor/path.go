package floor

import (
	"slices"
	"time"

	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/calc/cure"
)

// stretch is a part of a path before its courses are looked up.
type stretch struct {
	from  time.Time
	now   ZoneID   // the zone it is in by the last move; empty: unknown
	zones []ZoneID // the current one first, when it is known
	fixed []cure.Fixed
}

// alone reports whether a stretch has the air of one zone only.
func (p stretch) alone() bool { return len(p.zones) == 1 && len(p.fixed) == 0 }

// seamStretches are the parts of a seam's path by what a book tells.
func (fl *Floor) seamStretches(b *book, s *Seam) []stretch {
	w := fl.where[s.Job]
	if b != fl.book {
		w = fl.foldWhere(b, s.Job)
	}
	return fl.heat(b, fl.stretches(s, w.moves(s.Panel)), s)
}

// pathIn is the path of a seam by what a book tells.
func (fl *Floor) pathIn(b *book, s *Seam) *cure.Path { return fl.makePath(fl.seamStretches(b, s)) }

// pathInto is the path of a seam that is taken to another zone at a moment:
// from then on it is in the hull of where it was and where it goes.
func (fl *Floor) pathInto(s *Seam, z ZoneID, from time.Time) *cure.Path {
	parts := overlay(fl.seamStretches(fl.book, s), from, endOfTime, func(p stretch) stretch {
		p.zones = union(p.zones, []ZoneID{z})
		return p
	})
	return fl.makePath(parts)
}

func (fl *Floor) makePath(parts []stretch) *cure.Path {
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
func (fl *Floor) stretches(s *Seam, moves []move) []stretch {
	bays := fl.bays()
	stays := fl.stays(s, moves, bays)
	breaks := []time.Time{time.Unix(0, 0).UTC()}
	for _, y := range stays {
		breaks = append(breaks, y.from, y.settled)
	}
	slices.SortFunc(breaks, time.Time.Compare)
	var parts []stretch
	for _, at := range slices.CompactFunc(breaks, time.Time.Equal) {
		parts = append(parts, stretchAt(stays, bays, at))
	}
	return parts
}

// stay is one zone of a panel's way and the one before it.
type stay struct {
	from, settled time.Time
	zone          ZoneID // empty: unknown
	zones         []ZoneID
	before        []ZoneID
}

// stays are the zones of a panel's way, which begins in any of the bays.
func (fl *Floor) stays(s *Seam, moves []move, bays []ZoneID) []stay {
	var stays []stay
	before := bays
	for i, m := range moves {
		if i > 0 && m.zone == moves[i-1].zone {
			continue
		}
		zones := []ZoneID{m.zone}
		if m.zone == "" {
			zones = union(before, bays) // it may not have gone far
		}
		var settling time.Duration
		if z, ok := fl.zones[m.zone]; ok {
			zone := z.course.Zone()
			settling = s.lag(zone.Settling, fl.widest(union(zones, before)), zone.ProbeErrorC)
		}
		stays = append(stays, stay{m.early, m.late.Add(settling), m.zone, zones, before})
		before = zones
	}
	return stays
}

func stretchAt(stays []stay, bays []ZoneID, at time.Time) stretch {
	p := stretch{from: at, zones: bays}
	for _, y := range stays {
		if y.from.After(at) {
			break
		}
		p.now, p.zones = y.zone, y.zones
	}
	for _, y := range stays {
		if !y.from.After(at) && at.Before(y.settled) {
			p.zones = union(union(p.zones, y.zones), y.before)
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
// until the panel has settled again, and what was measured on its surface.
func (fl *Floor) heat(b *book, parts []stretch, s *Seam) []stretch {
	for _, f := range b.of(s.ID.key()) {
		switch e := f.body.(type) {
		case *jobsv1.HeatApplied:
			fix := heatSet(e, fl.probeError(parts))
			begin := f.early.Add(-e.GetLasted().AsDuration())
			end := f.late.Add(fl.settling(s, parts, f.late, fix))
			parts = overlay(parts, begin, end, func(p stretch) stretch {
				p.fixed = append(slices.Clone(p.fixed), fix)
				return p
			})
		case *jobsv1.BeadLaid:
			if e.SurfaceTempC != nil {
				parts = fl.measured(s, parts, f.early.Add(-e.GetLasted().AsDuration()), e.GetSurfaceTempC())
			}
		case *jobsv1.SurfacePrepped:
			if e.SurfaceTempC != nil {
				parts = fl.measured(s, parts, f.early, e.GetSurfaceTempC())
			}
		}
	}
	return parts
}

// measured: once the panel's own surface was measured, that stands for the
// zone it came from, until it has settled from there or is moved again.
func (fl *Floor) measured(s *Seam, parts []stretch, at time.Time, c float64) []stretch {
	err := fl.probeError(parts)
	fix := cure.Fixed{Set: cure.Set{Lo: c - err, Hi: c + err}, NominalC: c}
	now, until := zoneUntil(parts, at)
	if now == "" {
		return parts
	}
	stand := func(p stretch) stretch {
		p.zones, p.fixed = []ZoneID{now}, append(slices.Clone(p.fixed), fix)
		return p
	}
	settled := at.Add(fl.settling(s, parts, at, fix))
	if settled.After(until) {
		settled = until
	}
	parts = overlay(parts, at, settled, stand)
	return overlay(parts, settled, until, func(p stretch) stretch {
		if len(p.zones) > 1 {
			return stand(p)
		}
		return p
	})
}

// zoneUntil is the zone that a panel is in at a moment, by its last move, and
// when it leaves it.
func zoneUntil(parts []stretch, at time.Time) (now ZoneID, until time.Time) {
	until = endOfTime
	for _, p := range parts {
		if !p.from.After(at) {
			now = p.now
		} else if p.now != now {
			return now, p.from
		}
	}
	return now, until
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

// settling is how long a seam takes after a moment from what was held to it,
// or measured on it, to the air that it is in.
func (fl *Floor) settling(s *Seam, parts []stretch, at time.Time, held cure.Fixed) time.Duration {
	var d time.Duration
	for _, p := range parts {
		if p.from.After(at) {
			break
		}
		d = 0
		for _, z := range p.zones {
			if zone, ok := fl.zones[z]; ok {
				zone := zone.course.Zone()
				d = max(d, s.lag(zone.Settling, fl.widest(p.zones, held), zone.ProbeErrorC))
			}
		}
	}
	return d
}

// overlay changes the parts between two moments, cutting those that reach
// over the edges.
func overlay(parts []stretch, begin, end time.Time, change func(stretch) stretch) []stretch {
	if !begin.Before(end) {
		return parts
	}
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
