package console

import (
	"fmt"

	"seamwright/services/calc/climate"
)

// DewPoint asks whether a surface may be sealed in this air.
type DewPoint struct {
	TempC, RH, SurfaceC string // as typed; SurfaceC may be empty
}

type dewPointAnswer struct {
	DewPointC float64  `json:"dew_point_c"`
	MarginK   *float64 `json:"margin_k"`
	Verdict   string   `json:"verdict"`
	Reasons   []string `json:"reasons"`
}

func (a dewPointAnswer) Lines() []string {
	out := []string{fmt.Sprintf("dew point  %.1f °C", a.DewPointC), "margin     unknown"}
	if a.MarginK != nil {
		out[1] = fmt.Sprintf("margin     %.1f K", *a.MarginK)
	}
	out = append(out, "verdict    "+a.Verdict)
	for _, r := range a.Reasons {
		out = append(out, "  "+r)
	}
	return out
}

// Run answers.
func (d DewPoint) Run(o Out) error {
	t, err := number("--temp-c", d.TempC, "a number from -40 to 60 °C")
	if err != nil {
		return err
	}
	rh, err := number("--rh", d.RH, "a number above 0 to 100 %")
	if err != nil {
		return err
	}
	surface, err := maybeNumber("--surface-c", d.SurfaceC, "a number from -60 to 200 °C")
	if err != nil {
		return err
	}
	a, err := climate.Assess(t, rh, surface)
	if err != nil {
		return flagged(err)
	}
	return o.put(dewPointAnswer{DewPointC: a.DewPointC, MarginK: a.MarginK, Verdict: string(a.Verdict), Reasons: list(a.Reasons)})
}
