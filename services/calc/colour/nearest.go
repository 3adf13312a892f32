package colour

import (
	"cmp"
	"slices"
)

// Stocked is a colour that the shop has on the shelf.
type Stocked struct {
	ID  string // of the product
	Lab Lab
}

// Match is a stocked colour and how far it is from what was wanted.
type Match struct {
	Stocked
	Difference float64 // CIEDE2000
}

// Ranked puts stocked colours in order, the nearest to the wanted one first;
// equally near ones by identifier. Never nil.
func Ranked(want Lab, stock []Stocked) []Match {
	out := make([]Match, len(stock))
	for i, s := range stock {
		out[i] = Match{s, Difference(want, s.Lab)}
	}
	slices.SortFunc(out, func(a, b Match) int {
		return cmp.Or(cmp.Compare(a.Difference, b.Difference), cmp.Compare(a.ID, b.ID))
	})
	return out
}

// Nearest is the stocked colour nearest to the wanted one; false when there
// is none.
func Nearest(want Lab, stock []Stocked) (Match, bool) {
	if len(stock) == 0 {
		return Match{}, false
	}
	return Ranked(want, stock)[0], true
}
