package floor

import "seamwright/services/calc/spec"

// Tip is the tip of the nozzle that is on a cartridge, as it is cut by now: as
// it was told to be when it was fitted, or as wide as the widest bead that was
// laid through it since wanted it by its plan, whichever is wider. A tip is not
// cut back. The zero value: no nozzle is on, or of which kind it is was not
// told.
func (fl *Floor) Tip(id CartridgeID) spec.Nozzle {
	c := fl.cartridges[id]
	if c == nil || c.Nozzle == "" {
		return spec.Nozzle{}
	}
	n := fl.nozzles[c.Nozzle]
	if n == nil {
		return spec.Nozzle{}
	}
	tip, _ := spec.ReadNozzle(n.Kind)
	for _, u := range c.uses[c.through:] {
		s := fl.foldSeamFacts(fl.book, u.f.lay.seam, fl.book.upTo(u.f.lay.seam.key(), u.f))
		if want, ok := spec.ReadNozzle(s.planned().Nozzle); ok && want.Kind == tip.Kind {
			tip.CutMM = max(tip.CutMM, want.CutMM)
		}
	}
	return tip
}
