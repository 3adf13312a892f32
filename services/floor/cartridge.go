package floor

import (
	"slices"
	"time"

	materialsv1 "seamwright/proto/seamwright/materials/v1"
)

// Flow is a moment at which material moved through a nozzle.
type Flow struct {
	Early, At, Late time.Time
	Job             RO // the job it was laid on; empty: a purge
	Seam            SeamID
	Seq             uint64
	pass            int
	terminal        string
}

// FlowZone is the zone that a flow was told in, by its terminal; empty: unknown.
func (fl *Floor) FlowZone(f Flow) ZoneID { return fl.terminalZone(fl.book, f.terminal, f.At) }

// Cartridge is an opened cartridge with the nozzle on it.
type Cartridge struct {
	ID        CartridgeID
	Lot       LotID
	Product   ProductID
	Opened    time.Time
	Equalised bool // since it was opened
	Nozzle    NozzleID
	Purged    bool // since this nozzle was fitted
	FittedSeq uint64
	LastFlow  Flow // through the nozzle that is on it; zero: none yet
	FlowSeq   uint64
	Full      ul
	Remaining ul // below 0 when overdrawn
	Laid      ul
	Spent     ul // purged and equalised away
	Discarded ul
	Missing   ul // what weights and marks say is gone unexplained; below 0: too much
	Emptied   bool
	Stored    bool

	uses      []use // layers laid from it, in order
	through   int   // where those begin that were laid through the nozzle on it
	since     int   // where those begin that were laid since it was last weighed or marked
	booked    bool  // what it holds by the book has a beginning: it was opened full, or measured
	measured  bool  // weighed or marked
	wastes    []waste
	leadsTo   int          // where those begin that no layer was laid after
	holdUp    *float64     // ml that the nozzle on it holds; nil: not told
	filled    []NozzleID   // those that material has moved through
	overdrawn map[drawn]ul // how far a laying took it below nothing
	known     level        // what was last known to be in it
	surpluses map[uint64]surplus
	misfits   map[uint64]string
}

// drawn names one layer of one event.
type drawn struct {
	seq  uint64
	pass int
}

// Flowed reports whether material has moved through the nozzle on it.
func (c *Cartridge) Flowed() bool { return c.Nozzle != "" && !c.LastFlow.At.IsZero() }

func newCartridge(id CartridgeID) *Cartridge {
	return &Cartridge{ID: id, overdrawn: map[drawn]ul{}, surpluses: map[uint64]surplus{}, misfits: map[uint64]string{}}
}

// foldCartridge makes a cartridge out of its facts in order; nil when there
// are none. Facts of use without an opening are those of a cartridge whose
// lot is unknown.
func (fl *Floor) foldCartridge(b *book, id CartridgeID) *Cartridge {
	return fl.foldCartridgeFacts(b, id, ofCartridge(b, id))
}

// cartridgeBefore is the cartridge as it was before a fact.
func (fl *Floor) cartridgeBefore(b *book, id CartridgeID, f *fact) *Cartridge {
	return fl.foldCartridgeFacts(b, id, before(ofCartridge(b, id), f))
}

func (fl *Floor) foldCartridgeFacts(b *book, id CartridgeID, facts []*fact) *Cartridge {
	if id == "" || len(facts) == 0 {
		return nil
	}
	if own := b.of(id.key()); len(own) == 0 || compareFacts(facts[len(facts)-1], own[0]) < 0 {
		return nil // only its nozzle was told about until then
	}
	c := newCartridge(id)
	for _, f := range facts {
		if why := fl.cartridgeFact(b, c, f); why != "" {
			c.misfits[f.seq] = why
		}
	}
	return c
}

// ofCartridge gives the facts of a cartridge in order, with those of the
// nozzles that were ever on it: a nozzle that is taken off, or put on another
// cartridge, is off this one.
func ofCartridge(b *book, id CartridgeID) []*fact {
	own := b.of(id.key())
	var others []*fact
	var seen []NozzleID
	for _, f := range own {
		n := nozzleOf(f)
		if n == "" || slices.Contains(seen, n) {
			continue
		}
		seen = append(seen, n)
		for _, o := range b.of(n.key()) {
			if movesNozzle(o, id) {
				others = append(others, o)
			}
		}
	}
	if len(others) == 0 {
		return own
	}
	slices.SortFunc(others, compareFacts)
	all := make([]*fact, 0, len(own)+len(others))
	for _, f := range own {
		for len(others) > 0 && compareFacts(others[0], f) < 0 {
			all, others = append(all, others[0]), others[1:]
		}
		all = append(all, f)
	}
	return append(all, others...)
}

func nozzleOf(f *fact) NozzleID {
	if f.lay != nil {
		return f.lay.nozzle
	}
	if e, ok := f.body.(*materialsv1.NozzleFitted); ok {
		return NozzleID(e.GetNozzleId())
	}
	return ""
}

// movesNozzle reports whether a fact of a nozzle takes it off a cartridge
// without being one of the cartridge's own facts.
func movesNozzle(f *fact, from CartridgeID) bool {
	switch e := f.body.(type) {
	case *materialsv1.NozzleRemoved:
		return true
	case *materialsv1.NozzleFitted:
		return CartridgeID(e.GetCartridgeId()) != from
	}
	return f.lay != nil && f.lay.cartridge != "" && f.lay.cartridge != from
}

func (fl *Floor) cartridgeFact(b *book, c *Cartridge, f *fact) string {
	if f.lay != nil {
		c.draw(f)
		return ""
	}
	switch e := f.body.(type) {
	case *materialsv1.CartridgeOpened:
		return fl.openCartridge(b, c, e, f)
	case *materialsv1.CartridgeEqualised:
		c.Equalised = true
		c.spend(e.GetVolumeMl())
		c.lose(Equalised, f, e.VolumeMl)
	case *materialsv1.NozzleFitted:
		if CartridgeID(e.GetCartridgeId()) == c.ID {
			c.bear(NozzleID(e.GetNozzleId()), f.seq)
			c.holdUp = e.HoldUpMl
		} else if c.Nozzle == NozzleID(e.GetNozzleId()) {
			c.unbear() // it went to another cartridge
		}
	case *materialsv1.CartridgePurged:
		c.spend(e.GetVolumeMl())
		c.lose(Purged, f, e.VolumeMl)
		if c.Nozzle == "" {
			return "no nozzle is on the cartridge"
		}
		c.fill(f)
		c.Purged = true
		c.LastFlow = Flow{Early: f.early, At: f.at, Late: f.late, Seq: f.seq, terminal: f.head.Terminal}
	case *materialsv1.NozzleRemoved:
		if c.Nozzle == NozzleID(e.GetNozzleId()) {
			c.unbear()
		}
	case *materialsv1.CartridgeStored:
		c.Stored = true
		if !e.GetNozzleOn() {
			c.unbear()
		}
	case *materialsv1.CartridgeWeighed:
		c.weigh(e, f)
	case *materialsv1.CartridgeEmptied:
		c.empty(e.GetDiscarded())
		c.known = level{how: "told empty", at: f.at}
	}
	return ""
}

func (fl *Floor) openCartridge(b *book, c *Cartridge, e *materialsv1.CartridgeOpened, f *fact) string {
	if c.Lot != "" {
		return "the cartridge was opened before"
	}
	c.Lot, c.Opened = LotID(e.GetLotId()), f.at
	if l, ok := newest[*materialsv1.LotReceived](b.of(c.Lot.key())); ok {
		c.Product = ProductID(l.GetProductId())
	}
	if p := fl.productAt(b, c.Product, f.at); p != nil {
		c.Full = p.Cartridge
		c.Remaining += p.Cartridge
		c.booked = !c.measured // opened after it was measured, nobody knows what it held
		c.known = level{how: "opened full", at: f.at, ul: p.Cartridge}
	}
	return ""
}

// bear puts a nozzle on: nothing has moved through it yet.
func (c *Cartridge) bear(n NozzleID, seq uint64) {
	c.Nozzle, c.Purged, c.LastFlow, c.FittedSeq, c.Stored = n, false, Flow{}, seq, false
	c.holdUp, c.through = nil, len(c.uses)
}

// unbear takes the nozzle off; its clock ends.
func (c *Cartridge) unbear() { c.Nozzle, c.Purged, c.LastFlow = "", false, Flow{} }

func (c *Cartridge) spend(ml float64) {
	v := toUL(ml)
	c.Spent += v
	c.Remaining -= v
}

func (c *Cartridge) empty(discarded bool) {
	if discarded {
		c.Discarded += c.Remaining
	} else {
		c.Missing += c.Remaining
	}
	c.Remaining, c.Emptied = 0, true
	c.since = len(c.uses) // a rest that is gone by the book says nothing about what was laid
}

// draw takes a laid layer's material out of the cartridge and moves its
// nozzle's clock.
func (c *Cartridge) draw(f *fact) {
	l := f.lay
	if l.cartridge != c.ID {
		if c.Nozzle == l.nozzle {
			c.unbear() // it was used on another cartridge
		}
		return
	}
	if l.nozzle != "" && c.Nozzle != l.nozzle { // its fitting was not told
		c.bear(l.nozzle, f.seq)
	}
	c.fill(f)
	c.use(f)
	if c.Lot != "" && c.Remaining < 0 {
		c.overdrawn[drawn{f.seq, l.pass}] = -c.Remaining
	}
	c.LastFlow = Flow{
		Early: f.early, At: f.at, Late: f.late,
		Job: l.seam.RO(), Seam: l.seam, Seq: f.seq, pass: l.pass, terminal: f.head.Terminal,
	}
	c.Stored = false
}
