// Package climate tells whether a surface is dry enough to be sealed: the
// dew point of the air, how far a surface is above it, and a verdict with
// its reasons. It also tells how far a panel lags behind the air (see
// Panel).
package climate

import (
	"fmt"
	"math"
	"strings"

	"seamwright/services/calc/quantity"
	"seamwright/services/fault"
)

// Magnus coefficients over water (WMO-No. 8, Guide to Instruments and
// Methods of Observation, annex on humidity; Sonntag 1990). They are used
// below 0 °C too, so the answer there is the dew point over supercooled
// water, not the frost point.
const (
	magnusA = 17.62
	magnusB = 243.12 // °C
)

// The limits of the rule. That a surface is to be at least 3 K above the dew
// point is ascribed to ISO 8502-4 in secondary texts; in the standard itself
// only the scope was read, so for the clause this is from memory. That the
// relative humidity is to be no more than 85 % stands in a specification of
// protective coatings (see 02_dewpoint_rule.csv among the published values).
const (
	MinMarginK   = 3.0
	MaxRHPercent = 85.0
)

// What may be asked about.
const (
	MinAirC, MaxAirC         = -40.0, 60.0
	MinSurfaceC, MaxSurfaceC = -60.0, 200.0
)

// slackK forgives the last bits of a subtraction, so that a surface exactly
// at the margin passes.
const slackK = 1e-9

// Verdict says whether a surface may be sealed. The zero value is no
// verdict and must be read as hold.
type Verdict string

// The verdicts.
const (
	OK   Verdict = "ok"
	Hold Verdict = "hold"
)

// Assessment is a verdict and its grounds. Reasons are never nil and empty
// only for ok.
type Assessment struct {
	DewPointC float64
	MarginK   *float64 // surface less dew point; nil: surface unknown
	Verdict   Verdict
	Reasons   []string
}

// Clear reports whether a surface marginK above the dew point is far enough
// above it.
func Clear(marginK float64) bool { return marginK >= MinMarginK-slackK }

// DewPoint is the temperature in °C at which air of tempC °C (-40 to 60)
// and rhPercent relative humidity (above 0 to 100) starts to leave water on
// a surface: the inverse Magnus formula of WMO-No. 8, over water. Outside
// these ranges the error is a fault of kind Invalid.
func DewPoint(tempC, rhPercent float64) (float64, error) {
	if !(tempC >= MinAirC && tempC <= MaxAirC) {
		return 0, fault.Bad("temp_c", tempC, fmt.Sprintf("a number from %g to %g °C; check the probe", MinAirC, MaxAirC))
	}
	if !(rhPercent > 0 && rhPercent <= 100) {
		return 0, fault.Bad("rh", rhPercent, "a number above 0 to 100 %; check the probe")
	}
	g := math.Log(rhPercent/100) + magnusA*tempC/(magnusB+tempC)
	return magnusB * g / (magnusA - g), nil
}

// Assess says whether a surface may be sealed in this air: ok when it is at
// least MinMarginK above the dew point and the relative humidity is not
// above MaxRHPercent. An unknown surface (nil) holds. Ranges as for
// DewPoint, the surface from -60 to 200 °C.
func Assess(tempC, rhPercent float64, surfaceC *float64) (Assessment, error) {
	dew, err := DewPoint(tempC, rhPercent)
	if err != nil {
		return Assessment{}, err
	}
	a := Assessment{DewPointC: dew, Verdict: OK, Reasons: []string{}}
	hold := func(format string, args ...any) {
		a.Verdict = Hold
		a.Reasons = append(a.Reasons, fmt.Sprintf(format, args...))
	}
	if surfaceC == nil {
		hold("surface temperature unknown; measure it on the joint")
	} else {
		if !(*surfaceC >= MinSurfaceC && *surfaceC <= MaxSurfaceC) {
			return Assessment{}, fault.Bad("surface_c", *surfaceC,
				fmt.Sprintf("a number from %g to %g °C; measure again", MinSurfaceC, MaxSurfaceC))
		}
		margin := *surfaceC - dew
		a.MarginK = &margin
		if !Clear(margin) {
			hold("surface %s", tooNear(*surfaceC, dew))
		}
	}
	if rhPercent > MaxRHPercent {
		hold("relative humidity %s %% is above %g %%: dry or warm the air", quantity.Apart(rhPercent, MaxRHPercent, 1), MaxRHPercent)
	}
	return a, nil
}

// ShowMargin writes how far a surface is above the dew point, or below it
// where k is negative: in K with at least so many places and in °F, with as
// many more as show that it is not the margin that is needed.
func ShowMargin(k float64, places int) string {
	side, limit := "above", MinMarginK
	switch {
	case k < 0:
		k, side, limit = -k, "below", 0
	case Clear(k):
		limit = k // what the slack forgives is not shown
	}
	return fmt.Sprintf("%s K (%s °F) %s", quantity.Apart(k, limit, places),
		quantity.Apart(quantity.TemperatureDifference(k).F(), quantity.TemperatureDifference(limit).F(), 1), side)
}

// tooNear says how a surface that is too near to the dew point lies to it. Both
// temperatures are written finely enough to show it too.
func tooNear(surfaceC, dewC float64) string {
	margin := surfaceC - dewC
	needed := "at least %g K (%s) are needed"
	if margin < 0 {
		needed = "water settles on it, and it must be at least %g K (%s) above"
	}
	needed = fmt.Sprintf(needed, MinMarginK, quantity.TemperatureDifference(MinMarginK).Show(quantity.US))
	by := ShowMargin(margin, 2)
	fine := finer(by)
	return fmt.Sprintf("%s is %s the dew point %s; %s: warm the panel or dry the air", fine(surfaceC), by, fine(dewC), needed)
}

// finer writes a temperature in both scales; where a margin needed more than
// two places, with one place more than it in °C.
func finer(margin string) func(c float64) string {
	number, _, _ := strings.Cut(margin, " ")
	_, decimals, _ := strings.Cut(number, ".")
	return func(c float64) string {
		t := quantity.Temperature(c)
		if len(decimals) <= 2 {
			return quantity.Both(t)
		}
		return quantity.Round(c, len(decimals)+1) + " °C (" + t.Show(quantity.US) + ")"
	}
}
