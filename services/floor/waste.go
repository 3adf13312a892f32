package floor

import (
	"slices"
	"time"
)

// WasteKind is how material was spent without lying on a seam.
type WasteKind string

// The kinds of waste.
const (
	Equalised WasteKind = "equalise"
	Purged    WasteKind = "purge"
	HeldUp    WasteKind = "nozzle-hold-up" // fills the nozzle and is thrown away with it
)

// waste is material that a cartridge lost, and the layer that it was lost for.
type waste struct {
	kind   WasteKind
	f      *fact
	volume ul
	known  bool
	to     SeamID // empty: nothing was laid after it
	layer  drawn
}

// Waste is material that was spent for the layer that was laid next from the
// same cartridge (common practice, no source: who needs the nozzle pays it).
type Waste struct {
	Kind      WasteKind
	Seq       uint64
	At        time.Time
	Cartridge CartridgeID
	Product   *Product // the revision in force then; nil: unknown
	Volume    ul
	Known     bool // its volume was told
	For       Use
}

// lose notes material that was spent; nil: how much is not known.
func (c *Cartridge) lose(k WasteKind, f *fact, ml *float64) {
	w := waste{kind: k, f: f, known: ml != nil}
	if ml != nil {
		w.volume = toUL(*ml)
	}
	c.wastes = append(c.wastes, w)
}

// fill takes what the nozzle holds out of the cartridge when material moves
// through it for the first time.
func (c *Cartridge) fill(f *fact) {
	if c.Nozzle == "" || slices.Contains(c.filled, c.Nozzle) {
		return
	}
	c.filled = append(c.filled, c.Nozzle)
	if c.holdUp != nil {
		c.spend(*c.holdUp)
	}
	c.lose(HeldUp, f, c.holdUp)
}

// Wastes lists what was spent for the layers of a job, by cartridge and in
// order.
func (fl *Floor) Wastes(ro RO) []Waste {
	from := map[CartridgeID]bool{}
	for _, s := range fl.SeamsOf(ro) {
		for _, f := range fl.book.of(s.key()) {
			if f.lay != nil {
				from[f.lay.cartridge] = true
			}
		}
	}
	var out []Waste
	for _, id := range sortedKeys(from) {
		c := fl.cartridges[id]
		if c == nil {
			continue
		}
		for _, w := range c.wastes {
			if w.to == "" || w.to.RO() != ro {
				continue
			}
			i := slices.IndexFunc(c.uses, func(u use) bool { return u.f.seq == w.layer.seq && u.f.lay.pass == w.layer.pass })
			out = append(out, Waste{
				Kind: w.kind, Seq: w.f.seq, At: w.f.at, Cartridge: id, Product: fl.productAt(fl.book, c.Product, w.f.at),
				Volume: w.volume, Known: w.known, For: fl.useOf(c.uses[i].f),
			})
		}
	}
	return out
}
