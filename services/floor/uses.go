package floor

import (
	"math/big"
	"slices"
	"time"

	"seamwright/services/calc/spec"
)

// use is one layer laid from a cartridge.
type use struct {
	f      *fact
	volume ul // as told or as planned, corrected by what the cartridge was measured at
}

// VolumeBasis is where the volume of a layer comes from.
type VolumeBasis string

// The bases of a layer's volume.
const (
	VolumeTold      VolumeBasis = "told"
	VolumePlanned   VolumeBasis = "planned"
	VolumeCorrected VolumeBasis = "corrected" // the planned one, by a weight or a mark
	VolumeWithBead  VolumeBasis = "with-bead" // a wet bed without one: the plan counts it with the bead
	VolumeUnknown   VolumeBasis = "unknown"   // neither told nor planned
)

// Use is one layer of material on one seam.
type Use struct {
	Seq       uint64
	Pass      int
	Seam      SeamID
	Layer     spec.Layer
	Cartridge CartridgeID // empty: unknown
	Product   *Product    // the revision in force then; nil: unknown
	Guessed   bool        // the product is the planned one: which cartridge was used is not known
	At        time.Time   // when its laying ended
	Booked    ul          // as told or as planned
	Volume    ul          // what it comes to
	Basis     VolumeBasis
	Removed   time.Time // when the bead was taken off; zero: it lies there
	Over      ul        // how much of it, as booked, is more than the cartridge held then
	Doubt     FindingID // the finding that asks about that and is open; empty: none
}

// use takes a layer's material out of the cartridge.
func (c *Cartridge) use(f *fact) {
	c.uses = append(c.uses, use{f, f.lay.volume})
	c.Laid += f.lay.volume
	c.Remaining -= f.lay.volume
	for ; c.leadsTo < len(c.wastes); c.leadsTo++ {
		w := &c.wastes[c.leadsTo]
		w.to, w.layer = f.lay.seam, drawn{f.seq, f.lay.pass}
	}
}

// measure takes in a weight or a mark. What it differs from the book belongs
// to what was laid as planned since the last one, in proportion to the planned
// volumes; the rest is unexplained. A told volume is never changed.
func (c *Cartridge) measure(left ul) {
	gone := c.Remaining - left
	if c.booked {
		gone -= c.correct(gone)
	}
	c.Missing += gone
	c.Remaining, c.Emptied = left, false
	c.booked, c.measured, c.since = true, true, len(c.uses)
}

// correct adds what is gone beyond the book to what was laid as planned, or
// takes off what is there beyond it, no layer below nothing. It gives how much
// found its place. Parts are whole microlitres: each is the step between the
// rounded-down shares of the sum up to it, so that they add up.
func (c *Cartridge) correct(gone ul) ul {
	var planned ul
	for _, u := range c.uses[c.since:] {
		if u.f.lay.planned {
			planned += u.volume
		}
	}
	if planned == 0 {
		return 0
	}
	gone = max(gone, -planned)
	var upTo, placed ul
	for i := c.since; i < len(c.uses); i++ {
		u := &c.uses[i]
		if !u.f.lay.planned {
			continue
		}
		upTo += u.volume
		share := portion(gone, upTo, planned)
		u.volume += share - placed
		placed = share
	}
	c.Laid += gone
	return gone
}

// portion is v part/whole, rounded towards nothing.
func portion(v, part, whole ul) ul {
	x := new(big.Int).Mul(big.NewInt(int64(v)), big.NewInt(int64(part)))
	return ul(x.Quo(x, big.NewInt(int64(whole))).Int64())
}

// volumeOf is what a layer that was laid from the cartridge comes to.
func (c *Cartridge) volumeOf(f *fact) ul {
	i := slices.IndexFunc(c.uses, func(u use) bool { return u.f.seq == f.seq && u.f.lay.pass == f.lay.pass })
	if i < 0 {
		return f.lay.volume
	}
	return c.uses[i].volume
}

// Uses lists the layers that were laid on a seam, in order.
func (fl *Floor) Uses(id SeamID) []Use {
	var out []Use
	for _, f := range fl.book.of(id.key()) {
		if f.lay != nil {
			out = append(out, fl.useOf(f))
		}
	}
	return out
}

func (fl *Floor) useOf(f *fact) Use {
	l := f.lay
	u := Use{
		Seq: f.seq, Pass: l.pass, Seam: l.seam, Layer: l.layer, Cartridge: l.cartridge, At: f.at,
		Booked: l.volume, Volume: l.volume, Basis: VolumeTold, Removed: fl.removedAt(l.seam, f),
	}
	c := fl.cartridges[l.cartridge]
	if c != nil {
		u.Volume = c.volumeOf(f)
	}
	switch {
	case l.unknownML && l.layer == spec.Bed:
		u.Basis = VolumeWithBead
	case l.unknownML:
		u.Basis = VolumeUnknown
	case l.planned && u.Volume != u.Booked:
		u.Basis = VolumeCorrected
	case l.planned:
		u.Basis = VolumePlanned
	}
	if u.Over = c.beyond(f); u.Over > 0 {
		u.Doubt = fl.openAbout(f.seq, overdrawn, l.cartridge.key())
	}
	if c != nil && c.Product != "" {
		u.Product = fl.productAt(fl.book, c.Product, f.at)
	} else {
		s := fl.foldSeamFacts(fl.book, l.seam, fl.book.upTo(l.seam.key(), f))
		u.Product, u.Guessed = fl.productAt(fl.book, s.planned().Product, f.at), true
	}
	return u
}

// overdrawn is the rule of the query about more than a cartridge held.
const overdrawn = "volume-overdrawn"

// beyond is how much of a layer is more than the cartridge held when it was
// laid.
func (c *Cartridge) beyond(f *fact) ul {
	if c == nil {
		return 0
	}
	return min(c.overdrawn[drawn{f.seq, f.lay.pass}], f.lay.volume)
}

// openAbout is the open finding of a rule about a fact and a thing; empty:
// none.
func (fl *Floor) openAbout(seq uint64, rule string, thing key) FindingID {
	for _, id := range fl.byFact[seq] {
		if s := fl.findings[id]; s.Rule == rule && s.Subject == thing && s.Open() {
			return id
		}
	}
	return ""
}

// removedAt is when what a fact did to a seam was taken off it with its bead;
// zero: not.
func (fl *Floor) removedAt(id SeamID, f *fact) time.Time {
	for _, g := range fl.book.after(id.key(), f) {
		if isRework(g) {
			return g.at
		}
	}
	return time.Time{}
}
