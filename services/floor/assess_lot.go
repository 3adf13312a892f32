package floor

import (
	"slices"

	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
)

// leaning lists the layings that a fact about a lot says something about,
// whenever they happened: those from the lot's cartridges that still lie on
// their seams. What was taken off again is left alone.
func (a *assessor) leaning(ps []placed) []uint64 {
	var out []uint64
	for _, p := range ps {
		switch e := p.f.body.(type) {
		case *materialsv1.LotRecalled:
			out = append(out, a.layingsFrom(LotID(e.GetLotId()))...)
		case *materialsv1.LotReceived:
			out = append(out, a.layingsFrom(LotID(e.GetLotId()))...)
		}
	}
	return out
}

func (a *assessor) layingsFrom(id LotID) []uint64 {
	var out []uint64
	for _, s := range sortedKeys(a.fl.seams) {
		if a.fl.seams[s].Bead == nil {
			continue
		}
		var here []uint64
		for _, f := range a.book.of(s.key()) {
			if _, ok := f.body.(*jobsv1.SeamReworked); ok {
				here = nil
			}
			if f.lay == nil {
				continue
			}
			if c := a.fl.cartridges[f.lay.cartridge]; c != nil && c.Lot == id {
				here = append(here, f.seq)
			}
		}
		out = append(out, here...)
	}
	slices.Sort(out)
	return slices.Compact(out)
}
