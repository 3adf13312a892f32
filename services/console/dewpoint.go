package console

import (
	"fmt"

	"seamwright/services/calc/climate"
	"seamwright/services/calc/quantity"
	"seamwright/services/fault"
)

// DewPoint asks whether a surface may be sealed in this air. Temperatures are
// in °C unless a unit is typed with them.
type DewPoint struct {
	TempC, RH, SurfaceC string // as typed; SurfaceC may be empty
}

type dewPointAnswer struct {
	DewPointC float64  `json:"dew_point_c"`
	MarginK   *float64 `json:"margin_k"`
	Verdict   string   `json:"verdict"`
	Reasons   []string `json:"reasons"`
	Warnings  []string `json:"warnings"` // of what was typed

	airC, rh float64
	surfaceC *float64
}

func (a dewPointAnswer) Lines() []string {
	var out []string
	for _, w := range a.Warnings {
		out = append(out, "warning    "+w)
	}
	out = append(out, fmt.Sprintf("air        %s, %s %% relative humidity", degrees(a.airC), humidity(a.rh)))
	if a.surfaceC != nil {
		out = append(out, "surface    "+degrees(*a.surfaceC))
	}
	out = append(out, "dew point  "+degrees(a.DewPointC))
	if a.MarginK == nil {
		out = append(out, "margin     unknown")
	} else {
		out = append(out, "margin     "+climate.ShowMargin(*a.MarginK, 1)+" the dew point")
	}
	out = append(out, "verdict    "+a.Verdict)
	for _, r := range a.Reasons {
		out = append(out, "  "+r)
	}
	return out
}

// humidity writes relative humidity, with as many figures as show that it is
// not the most at which anything may be sealed.
func humidity(rh float64) string {
	if s := shortly(rh); s != shortly(climate.MaxRHPercent) {
		return s
	}
	return quantity.Apart(rh, climate.MaxRHPercent, 0)
}

// Run answers.
func (d DewPoint) Run(o Out) error {
	t, err := tempC("--temp-c", d.TempC, climate.MinAirC, climate.MaxAirC)
	if err != nil {
		return err
	}
	const limits = "a number above 0 to 100 %, as 55 for 55 %; check the probe"
	rh, err := number("--rh", d.RH, limits)
	if err != nil {
		return err
	}
	if !(rh > 0 && rh <= 100) {
		return fault.Bad("--rh", show(d.RH), limits)
	}
	var surface *float64
	if d.SurfaceC != "" {
		s, err := tempC("--surface-c", d.SurfaceC, climate.MinSurfaceC, climate.MaxSurfaceC)
		if err != nil {
			return err
		}
		surface = &s
	}
	a, err := climate.Assess(t, rh, surface)
	if err != nil {
		return flagged(err)
	}
	return o.put(dewPointAnswer{
		DewPointC: a.DewPointC, MarginK: a.MarginK, Verdict: string(a.Verdict), Reasons: list(a.Reasons),
		Warnings: fractionWarning(d.RH, rh), airC: t, rh: rh, surfaceC: surface,
	})
}

// fractionWarning is about a humidity that was probably typed as a fraction
// of 1: no air in a shop is as dry as 1 %.
func fractionWarning(typed string, rh float64) []string {
	if rh > 1 {
		return []string{}
	}
	return []string{fmt.Sprintf(
		"--rh %s is taken as typed, %s %% of relative humidity, which is drier than the air of any shop; if the fraction %s was meant, that is %s %%: ask again with --rh %[4]s",
		show(typed), shortly(rh), shortly(rh), shortly(rh*100))}
}
