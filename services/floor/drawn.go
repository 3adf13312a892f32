package floor

import (
	"cmp"
	"slices"
	"time"

	materialsv1 "seamwright/proto/seamwright/materials/v1"
)

// Drawn is material that came out of a cartridge: laid, spent on the way, or
// thrown away with it.
type Drawn struct {
	At        time.Time
	Cartridge CartridgeID
	ML        float64
}

// Drawn lists what came out of a product's cartridges, by time. What weights
// and counts miss is not in it: nobody knows when it went.
func (fl *Floor) Drawn(id ProductID) []Drawn {
	var out []Drawn
	for _, cid := range fl.Cartridges() {
		c := fl.cartridges[cid]
		if c.Product != id {
			continue
		}
		add := func(at time.Time, v ul) {
			if v > 0 {
				out = append(out, Drawn{at, cid, v.ML()})
			}
		}
		for _, u := range c.uses {
			add(u.f.at, u.volume)
		}
		for _, w := range c.wastes {
			add(w.f.at, w.volume)
		}
		if c.Discarded > 0 {
			add(fl.emptiedAt(cid), c.Discarded)
		}
	}
	slices.SortStableFunc(out, func(a, b Drawn) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Cartridge, b.Cartridge)) })
	return out
}

// emptiedAt is when a rest was thrown away last.
func (fl *Floor) emptiedAt(id CartridgeID) (at time.Time) {
	for _, f := range fl.book.of(id.key()) {
		if e, ok := f.body.(*materialsv1.CartridgeEmptied); ok && e.GetDiscarded() {
			at = f.at
		}
	}
	return at
}
