package stock

import (
	"fmt"

	"seamwright/services/fault"
)

// maxLevels is how far apart reorder point and level may be: what is reckoned
// grows with its square.
const maxLevels = 10_000

func checkLevels(mean float64, lead int) error {
	if !(mean > 0 && mean <= 1000) {
		return fault.Bad("mean", mean, "above 0 to 1000; for more take normal demand")
	}
	if lead < 0 || mean*float64(lead+1) > 10_000 {
		return fault.Bad("lead", lead, "from 0, with at most 10000 units until a delivery; count in larger units")
	}
	return nil
}

func errLevels(s, upTo int) error {
	return fault.Bad("up_to", upTo, fmt.Sprintf("above the reorder point %d, at most %d apart and within as much of 0; correct them", s, maxLevels))
}
