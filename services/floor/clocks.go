package floor

import (
	"slices"
	"time"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/calc/spec"
)

// ClockID names one clock: of a bead, by the fact that it began with, or of a
// nozzle, by its last flow.
type ClockID struct {
	Seam   SeamID
	Nozzle NozzleID
	Clock  floorv1.Clock
	Coat   spec.Coat // coat windows only
	Began  uint64
}

// ClockState is a clock with its answer at a moment.
type ClockState struct {
	ClockID
	cure.Clock
	cure.Verdict
	Fresh     bool // every zone that counts now has a fresh reading
	Announced uint64
	Revision  uint64 // of the product
}

// runningClock is a clock before it is judged.
type runningClock struct {
	id    ClockID
	clock cure.Clock
	where cure.Surroundings
	rev   uint64
	said  uint64
}

// judge answers at a moment.
func (r runningClock) judge(at time.Time) ClockState {
	return ClockState{
		ClockID: r.id, Clock: r.clock, Verdict: cure.Judge(r.where, r.clock, at),
		Fresh: r.where.AsOf(at).Fresh(at), Announced: r.said, Revision: r.rev,
	}
}

// beadClocks are the clocks that matter to a bead, in the order of its life.
// A bead of unknown product, or one laid elsewhere, has none.
func (fl *Floor) beadClocks(s *Seam) []runningClock {
	if s.Bead == nil || s.Bead.Product == nil || !s.Complete() {
		return nil
	}
	path := fl.path(s)
	if path == nil {
		return nil
	}
	return makeClocks(s, path)
}

func makeClocks(s *Seam, path *cure.Path) []runningClock {
	kinds := []floorv1.Clock{
		floorv1.Clock_CLOCK_TOOLING, floorv1.Clock_CLOCK_FLOW_OUT,
		floorv1.Clock_CLOCK_COAT_OPENS, floorv1.Clock_CLOCK_COAT_CLOSES,
		floorv1.Clock_CLOCK_HANDLING, floorv1.Clock_CLOCK_FULL_CURE,
	}
	var out []runningClock
	for _, k := range kinds {
		if s.coated && (k == floorv1.Clock_CLOCK_COAT_OPENS || k == floorv1.Clock_CLOCK_COAT_CLOSES) {
			continue // nothing waits for the first coat any more
		}
		if r, ok := beadClock(s, k); ok {
			r.where = path
			out = append(out, r)
		}
	}
	return out
}

// beadClock makes one clock of a bead; false when the product has no such
// stage or the seam no such coat.
func beadClock(s *Seam, k floorv1.Clock) (runningClock, bool) {
	d, p := s.Bead, s.Bead.Product
	id := ClockID{Seam: s.ID, Clock: k, Began: d.Began}
	if k == floorv1.Clock_CLOCK_COAT_OPENS || k == floorv1.Clock_CLOCK_COAT_CLOSES {
		if s.Finish == spec.Exposed || s.firstCoat == "" {
			return runningClock{}, false
		}
		id.Coat = s.firstCoat
	}
	needed, ok := p.Needs(k, s.firstCoat)
	if !ok {
		return runningClock{}, false
	}
	c := cure.Clock{Kind: KindOf(k), Law: p.Law, From: d.ReadyFrom, Needed: needed, Tolerance: p.Tolerance}
	if c.Kind == cure.Expiry {
		c.From = d.SpentFrom
	}
	if k == floorv1.Clock_CLOCK_COAT_CLOSES && d.Scuffed != nil {
		if c.Needed, ok = p.AfterScuff(); !ok {
			return runningClock{}, false
		}
		c.From, id.Began = d.Scuffed.At, d.Scuffed.Began
	}
	w := window{k, id.Coat, id.Began}
	return runningClock{id: id, clock: c, rev: p.Revision, said: s.said[w].seq}, true
}

// KindOf says whether a clock is of what must be reached or of what must not
// be passed.
func KindOf(k floorv1.Clock) cure.Kind {
	switch k {
	case floorv1.Clock_CLOCK_NOZZLE_GEL, floorv1.Clock_CLOCK_TOOLING, floorv1.Clock_CLOCK_COAT_CLOSES:
		return cure.Expiry
	}
	return cure.Ready
}

// Clocks answers for all clocks of a seam's bead at a moment, in the order of
// a bead's life.
func (fl *Floor) Clocks(id SeamID, at time.Time) []ClockState {
	s, ok := fl.seams[id]
	if !ok {
		return nil
	}
	var out []ClockState
	for _, r := range fl.beadClocks(s) {
		out = append(out, r.judge(at))
	}
	return out
}

// Gel answers for the nozzle on a cartridge at a moment: false when there is
// none, or nothing has moved through it yet, or nothing is known of its gel
// time.
func (fl *Floor) Gel(id CartridgeID, at time.Time) (ClockState, bool) {
	c, ok := fl.cartridges[id]
	if !ok {
		return ClockState{}, false
	}
	r, ok := fl.gelClock(fl.book, c)
	if !ok {
		return ClockState{}, false
	}
	if n := fl.nozzles[c.Nozzle]; n != nil {
		r.said = n.said[r.id.Began].seq
	}
	return r.judge(at), true
}

// gelClock makes the gel clock of the nozzle on a cartridge, under the
// product's revision that it began under.
func (fl *Floor) gelClock(b *book, c *Cartridge) (runningClock, bool) {
	if !c.Flowed() {
		return runningClock{}, false
	}
	p := fl.productAt(b, c.Product, c.LastFlow.At)
	if p == nil {
		return runningClock{}, false
	}
	needed, ok := p.Needs(floorv1.Clock_CLOCK_NOZZLE_GEL, "")
	where := fl.nozzlePlace(b, c.LastFlow)
	if !ok || where == nil {
		return runningClock{}, false
	}
	return runningClock{
		id:    ClockID{Nozzle: c.Nozzle, Clock: floorv1.Clock_CLOCK_NOZZLE_GEL, Began: c.LastFlow.Seq},
		clock: cure.Clock{Kind: cure.Expiry, Law: p.Law, From: c.LastFlow.Early, Needed: needed, Tolerance: p.Tolerance},
		where: where, rev: p.Revision,
	}, true
}

// nozzlePlace is where a nozzle is: in the zone of the terminal that its last
// flow was told at; else where the car was then that it was laid on, or
// wherever that car has gone since; else in one of the bays. Nil when no zone
// is known.
func (fl *Floor) nozzlePlace(b *book, f Flow) cure.Surroundings {
	if z, ok := fl.zones[fl.terminalZone(b, f.terminal, f.At)]; ok {
		return z.course
	}
	w := fl.where[f.Job]
	zones := fl.bays()
	if z := w.carAt(f.At); fl.zones[z] != nil {
		zones = []ZoneID{z}
	}
	parts := []stretch{{from: time.Unix(0, 0).UTC(), zones: zones}}
	if w != nil {
		for _, m := range w.car {
			last := parts[len(parts)-1]
			if m.early.After(f.At) && m.early.After(last.from) && !slices.Contains(last.zones, m.zone) {
				parts = append(parts, stretch{from: m.early, zones: union(last.zones, []ZoneID{m.zone})})
			}
		}
	}
	if len(parts) == 1 && len(zones) == 1 {
		return fl.zones[zones[0]].course
	}
	path := fl.makePath(parts)
	if path == nil {
		return nil
	}
	return path
}

// Progress is the cold progress, 0 to 1, of a clock of a seam; false when the
// clock does not run.
func (fl *Floor) Progress(id SeamID, k floorv1.Clock, at time.Time) (float64, bool) {
	s, ok := fl.seams[id]
	if !ok {
		return 0, false
	}
	for _, r := range fl.beadClocks(s) {
		if r.id.Clock == k {
			return r.judge(at).Progress(), true
		}
	}
	return 0, false
}

// Places lists the zones that a seam's temperature is taken from at a moment,
// the one that it is in first. Their readings must be fresh.
func (fl *Floor) Places(s *Seam, at time.Time) []ZoneID {
	return placesAt(fl.stretches(s, fl.where[s.Job].moves(s.Panel)), at)
}

// CountsUntil is when a zone that a seam's temperature is taken from at a
// moment will not be one of them any more, once the panel has settled to
// where it is now; zero: no such time is known.
func (fl *Floor) CountsUntil(s *Seam, z ZoneID, at time.Time) time.Time {
	for _, p := range fl.stretches(s, fl.where[s.Job].moves(s.Panel)) {
		if p.from.After(at) && !slices.Contains(p.zones, z) {
			return p.from
		}
	}
	return time.Time{}
}

func placesAt(parts []stretch, at time.Time) []ZoneID {
	var now []ZoneID
	for _, p := range parts {
		if p.from.After(at) {
			break
		}
		now = p.zones
	}
	return now
}
