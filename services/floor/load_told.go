package floor

import (
	boothv1 "seamwright/proto/seamwright/booth/v1"
)

// FreeBooth is the booth that a load goes back to when nobody keeps it any
// more: the one that it was told for last without being put there by hand,
// else the one that it was told for first; empty: it never was.
func (fl *Floor) FreeBooth(id LoadID) (out BoothID) {
	for _, f := range fl.book.of(id.key()) {
		e, ok := f.body.(*boothv1.LoadPlanned)
		if !ok || e.GetMoved() {
			continue
		}
		if out == "" || keepOf(e) == KeepNothing {
			out = BoothID(e.GetBoothId())
		}
	}
	return out
}
