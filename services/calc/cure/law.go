package cure

import (
	"fmt"
	"math"

	"seamwright/services/fault"
)

// Physical constants and the range of energies that a law accepts.
const (
	// GasConstant is R in J/(mol K), the exact CODATA 2018 value cut to ten digits.
	GasConstant = 8.314462618
	// ZeroCelsius is 0 °C in kelvin.
	ZeroCelsius = 273.15

	// DefaultLowJ and DefaultHighJ bound the activation energy in J/mol of a
	// two-part sealer about which the label says nothing: the envelope of
	// published values for epoxy-amine and urethane cure near room
	// temperature and of the rule that 10 K double the rate.
	DefaultLowJ  = 45e3
	DefaultHighJ = 60e3

	minStatedJ, maxStatedJ = 1e3, 500e3 // J/mol that a label may state
	minLawC, maxLawC       = -60, 200   // °C for reference and least temperature

	// tempTol (K) is the difference below which two temperatures are the
	// same: decimal inputs such as 10.3 - 0.3 must count as touching 10.
	tempTol = 1e-9
)

// Side says which edge of the temperature set an age is counted along.
type Side uint8

// The sides of an age.
const (
	Cold    Side = iota // lower edge: what is surely reached
	Hot                 // upper edge: what is possibly passed
	Nominal             // along the readings: what is likely
)

var sideNames = [...]string{"cold", "hot", "nominal"}

// String returns cold, hot or nominal.
func (s Side) String() string {
	if int(s) < len(sideNames) {
		return sideNames[s]
	}
	return fmt.Sprintf("side-%d", uint8(s))
}

// Law is how the rate of cure depends on temperature. It is a comparable
// value and serves as a map key. The zero Law is not valid; see [Law.IsZero].
type Law struct {
	lowJ, highJ float64 // J/mol, equal unless the energy is a band
	refC        float64 // °C of the label's times
	minC        float64 // °C below which nothing is surely reached
	hasMin      bool
}

// NewLaw is the law of one activation energy in J/mol with times stated at
// refC (°C). The energy must lie within 1 to 500 kJ/mol.
func NewLaw(energyJ, refC float64) (Law, error) {
	return NewBand(energyJ, energyJ, refC)
}

// NewBand is the law of an activation energy known to lie within
// [lowJ, highJ] (J/mol); its nominal value is the middle.
func NewBand(lowJ, highJ, refC float64) (Law, error) {
	for _, j := range []float64{lowJ, highJ} {
		if !(j >= minStatedJ && j <= maxStatedJ) {
			return Law{}, fault.Bad("activation_energy_kj_mol", j/1000, "must be 1 to 500 kJ/mol; correct the product")
		}
	}
	if lowJ > highJ {
		return Law{}, fault.Bad("activation_energy_band_kj_mol", fmt.Sprintf("[%g, %g]", lowJ/1000, highJ/1000),
			"the lower end must come first; swap the ends")
	}
	if !(refC >= minLawC && refC <= maxLawC) {
		return Law{}, fault.Bad("reference_temp_c", refC, "must be -60 to 200 °C; correct the product")
	}
	return Law{lowJ: lowJ, highJ: highJ, refC: refC}, nil
}

// NewDoubling is the law whose rate doubles from refC to k kelvin above it:
// Ea = R ln 2 Tref (Tref + k) / k, from k(Tref + k) = 2 k(Tref).
func NewDoubling(k, refC float64) (Law, error) {
	if !(k > 0 && k <= 200) {
		return Law{}, fault.Bad("rate_doubles_per_k", k, "must be above 0 to 200 K; correct the product")
	}
	ref := refC + ZeroCelsius
	ea := GasConstant * math.Ln2 * ref * (ref + k) / k
	law, err := NewLaw(ea, refC)
	if err != nil && refC >= minLawC && refC <= maxLawC {
		return Law{}, fault.Bad("rate_doubles_per_k", k, fmt.Sprintf(
			"means an activation energy of %.0f kJ/mol; it must be 1 to 500 kJ/mol; correct the product", ea/1000))
	}
	return law, err
}

// DefaultLaw is the band of 45 to 60 kJ/mol for a label that names one
// temperature only. Whoever uses it should say so by [DefaultEnergy].
func DefaultLaw(refC float64) (Law, error) { return NewBand(DefaultLowJ, DefaultHighJ, refC) }

// WithMinTemp returns the law with a least temperature in °C: below it cold
// and nominal ages stand still, exactly at it they run.
func (l Law) WithMinTemp(minC float64) (Law, error) {
	if !(minC >= minLawC && minC <= maxLawC) {
		return Law{}, fault.Bad("min_temp_c", minC, "must be -60 to 200 °C; correct the product")
	}
	l.minC, l.hasMin = minC, true
	return l, nil
}

// IsZero reports whether the law was never set.
func (l Law) IsZero() bool { return l == Law{} }

// EnergyJ returns the ends and the middle of the activation energy in J/mol.
func (l Law) EnergyJ() (low, nominal, high float64) {
	return l.lowJ, (l.lowJ + l.highJ) / 2, l.highJ
}

// ReferenceC is the temperature in °C of the label's times.
func (l Law) ReferenceC() float64 { return l.refC }

// MinTempC is the least temperature in °C, if the law has one.
func (l Law) MinTempC() (float64, bool) { return l.minC, l.hasMin }

// Rate is the speed of cure at tempC (°C) relative to the reference
// temperature, on the safe side asked for. Zero at or below absolute zero.
func (l Law) Rate(tempC float64, side Side) float64 {
	if l.stalls(tempC, side) {
		return 0
	}
	t := tempC + ZeroCelsius
	if t <= 0 {
		return 0
	}
	return math.Exp(-l.energy(tempC, side) / GasConstant * (1/t - 1/(l.refC+ZeroCelsius)))
}

// stalls reports whether nothing counts at this temperature on this side.
func (l Law) stalls(tempC float64, side Side) bool {
	return l.hasMin && side != Hot && tempC < l.minC-tempTol
}

// energy picks the end of the band for a side: above the reference the
// smaller energy is the slower, below it the greater.
func (l Law) energy(tempC float64, side Side) float64 {
	switch {
	case side == Nominal:
		return (l.lowJ + l.highJ) / 2
	case (side == Cold) == (tempC >= l.refC):
		return l.lowJ
	default:
		return l.highJ
	}
}
