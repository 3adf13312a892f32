package floor

import (
	"math"
	"time"

	"seamwright/services/calc/cure"
)

// lately is a forecast for who plans some time ahead: the air of the zones
// that a seam is in as it was over the last hour, each edge and the nominal on
// average. A forecast from the newest reading moves with every reading, and
// while the next one is waited for its edges part: each of that moves the plan
// of a whole shop to and fro by minutes. Where the seam will be in other air
// soon, or its air is not known, it is the one that clocks are told by.
func (fl *Floor) lately(s *Seam, path *cure.Path, at time.Time) cure.Forecast {
	out := path.AsOf(at).Ahead(at)
	if len(out) != 1 {
		return out
	}
	o := cure.Outlook{From: at, Set: cure.Set{Lo: math.Inf(1), Hi: math.Inf(-1)}}
	for i, id := range fl.Places(s, at) {
		z := fl.zones[id]
		if z == nil {
			return out
		}
		air, known := z.course.View(at).Lately(at, time.Hour)
		if !known {
			return out
		}
		if o.Set = o.Set.Hull(air.Set); i == 0 {
			o.NominalC, o.NominalKnown = air.NominalC, true
		}
	}
	if !o.NominalKnown {
		return out
	}
	return cure.Forecast{o}
}

// hourHigh is the hot edge of a zone's air on average over the last hour, or as
// it is where that is not known.
func (z *zoneOf) hourHigh(at time.Time) float64 {
	v := z.course.View(at)
	if o, ok := v.Lately(at, time.Hour); ok {
		return o.Set.Hi
	}
	return v.Edges(at).Hi
}
