package floor

import (
	"time"

	materialsv1 "seamwright/proto/seamwright/materials/v1"
)

// Flow is a moment at which material moved through a nozzle.
type Flow struct {
	Early, At, Late time.Time
	Zone            ZoneID // where, by the terminal; empty: unknown
	Job             RO     // the job it was laid on; empty: a purge
	Seam            SeamID
	Seq             uint64
	pass            int
}

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

	overdrawn map[drawn]ul // how far a laying took it below nothing
	misfits   map[uint64]string
}

// drawn names one layer of one event.
type drawn struct {
	seq  uint64
	pass int
}

// Flowed reports whether material has moved through the nozzle on it.
func (c *Cartridge) Flowed() bool { return c.Nozzle != "" && !c.LastFlow.At.IsZero() }

// foldCartridge makes a cartridge out of its facts in order; nil when there
// are none. Facts of use without an opening are those of a cartridge whose
// lot is unknown.
func (fl *Floor) foldCartridge(b *book, id CartridgeID, facts []*fact) *Cartridge {
	if id == "" || len(facts) == 0 {
		return nil
	}
	c := &Cartridge{ID: id, overdrawn: map[drawn]ul{}, misfits: map[uint64]string{}}
	for _, f := range facts {
		if why := fl.cartridgeFact(b, c, f); why != "" {
			c.misfits[f.seq] = why
		}
	}
	return c
}

func (fl *Floor) cartridgeFact(b *book, c *Cartridge, f *fact) string {
	if f.lay != nil {
		fl.draw(b, c, f)
		return ""
	}
	switch e := f.body.(type) {
	case *materialsv1.CartridgeOpened:
		return fl.openCartridge(b, c, e, f)
	case *materialsv1.CartridgeEqualised:
		c.Equalised = true
		c.spend(e.GetVolumeMl())
	case *materialsv1.NozzleFitted:
		c.Nozzle, c.Purged, c.LastFlow, c.FittedSeq, c.Stored = NozzleID(e.GetNozzleId()), false, Flow{}, f.seq, false
	case *materialsv1.CartridgePurged:
		c.spend(e.GetVolumeMl())
		if c.Nozzle == "" {
			return "no nozzle is on the cartridge"
		}
		c.Purged = true
		c.LastFlow = Flow{Early: f.early, At: f.at, Late: f.late, Zone: fl.terminalZone(f.head.Terminal), Seq: f.seq}
	case *materialsv1.NozzleRemoved:
		if c.Nozzle != NozzleID(e.GetNozzleId()) {
			return "that nozzle is not on the cartridge"
		}
		c.Nozzle, c.Purged, c.LastFlow = "", false, Flow{}
	case *materialsv1.CartridgeStored:
		c.Stored = true
		if !e.GetNozzleOn() {
			c.Nozzle, c.Purged, c.LastFlow = "", false, Flow{}
		}
	case *materialsv1.CartridgeWeighed:
		told := toUL(e.GetRemainingMl())
		c.Missing += c.Remaining - told
		c.Remaining, c.Emptied = told, false
	case *materialsv1.CartridgeEmptied:
		c.empty(e.GetDiscarded())
	}
	return ""
}

func (fl *Floor) openCartridge(b *book, c *Cartridge, e *materialsv1.CartridgeOpened, f *fact) string {
	if c.Lot != "" {
		return "the cartridge was opened before"
	}
	c.Lot, c.Opened = LotID(e.GetLotId()), f.at
	if l := fl.lotOf(b, c.Lot); l != nil {
		c.Product = l.Product
	}
	if p := fl.productAt(b, c.Product, f.at); p != nil {
		c.Full = p.Cartridge
		c.Remaining += p.Cartridge
	}
	return ""
}

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
}

// draw takes a laid layer's material out of the cartridge and moves its
// nozzle's clock.
func (fl *Floor) draw(_ *book, c *Cartridge, f *fact) {
	l := f.lay
	c.Laid += l.volume
	c.Remaining -= l.volume
	if c.Lot != "" && c.Remaining < 0 {
		c.overdrawn[drawn{f.seq, l.pass}] = -c.Remaining
	}
	if c.Nozzle == "" && l.nozzle != "" { // its fitting was not told
		c.Nozzle, c.FittedSeq = l.nozzle, f.seq
	}
	c.LastFlow = Flow{
		Early: f.early, At: f.at, Late: f.late, Zone: fl.terminalZone(f.head.Terminal),
		Job: l.seam.RO(), Seam: l.seam, Seq: f.seq, pass: l.pass,
	}
	c.Stored = false
}

// Lot is a lot as its facts make it.
type Lot struct {
	ID       LotID
	Product  ProductID
	Received int // cartridges
	Expires  time.Time
	Recalled bool
	Why      string
	Shelf    int // unopened cartridges, by the book or the last count
	Opened   int
	Missing  int // cartridges that counts say are gone; below 0: too many
}

// lotOf makes a lot out of its facts in order; nil when it was never
// received.
func (fl *Floor) lotOf(b *book, id LotID) *Lot {
	facts := b.of(id.key())
	if len(facts) == 0 {
		return nil
	}
	l := &Lot{ID: id}
	for _, f := range facts {
		switch e := f.body.(type) {
		case *materialsv1.LotReceived:
			l.receive(fl.productAt(b, ProductID(e.GetProductId()), f.at), e, f)
		case *materialsv1.LotRecalled:
			l.Recalled, l.Why = true, e.GetWhy()
		case *materialsv1.StockCounted:
			l.Missing += l.Shelf - int(e.GetCartridges())
			l.Shelf = int(e.GetCartridges())
		case *materialsv1.CartridgeOpened:
			l.Shelf--
			l.Opened++
		}
	}
	if l.Product == "" {
		return nil
	}
	return l
}

func (l *Lot) receive(p *Product, e *materialsv1.LotReceived, f *fact) {
	l.Product = ProductID(e.GetProductId())
	l.Received += int(e.GetCartridges())
	l.Shelf += int(e.GetCartridges())
	switch {
	case e.GetExpires() != nil:
		l.Expires = e.GetExpires().AsTime()
	case p != nil && p.ShelfLife > 0:
		l.Expires = f.at.Add(p.ShelfLife)
	}
}

// Balance is a lot's material balance in millilitres: what came in is where
// it is said to be, and what is unexplained is shown.
type Balance struct {
	Received, Shelf, Opened, Laid, Spent, Discarded, Missing ul
}

// Closes reports whether the balance adds up to the last microlitre.
func (b Balance) Closes() bool {
	return b.Received == b.Shelf+b.Opened+b.Laid+b.Spent+b.Discarded+b.Missing
}

// Balance adds up a lot over its cartridges.
func (fl *Floor) Balance(id LotID) (Balance, bool) {
	l, ok := fl.lots[id]
	if !ok {
		return Balance{}, false
	}
	var full ul
	if p := fl.productAt(fl.book, l.Product, l.firstUse(fl)); p != nil {
		full = p.Cartridge
	}
	bal := Balance{Received: ul(l.Received) * full, Shelf: ul(l.Shelf) * full, Missing: ul(l.Missing) * full}
	for _, c := range fl.cartridges {
		if c.Lot == id {
			bal.Opened += c.Remaining
			bal.Laid += c.Laid
			bal.Spent += c.Spent
			bal.Discarded += c.Discarded
			bal.Missing += c.Missing + (full - c.Full)
		}
	}
	return bal, true
}

// firstUse is the moment whose product revision tells the lot's pack size.
func (l *Lot) firstUse(fl *Floor) time.Time {
	if fs := fl.book.of(l.ID.key()); len(fs) > 0 {
		return fs[0].at
	}
	return time.Time{}
}
