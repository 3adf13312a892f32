package floor

import (
	"slices"
	"time"

	materialsv1 "seamwright/proto/seamwright/materials/v1"
)

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
	Missing  int    // cartridges that counts say are gone; below 0: too many
	Cost     string // of a cartridge, a decimal, as it was told last; empty: the product's price
	Currency string
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
			if opening(b, CartridgeID(e.GetCartridgeId())).seq == f.seq {
				l.Shelf--
				l.Opened++
			}
		}
	}
	if l.Product == "" {
		return nil
	}
	return l
}

// opening is the fact that opened a cartridge: the first one, whatever was
// told again. The caller knows that there is one.
func opening(b *book, id CartridgeID) *fact {
	for _, f := range b.of(id.key()) {
		if _, ok := f.body.(*materialsv1.CartridgeOpened); ok {
			return f
		}
	}
	return &fact{}
}

// openedFrom lists the cartridges that were opened from a lot, as told.
func openedFrom(b *book, id LotID) []CartridgeID {
	var out []CartridgeID
	for _, f := range b.of(id.key()) {
		if e, ok := f.body.(*materialsv1.CartridgeOpened); ok {
			out = append(out, CartridgeID(e.GetCartridgeId()))
		}
	}
	return out
}

// lotFrom is the lot that a cartridge was taken from, whenever it was told to
// have been opened; empty: unknown.
func lotFrom(b *book, id CartridgeID) LotID {
	if id == "" {
		return ""
	}
	e, _ := opening(b, id).body.(*materialsv1.CartridgeOpened)
	return LotID(e.GetLotId())
}

// recallOf is the newest fact that took a lot back; nil: none did.
func recallOf(b *book, id LotID) *fact {
	if id == "" {
		return nil
	}
	for _, f := range slices.Backward(b.of(id.key())) {
		if _, ok := f.body.(*materialsv1.LotRecalled); ok {
			return f
		}
	}
	return nil
}

func (l *Lot) receive(p *Product, e *materialsv1.LotReceived, f *fact) {
	l.Product = ProductID(e.GetProductId())
	l.Received += int(e.GetCartridges())
	l.Shelf += int(e.GetCartridges())
	if e.GetCost() != "" {
		l.Cost, l.Currency = e.GetCost(), e.GetCurrency()
	}
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
	counted := map[CartridgeID]bool{}
	bal := Balance{Received: ul(l.Received) * full, Shelf: ul(l.Shelf) * full, Missing: ul(l.Missing) * full}
	for _, cid := range openedFrom(fl.book, id) {
		if c := fl.cartridges[cid]; c != nil && c.Lot == id && !counted[cid] {
			counted[cid] = true
			bal.Opened += max(0, c.Remaining)
			bal.Missing += min(0, c.Remaining) // more is said to be laid than was in it
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
