package floor

import (
	"fmt"
	"time"

	"seamwright/services/calc/climate"
	"seamwright/services/calc/cure"
	"seamwright/services/calc/spec"
)

// rules applies the rules of what goes on a seam to the layer as it was laid.
func (c *seamCheck) rules(p *Product) {
	l, s := c.f.lay, c.s
	if l.layer == spec.Bed {
		return // the bed is what the bead will be judged by
	}
	app := spec.Application{
		Product: p.Spec, Profile: c.after.Bead.Profile, Technique: c.technique(), Substrate: s.Substrate,
		Orientation: s.Orientation, Finish: s.Finish, FirstCoat: s.firstCoat, WidthMM: s.planned().WidthMM,
		Reference: s.Reference, Procedure: s.Procedure,
	}
	if s.Plan != nil {
		app.Planned = &spec.Planned{Profile: s.Plan.Profile, Technique: s.Plan.Technique, ProductID: string(s.Plan.Product)}
		if q := c.a.fl.productAt(c.a.book, s.Plan.Product, l.begun); q != nil {
			app.Planned.Class, app.Planned.Colour = q.Spec.Class, q.Spec.Colour
		}
	}
	app.MarginK, app.RHPercent = c.air()
	for _, w := range spec.Check(app) {
		c.add(w.Rule, w.Severity, w.Reason, w.Basis)
	}
}

// technique is how the bead was really applied: a wet bed that was laid
// counts, one that was only planned does not.
func (c *seamCheck) technique() spec.Technique {
	t := c.after.Bead.Technique
	switch {
	case t.WetBed() && !c.after.Bead.Has(spec.Bed):
		return spec.DirectBead
	case !t.WetBed() && c.after.Bead.Has(spec.Bed):
		return spec.WetBedThenBead
	}
	return t
}

// air is the margin above the dew point and the humidity when laying began;
// nil where they are not known. Without a measured surface the panel is
// taken at the cold edge of the air.
func (c *seamCheck) air() (marginK, rh *float64) {
	l := c.f.lay
	zones := c.places()
	if len(zones) == 0 || c.a.fl.zones[zones[0]] == nil {
		return nil, nil
	}
	h, ok := c.a.fl.zones[zones[0]].humidAt(l.begun)
	if !ok {
		return nil, nil
	}
	surface := l.surfaceC
	if surface == nil {
		lo := c.panel(zones[0]).Lo
		if h.surfaceC != nil && lo >= *h.surfaceC {
			lo = *h.surfaceC
		}
		surface = &lo
	}
	a, err := climate.Assess(h.c, h.rh, surface)
	if err != nil {
		return nil, &h.rh
	}
	return a.MarginK, &h.rh
}

// temperature asks whether the panel was within what the product allows.
func (c *seamCheck) temperature(p *Product) {
	set, ok := c.surface()
	if !ok {
		return
	}
	if p.MinC != nil && set.Lo < *p.MinC {
		c.add("below-product-temperature", spec.Query, fmt.Sprintf("It may have been as cold as %.1f °C when laying began; the product wants %.1f °C.", set.Lo, *p.MinC), productSheet)
	}
	if p.MaxC != nil && set.Hi > *p.MaxC {
		c.add("above-product-temperature", spec.Query, fmt.Sprintf("It may have been as warm as %.1f °C when laying began; the product allows %.1f °C.", set.Hi, *p.MaxC), productSheet)
	}
}

// surface is the set that the panel's temperature lay in when laying began;
// false while nothing was read.
func (c *seamCheck) surface() (cure.Set, bool) {
	l := c.f.lay
	if l.surfaceC != nil {
		return cure.Set{Lo: *l.surfaceC, Hi: *l.surfaceC}, true
	}
	zones := c.places()
	if len(zones) == 0 || c.a.fl.zones[zones[0]] == nil {
		return cure.Set{}, false
	}
	seen := c.a.fl.zones[zones[0]].course.Hindsight()
	if _, known := seen.Nominal(l.begun); !known || !seen.Fresh(l.begun) {
		return cure.Set{}, false
	}
	return c.panel(zones[0]), true
}

// places lists the zones that the seam's panel may have been in when laying
// began, the one that it was told to be in first.
func (c *seamCheck) places() []ZoneID {
	return placesAt(c.a.fl.stretches(c.s, c.moves()), c.f.lay.begun)
}

func (c *seamCheck) moves() []move { return c.a.fl.foldWhere(c.a.book, c.s.Job).moves(c.s.Panel) }

// panel is the set that the panel lay in when laying began: that of its
// zone's air, and while it settles there that of the zone it came from as
// well. Where it was before anybody said is not guessed at here: a query is
// for what is known. A car that was rolled out of a booth to where nobody said
// has kept the booth's heat until it may have settled since.
func (c *seamCheck) panel(now ZoneID) cure.Set {
	at := c.f.lay.begun
	set := c.a.fl.zones[now].course.Hindsight().Edges(at)
	var from *zoneOf
	var left time.Time // from, for where nobody knows; zero: it was not
	for _, m := range c.moves() {
		to := c.a.fl.zones[m.zone]
		if to == nil {
			if left.IsZero() {
				left = m.late
			}
			continue
		}
		since := m.late
		if !left.IsZero() {
			since = left
		}
		if from != nil && from != to && !m.early.After(at) && at.Before(since.Add(to.course.Zone().Settling)) {
			if seen := from.course.Hindsight(); seen.Fresh(at) {
				set = set.Hull(seen.Edges(at))
			}
		}
		from, left = to, time.Time{}
	}
	return set
}
