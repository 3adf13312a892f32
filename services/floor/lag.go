package floor

import (
	"math"
	"time"

	"seamwright/services/calc/climate"
	"seamwright/services/calc/cure"
)

// lag is a settling time as it is for a seam whose sheet is known: how long
// that sheet takes, in still air on one face, to come from the widest
// difference (K) that there can be to as near (K) as a probe errs (lumped
// capacitance, see climate.Panel). It only shortens: a sheet that is too thick
// to be of one temperature keeps the usual time.
func (s *Seam) lag(usual time.Duration, widest, near float64) time.Duration {
	if s == nil || s.SheetMM <= 0 || !(near > 0) || !(widest > near) {
		return usual
	}
	tau, err := climate.SteelPanel(s.SheetMM, 1).TimeConstantS()
	if err != nil {
		return usual
	}
	t, err := climate.TimeTo(widest, 0, near, tau)
	if err != nil {
		return usual
	}
	return min(usual, time.Duration(math.Ceil(t))*time.Second)
}

// beyond is how far (K) the air may lie beyond the limits of a zone: a reading
// outside is taken as it is. Common practice, no source.
const beyond = 10

// widest is the widest difference (K) between the air of some zones, and what
// is held to a panel there; infinite when a zone is not known.
func (fl *Floor) widest(zones []ZoneID, fixed ...cure.Fixed) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, id := range zones {
		z, ok := fl.zones[id]
		if !ok {
			return math.Inf(1)
		}
		l := z.course.Zone().Limits
		lo, hi = math.Min(lo, l.Lo), math.Max(hi, l.Hi)
	}
	for _, f := range fixed {
		lo, hi = math.Min(lo, f.Set.Lo), math.Max(hi, f.Set.Hi)
	}
	return hi - lo + beyond
}
