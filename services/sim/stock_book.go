package sim

import (
	"time"

	"google.golang.org/protobuf/proto"
)

// contents are what a cartridge holds by the account, and where the rest of it
// went, in microlitres.
type contents struct {
	holds  int64 // really; what is left by the book may be another
	layers []*layer
	since  int // where those begin that were laid since it was measured
	wastes []gone
	holdUp float64 // ml that the nozzle on it takes and has not taken yet
	sure   int64   // what it was opened with, or measured at last
	off    int64   // how far off that may be
}

// gone is material that was purged, equalised or thrown away.
type gone struct {
	at time.Time
	ul int64
}

// layer is material on a seam as the books must have it.
type layer struct {
	seq     uint64
	bead    *bead
	at      time.Time // when it ended
	bed     bool
	planned bool
	booked  int64
	volume  int64 // after weights and marks
}

// guess is how a layer's volume is told.
type guess struct {
	asPlanned bool
	really    float64 // ml; only whoever lays it knows
}

// told is the volume as it is told; nil: as planned.
func (w pass) told() *float64 {
	if w.asPlanned {
		return nil
	}
	return proto.Float64(w.ml)
}

// tellAll has a volume told in numbers.
func (w *pass) tellAll() {
	if w.asPlanned {
		w.asPlanned, w.ml = false, w.really
	}
}

// guessed settles whether a technician tells a layer as planned: some never
// do, some every other time, some always. What really leaves the nozzle then
// is more or less than that; a bed counts with its bead.
func (s *sim) guessed(t *tech, w pass) pass {
	r := stream(s.opt.Seed, "telling "+layerOf(w.bed).String()+w.seam.id)
	w.really = w.ml
	if r.IntN(2) >= s.taciturn(t) {
		return w
	}
	w.asPlanned, w.really = true, w.ml*(0.85+0.35*r.Float64())
	if w.ml = w.seam.plan.GetVolumeMl(); w.bed {
		w.ml = 0
	}
	return w
}

// taciturn is how many of two layers a technician tells as planned.
func (s *sim) taciturn(t *tech) int {
	n := s.opt.Seed
	for _, c := range t.terminal {
		n += uint64(c)
	}
	return int(n % 3)
}

// draw takes what was laid out of the cartridge: more than it held by the book
// is found.
func (c *cartridge) draw(w pass, at time.Time) []due {
	c.fill(at)
	c.holds -= ul(w.really)
	c.left -= ul(w.ml)
	c.lot.laid += ul(w.ml)
	if c.left < 0 {
		return []due{{rule: "volume-overdrawn", subject: "cartridge/" + c.id, severity: query}}
	}
	return nil
}

// undraw puts back what was laid by a fact that has been withdrawn. Another
// cartridge of the lot may have been weighed since, so that its balance is no
// longer what it was before.
func (c *cartridge) undraw(w pass) {
	c.left += ul(w.ml)
	c.lot.laid -= ul(w.ml)
}

// spend takes what was purged or equalised out of the cartridge.
func (c *cartridge) spend(at time.Time, ml float64) {
	c.holds -= ul(ml)
	c.left -= ul(ml)
	c.lot.purged += ul(ml)
	c.wastes = append(c.wastes, gone{at, ul(ml)})
}

// holdUpML is what a nozzle takes at most before anything comes out of it.
const holdUpML = 4.5

// filling is what the nozzle just fitted is known to take; for some nobody has
// weighed it.
func (s *sim) filling(c *cartridge) *float64 {
	if c.holdUp = 0; stream(s.opt.Seed, "nozzle "+c.nozzle).IntN(3) > 0 {
		return nil
	}
	c.holdUp = holdUpML
	return proto.Float64(holdUpML)
}

// fill lets the nozzle take what it holds when material first moves through
// it.
func (c *cartridge) fill(at time.Time) {
	if c.holdUp > 0 {
		c.spend(at, c.holdUp)
		c.holdUp = 0
	}
}

// throw notes what is thrown away with a cartridge.
func (c *cartridge) throw(at time.Time) {
	if c.left > 0 {
		c.wastes = append(c.wastes, gone{at, c.left})
	}
	c.since = len(c.layers)
}

// measure takes in a weight or a mark: what differs from the book was laid by
// those layers that were told as planned since the last one, each in
// proportion to its plan and none below nothing; the rest nobody can explain.
func (c *cartridge) measure(left int64) {
	off := c.left - left
	var planned int64
	for _, l := range c.layers[c.since:] {
		if l.planned {
			planned += l.booked
		}
	}
	if share := max(off, -planned); planned > 0 {
		var upTo, placed int64
		for _, l := range c.layers[c.since:] {
			if l.planned {
				upTo += l.booked
				l.volume += share*upTo/planned - placed
				placed = share * upTo / planned
			}
		}
		c.lot.laid += share
		off -= share
	}
	c.lot.missing += off
	c.left, c.since = left, len(c.layers)
}

// misread is how far off what the storekeeper reads may be, by its contract.
func misread(marked bool) int64 {
	if marked {
		return 5000
	}
	return 2000
}

// tooFull is what must be asked about a weight or a mark: it is more than the
// cartridge's size, or more than was in it when that was last known less all
// that was told in numbers since, by more than both readings may be off.
func (c *cartridge) tooFull(left int64, marked bool) []due {
	own := misread(marked)
	limit := c.left + own + c.off
	guesses := int64(0)
	for _, l := range c.layers[c.since:] {
		if l.planned {
			guesses += l.booked
		}
	}
	if limit += guesses; c.left+guesses < 0 { // overdrawn: asked about already
		limit = c.sure + own + c.off
	}
	if left <= limit && left <= ul(c.lot.product.def.GetCartridgeMl())+own {
		return nil
	}
	return []due{{rule: "weighed-too-full", subject: "cartridge/" + c.id, severity: query}}
}
