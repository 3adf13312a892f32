package climate

import (
	"fmt"
	"math"

	"seamwright/services/fault"
)

// Steel of a body panel near room temperature: plain carbon steel (AISI
// 1010), density, specific heat and conductivity from Incropera, Fundamentals
// of Heat and Mass Transfer, table A.1, from memory.
const (
	SteelKgM3 = 7832.0 // kg/m³
	SteelJKgK = 434.0  // J/(kg K)
	SteelWMK  = 63.9   // W/(m K)
)

// StillAirWM2K is the heat that a panel takes from the still air of a bay per
// area and kelvin, in W/(m² K), radiation from the walls included: textbooks
// give free convection 2 to 25, from memory. The low end of what a panel
// meets makes the longer, safe lag.
const StillAirWM2K = 10.0

// MaxBiot is the Biot number up to which the inside of a plate may be taken
// as equally warm throughout (Incropera, section 5.2, from memory).
const MaxBiot = 0.1

// Panel is a metal sheet in air.
type Panel struct {
	ThicknessMM  float64
	Faces        int     // that air reaches: 1 or 2
	FilmWM2K     float64 // heat from the air per area and kelvin
	DensityKgM3  float64
	HeatJKgK     float64 // specific heat
	ConductorWMK float64 // conductivity
}

// SteelPanel is a steel sheet in the still air of a bay.
func SteelPanel(thicknessMM float64, faces int) Panel {
	return Panel{
		ThicknessMM: thicknessMM, Faces: faces, FilmWM2K: StillAirWM2K,
		DensityKgM3: SteelKgM3, HeatJKgK: SteelJKgK, ConductorWMK: SteelWMK,
	}
}

// Biot is the panel's Biot number, h Lc/k, where Lc is its volume over the
// area that air reaches.
func (p Panel) Biot() float64 {
	return p.FilmWM2K * p.ThicknessMM / 1000 / float64(p.Faces) / p.ConductorWMK
}

// TimeConstantS is how long, in s, the panel takes for 63.2 % of a step of the
// air: ρ c t/(n h), lumped capacitance. A value out of range and a panel too
// thick to be of one temperature (Biot number not below MaxBiot) are faults
// of kind Invalid.
func (p Panel) TimeConstantS() (float64, error) {
	for _, c := range []struct {
		field string
		x     float64
		most  float64
		unit  string
	}{
		{"thickness_mm", p.ThicknessMM, 1000, "mm"},
		{"film_w_m2_k", p.FilmWM2K, 100000, "W/(m² K)"},
		{"density_kg_m3", p.DensityKgM3, 25000, "kg/m³"},
		{"heat_j_kg_k", p.HeatJKgK, 15000, "J/(kg K)"},
		{"conductivity_w_m_k", p.ConductorWMK, 5000, "W/(m K)"},
	} {
		if !(c.x > 0 && c.x <= c.most) {
			return 0, fault.Bad(c.field, c.x, fmt.Sprintf("above 0 to %g %s; correct it", c.most, c.unit))
		}
	}
	if p.Faces != 1 && p.Faces != 2 {
		return 0, fault.Bad("faces", p.Faces, "1 or 2, the faces that air reaches")
	}
	if b := p.Biot(); !(b < MaxBiot) {
		return 0, fault.Bad("thickness_mm", p.ThicknessMM, fmt.Sprintf(
			"a Biot number below %g, this panel has %.3g; measure its surface instead", MaxBiot, b))
	}
	return p.DensityKgM3 * p.HeatJKgK * p.ThicknessMM / 1000 / (float64(p.Faces) * p.FilmWM2K), nil
}

// TempAfter is the temperature in °C of a panel that started at startC, after
// s seconds in air of airC: airC + (startC - airC) exp(-s/tau), Newton's law
// of cooling. The time constant tauS must be above 0, s not negative.
func TempAfter(startC, airC, tauS, s float64) (float64, error) {
	if err := checkLag(startC, airC, tauS); err != nil {
		return 0, err
	}
	if !(s >= 0) {
		return 0, fault.Bad("seconds", s, "0 or more; correct it")
	}
	return airC + (startC-airC)*math.Exp(-s/tauS), nil
}

// TimeTo is how long, in s, a panel takes from startC to targetC in air of
// airC. It never gets there when the target is not between start and air, or
// is the air itself: a fault of kind Invalid.
func TimeTo(startC, airC, targetC, tauS float64) (float64, error) {
	if err := checkLag(startC, airC, tauS); err != nil {
		return 0, err
	}
	if targetC == startC {
		return 0, nil
	}
	ratio := (startC - airC) / (targetC - airC)
	if !(ratio > 1) || math.IsInf(ratio, 0) {
		return 0, fault.Bad("target_c", targetC, fmt.Sprintf(
			"between the panel's %g °C and the air's %g °C, which it only nears; take another", startC, airC))
	}
	return tauS * math.Log(ratio), nil
}

// TimeConstantSeen is the time constant in s of a panel that went from startC
// to laterC in s seconds in air of airC, both measured on its surface: better
// than any reckoned from the metal, since it is this panel in this bay.
func TimeConstantSeen(startC, laterC, airC, s float64) (float64, error) {
	if !(s > 0) || math.IsInf(s, 0) {
		return 0, fault.Bad("seconds", s, "above 0; take the second reading later")
	}
	perTau, err := TimeTo(startC, airC, laterC, 1)
	if err != nil {
		return 0, err
	}
	if perTau == 0 {
		return 0, fault.Bad("later_c", laterC, "another temperature than at the start; take the second reading later")
	}
	return s / perTau, nil
}

// What can be a temperature; the law itself has no limits.
const minLagC, maxLagC = -273.15, 2000

func checkLag(startC, airC, tauS float64) error {
	if !(startC >= minLagC && startC <= maxLagC) {
		return fault.Bad("start_c", startC, "from -273.15 to 2000 °C; measure again")
	}
	if !(airC >= minLagC && airC <= maxLagC) {
		return fault.Bad("air_c", airC, "from -273.15 to 2000 °C; measure again")
	}
	if !(tauS > 0) || math.IsInf(tauS, 0) {
		return fault.Bad("time_constant_s", tauS, "above 0 s; correct it")
	}
	return nil
}
