package stock

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"seamwright/services/calc/quantity"
	"seamwright/services/fault"
)

// StoreAtMost is the temperature up to which a sealer's shelf life holds, 80 °F
// in round °C (USAF T.O. 1-1-700, para 12.8).
const StoreAtMost quantity.Temperature = 27

// ShelfLifeHolds reports whether the shelf life of a label can be relied on for
// a store that was never hotter.
func ShelfLifeHolds(hottest quantity.Temperature) bool { return hottest <= StoreAtMost }

// Lot is what is on the shelf of a lot.
type Lot struct {
	ID         string
	Cartridges int       // unopened
	Expires    time.Time // zero: keeps
	Made       time.Time // or received; zero: not known
	Recalled   bool
}

// Taken is what is taken of a lot.
type Taken struct {
	LotID      string
	Cartridges int
}

// fefo orders lots first expired first out; on the same day the oldest first
// (US Army TM 1-1500-204-23-6, para 6-1: oldest date of manufacture first).
func fefo(a, b Lot) int {
	return cmp.Or(compareDays(a.Expires, b.Expires), compareDays(a.Made, b.Made), strings.Compare(a.ID, b.ID))
}

// compareDays puts a day that is not given last.
func compareDays(a, b time.Time) int {
	switch {
	case a.IsZero() && b.IsZero():
		return 0
	case a.IsZero():
		return 1
	case b.IsZero():
		return -1
	}
	return a.Compare(b)
}

// Take takes so many unopened cartridges first expired first out. Lots that
// have expired by then or were recalled are passed by. When there are too few
// it takes what there is; short is how many are missing.
func Take(lots []Lot, need int, at time.Time) (taken []Taken, short int, err error) {
	if need < 0 || need > 1_000_000 {
		return nil, 0, fault.Bad("need", need, "from 0 to 1000000 cartridges")
	}
	taken = []Taken{}
	for i, l := range lots {
		if l.Cartridges < 0 {
			return nil, 0, fault.Bad(fmt.Sprintf("lots[%d].cartridges", i), l.Cartridges, "0 or more; count again")
		}
	}
	lots = slices.Clone(lots)
	slices.SortStableFunc(lots, fefo)
	for _, l := range lots {
		if l.Recalled || !l.Expires.IsZero() && !l.Expires.After(at) {
			continue
		}
		if n := min(need, l.Cartridges); n > 0 {
			taken = append(taken, Taken{l.ID, n})
			need -= n
		}
	}
	return taken, need, nil
}
