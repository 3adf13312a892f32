package cure

import (
	"fmt"
	"math"
	"time"
)

// What may be wrong with readings or with a law.
const (
	ImplausibleJump   = "implausible-jump"                // a reading that the one before does not allow
	OutsideLimits     = "outside-limits"                  // a reading wholly outside the zone's limits
	AboveMaxTemp      = "above-max-temp"                  // warmer than the maker allows
	DefaultEnergy     = "activation-energy-assumed"       // no energy stated: the default band
	EnergyOutsideBand = "activation-energy-outside-fit"   // the stated energy does not fit the points
	PointsUnusable    = "activation-energy-points-unused" // an energy is stated and the points give none
)

// Finding is something that a person should know about a course or a law.
// From and To are zero where it is not about a stretch of time.
type Finding struct {
	Kind     string
	Reason   string
	From, To time.Time
}

// findings of one reading, given the one before (nil for the first).
func (m *mark) findings(prev *mark, z Zone) []Finding {
	var fs []Finding
	at := moment(m.at)
	if m.jump {
		fs = append(fs, Finding{
			ImplausibleJump,
			fmt.Sprintf("%.4g °C, %.4g min after %.4g °C, is more than a drift of %.4g K/min allows; check the probe",
				m.c, seconds(prev.at, m.at)/60, prev.c, z.DriftPerMin),
			moment(prev.at), at,
		})
	}
	if m.outside {
		fs = append(fs, Finding{
			OutsideLimits,
			fmt.Sprintf("%.4g °C is outside the zone's limits %.4g to %.4g °C; check the probe or the limits",
				m.c, z.Limits.Lo, z.Limits.Hi),
			at, at,
		})
	}
	return fs
}

// Warmer lists the stretches of [from, to] in which the nominal temperature
// is above maxC (°C), the most that a product allows. The rate goes on there.
func (v View) Warmer(maxC float64, from, to time.Time) []Finding {
	return warmer(nil, v.nominals(nanos(from), nanos(to)), maxC, nanos(from), nanos(to))
}

func (v pathView) Warmer(maxC float64, from, to time.Time) []Finding {
	var out []Finding
	v.each(nanos(from), nanos(to), func(h hull, from, to int64) bool {
		out = warmer(out, h.nominals(from, to), maxC, from, to)
		return true
	})
	return out
}

func (v View) nominals(from, to int64) []piece {
	if v.n == 0 {
		return nil
	}
	return v.pieces(nil, Nominal, from, to)
}

// warmer adds the stretches of some nominal pieces, told from base on, that
// are above maxC; stretches that touch become one.
func warmer(out []Finding, ps []piece, maxC float64, base, end int64) []Finding {
	for _, p := range ps {
		limit := piece{p.t0, p.t1, maxC, maxC}
		for _, q := range lesser(nil, p, limit, p.t0, p.t1, -1) {
			if math.Max(q.c0, q.c1) <= maxC+tempTol {
				continue
			}
			a, b := moment(clip(base, q.t0, end)), moment(clip(base, q.t1, end))
			if n := len(out); n > 0 && !out[n-1].To.Before(a) {
				out[n-1].To = b
				continue
			}
			out = append(out, Finding{
				AboveMaxTemp,
				fmt.Sprintf("warmer than %.4g °C, the most that the product allows; check the bead", maxC), a, b,
			})
		}
	}
	return out
}
