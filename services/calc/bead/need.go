package bead

import (
	"fmt"
	"math"

	"seamwright/services/fault"
)

// MaxCartridgeML is the largest pack that is reckoned with, as in the product
// files.
const MaxCartridgeML = 10000.0

// MaxLossML is the most that is reckoned with for purge or hold-up of a nozzle.
const MaxLossML = 1000.0

// maxCartridges and maxLaidML keep a slipped point from passing for an order.
const (
	maxCartridges = 100_000
	maxLaidML     = 1e6
)

// Losses are what a seam takes beside its bead.
type Losses struct {
	PurgeML      float64 // squeezed out through each new nozzle until it runs evenly mixed
	HoldUpML     float64 // left in each nozzle when it is thrown away
	WastePercent float64 // of what is laid: tooled off, wiped up, left on tape
}

// Need is the material for some work.
type Need struct {
	LaidML     float64 // beads and beds
	WasteML    float64
	NozzlesML  float64 // purge and hold-up of all nozzles
	TotalML    float64
	Nozzles    int
	Cartridges int     // whole ones, opened for this work
	LeftML     float64 // in all of them together
}

// Estimate is what laidML of beads and beds come to out of cartridges of
// cartridgeML, with at least so many nozzles (a nozzle that gels between two
// seams is another one). Every cartridge takes a nozzle of its own, which
// costs its purge and its hold-up out of that cartridge. Errors are faults of
// kind Invalid: a value out of range, or a cartridge that its nozzle alone
// would empty.
func Estimate(laidML float64, nozzles int, l Losses, cartridgeML float64) (Need, error) {
	if err := checkNeed(laidML, nozzles, l, cartridgeML); err != nil {
		return Need{}, err
	}
	each := l.PurgeML + l.HoldUpML
	n := Need{LaidML: laidML, WasteML: laidML * l.WastePercent / 100}
	used := n.LaidML + n.WasteML
	// The slack forgives the last bits of a work that fills its cartridges
	// exactly.
	const slack = 1e-9
	cartridges := math.Ceil(used/(cartridgeML-each) - slack)
	if float64(nozzles) > cartridges { // those beyond one a cartridge cost too
		cartridges = math.Ceil((used+float64(nozzles)*each)/cartridgeML - slack)
	}
	if !(cartridges <= maxCartridges) {
		return Need{}, fault.Bad("cartridge_ml", cartridgeML, fmt.Sprintf(
			"%.4g ml of work would take more than %d of them; check the measures", laidML, maxCartridges))
	}
	n.Cartridges = int(max(1, cartridges))
	n.Nozzles = max(nozzles, n.Cartridges)
	n.NozzlesML = float64(n.Nozzles) * each
	n.TotalML = used + n.NozzlesML
	n.LeftML = max(0, float64(n.Cartridges)*cartridgeML-n.TotalML)
	return n, nil
}

func checkNeed(laidML float64, nozzles int, l Losses, cartridgeML float64) error {
	for _, err := range []error{
		positive("laid_ml", laidML, maxLaidML, "ml"),
		notNegative("purge_ml", l.PurgeML, MaxLossML, "ml"),
		notNegative("hold_up_ml", l.HoldUpML, MaxLossML, "ml"),
		notNegative("waste_percent", l.WastePercent, 1000, "%"),
		positive("cartridge_ml", cartridgeML, MaxCartridgeML, "ml"),
	} {
		if err != nil {
			return err
		}
	}
	if nozzles < 1 || nozzles > maxCartridges {
		return fault.Bad("nozzles", nozzles, fmt.Sprintf("a whole number from 1 to %d", maxCartridges))
	}
	if each := l.PurgeML + l.HoldUpML; each >= cartridgeML {
		return fault.Bad("cartridge_ml", cartridgeML, fmt.Sprintf(
			"above the %g ml that each nozzle takes for purge and hold-up; check them", each))
	}
	return nil
}
