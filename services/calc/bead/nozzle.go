package bead

import (
	"math"

	"seamwright/services/fault"
)

// HoldUp is what stays in a static mixer when it is thrown away.
type HoldUp struct {
	ML       float64
	Measured bool // weighed by the shop; else an upper bound
}

// EmptyTube bounds the hold-up of a mixer from above: the bore with nothing in
// it, π/4 d² l. The elements take some of that room; how much no open source
// says, so a shop that wants better weighs one (Weighed).
func EmptyTube(boreMM, lengthMM float64) (HoldUp, error) {
	if err := positive("bore_mm", boreMM, 100, "mm"); err != nil {
		return HoldUp{}, err
	}
	if err := positive("mixer_length_mm", lengthMM, 2000, "mm"); err != nil {
		return HoldUp{}, err
	}
	return HoldUp{ML: math.Pi / 4 * boreMM * boreMM * lengthMM / 1000}, nil
}

// Weighed is the hold-up that the shop found: the used mixer's mass less that
// of a new one, in g, over the density of the sealer in g/ml.
func Weighed(usedG, newG, gPerML float64) (HoldUp, error) {
	if err := positive("new_g", newG, 10000, "g"); err != nil {
		return HoldUp{}, err
	}
	if !(usedG > newG && usedG <= 10000) {
		return HoldUp{}, fault.Bad("used_g", usedG, "above the mass of a new mixer, to 10000 g; weigh both again")
	}
	if err := positive("density_g_per_ml", gPerML, 25, "g/ml"); err != nil {
		return HoldUp{}, err
	}
	return HoldUp{ML: (usedG - newG) / gPerML, Measured: true}, nil
}

// ResidenceS is how long material stays in a mixer at a flow of mlPerMin, in
// s: to be compared with the gel time at the nozzle's temperature.
func ResidenceS(h HoldUp, mlPerMin float64) (float64, error) {
	if err := positive("hold_up_ml", h.ML, MaxCartridgeML, "ml"); err != nil {
		return 0, err
	}
	if err := positive("flow_ml_per_min", mlPerMin, 10000, "ml/min"); err != nil {
		return 0, err
	}
	return 60 * h.ML / mlPerMin, nil
}
