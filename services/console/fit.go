package console

import (
	"fmt"
	"maps"
	"slices"

	"seamwright/services/calc/cure"
	"seamwright/services/intake"
)

// Fit asks for the activation energy that times at several temperatures give.
type Fit struct {
	Points     string // file
	ReferenceC string
}

type fitAnswer struct {
	Energy    float64            `json:"activation_energy_kj_mol"`
	Low       *float64           `json:"activation_energy_low_kj_mol"` // 95 % band; null with no degree of freedom
	High      *float64           `json:"activation_energy_high_kj_mol"`
	Reference map[string]float64 `json:"reference_minutes"` // by stage
}

func (a fitAnswer) Lines() []string {
	out := []string{fmt.Sprintf("activation energy  %.2f kJ/mol", a.Energy), "95 % band          unknown: no degree of freedom is left"}
	if a.Low != nil {
		out[1] = fmt.Sprintf("95 %% band          %.2f to %.2f kJ/mol", *a.Low, *a.High)
	}
	for _, s := range slices.Sorted(maps.Keys(a.Reference)) {
		out = append(out, fmt.Sprintf("%-18s %.2f min at the reference temperature", s, a.Reference[s]))
	}
	return out
}

// Run answers.
func (q Fit) Run(o Out) error {
	points, err := readFile("POINTS", q.Points, intake.ReadPoints)
	if err != nil {
		return err
	}
	ref, err := number("--reference-temp-c", q.ReferenceC, "a number from -60 to 200 °C")
	if err != nil {
		return err
	}
	in := make([]cure.Point, len(points))
	for i, p := range points {
		in[i] = cure.Point{Stage: string(p.Stage), TempC: p.TempC, Minutes: p.Minutes}
	}
	f, err := cure.FitPoints(in, ref)
	if err != nil {
		return err
	}
	a := fitAnswer{Energy: f.EnergyJ / kJ, Reference: f.RefMinutes}
	if f.DoF > 0 {
		low, high := f.LowJ/kJ, f.HighJ/kJ
		a.Low, a.High = &low, &high
	}
	return o.put(a)
}
