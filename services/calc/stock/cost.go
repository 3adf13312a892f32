package stock

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"seamwright/services/calc/quantity"
	"seamwright/services/fault"
)

// Laid is material on a seam.
type Laid struct {
	SeamID      string
	RO          string
	LotID       string
	CartridgeID string
	NozzleID    string // empty: not known
	Volume      quantity.Volume
}

// LossKind is what material was lost to.
type LossKind string

// The kinds of loss.
const (
	Purged    LossKind = "purge"
	HeldUp    LossKind = "hold-up"   // in a nozzle that was thrown away
	Equalised LossKind = "equalised" // before the nozzle was fitted
	Discarded LossKind = "discarded" // thrown away with the cartridge
)

// Loss is material out of a cartridge that went on no seam.
type Loss struct {
	Kind        LossKind
	LotID       string
	CartridgeID string
	NozzleID    string // of purge and hold-up; empty: shared by all of the cartridge
	Volume      quantity.Volume
}

// Price is what a lot's cartridge costs.
type Price struct {
	Cartridge quantity.Money
	Holds     quantity.Volume
}

// SeamCost is what a seam comes to. An amount is "unknown" when a lot's price
// is.
type SeamCost struct {
	SeamID string
	RO     string
	Laid   quantity.Volume
	Share  quantity.Volume // of purge, hold-up and what else was lost
	Cost   quantity.Money
	Priced bool // the price of everything in it is known
}

// JobCost is what the seams of a job come to.
type JobCost struct {
	RO     string
	Laid   quantity.Volume
	Share  quantity.Volume
	Cost   quantity.Money
	Priced bool
}

// Charges are the costs of some work. Lists are never nil.
type Charges struct {
	Seams []SeamCost // in the order that they were first laid
	Jobs  []JobCost
	Shop  JobCost // lost with no seam to charge it to; no RO
}

// pot is what is lost together and shared.
type pot struct{ lot, cartridge, nozzle string }

// Costs charges seams with what was laid on them and what was lost on the
// way, at the price per ml of each lot. Errors: a volume below 0 or not finite,
// a loss of unknown kind, a price without a volume, prices in several
// currencies.
func Costs(laid []Laid, lost []Loss, prices map[string]Price) (Charges, error) {
	if err := checkCosts(laid, lost, prices); err != nil {
		return Charges{}, err
	}
	b := &biller{prices: prices, laid: laid, at: map[string]int{}, jobs: map[string]int{}}
	b.out = Charges{Seams: []SeamCost{}, Jobs: []JobCost{}, Shop: JobCost{Priced: true}}
	for _, l := range laid {
		if err := b.charge(b.seam(l), l.LotID, l.Volume, false); err != nil {
			return Charges{}, err
		}
	}
	var pots []pot
	sums := map[pot]quantity.Volume{}
	for _, l := range lost {
		p := b.potOf(l)
		if _, ok := sums[p]; !ok {
			pots = append(pots, p)
		}
		sums[p] += l.Volume
	}
	for _, p := range pots {
		if err := b.share(p, sums[p]); err != nil {
			return Charges{}, err
		}
	}
	err := b.sum()
	return b.out, err
}

type biller struct {
	out    Charges
	prices map[string]Price
	laid   []Laid
	at     map[string]int // seam
	jobs   map[string]int
}

// seam is the place of a seam's cost.
func (b *biller) seam(l Laid) int {
	k, ok := b.at[l.SeamID]
	if !ok {
		k = len(b.out.Seams)
		b.at[l.SeamID] = k
		b.out.Seams = append(b.out.Seams, SeamCost{SeamID: l.SeamID, RO: l.RO, Priced: true})
	}
	return k
}

// potOf is who shares a loss: the seams of the nozzle, or when nothing was
// laid through it those of the cartridge.
func (b *biller) potOf(l Loss) pot {
	p := pot{l.LotID, l.CartridgeID, ""}
	if l.NozzleID == "" || l.Kind != Purged && l.Kind != HeldUp {
		return p
	}
	for _, x := range b.laid {
		if x.CartridgeID == l.CartridgeID && x.NozzleID == l.NozzleID {
			p.nozzle = l.NozzleID
			return p
		}
	}
	return p
}

func (p pot) holds(l Laid) bool {
	return l.CartridgeID == p.cartridge && l.LotID == p.lot && (p.nozzle == "" || l.NozzleID == p.nozzle)
}

// charge adds a volume of a lot to a seam.
func (b *biller) charge(seam int, lot string, v quantity.Volume, share bool) error {
	s := &b.out.Seams[seam]
	if share {
		s.Share += v
	} else {
		s.Laid += v
	}
	m, ok, err := b.worth(lot, v)
	if err != nil {
		return err
	}
	s.Priced = s.Priced && ok
	s.Cost, err = s.Cost.Plus(m)
	return err
}

// worth is what a volume of a lot costs.
func (b *biller) worth(lot string, v quantity.Volume) (quantity.Money, bool, error) {
	p, ok := b.prices[lot]
	if !ok || p.Cartridge == (quantity.Money{}) {
		return quantity.Money{}, false, nil
	}
	m, err := p.Cartridge.Times(v.ML() / p.Holds.ML())
	return m, true, err
}

// share divides a loss by what was laid. The money is divided by running
// sums, so that the shares come to the whole.
func (b *biller) share(p pot, v quantity.Volume) error {
	whole := quantity.Volume(0)
	for _, l := range b.laid {
		if p.holds(l) {
			whole += l.Volume
		}
	}
	m, ok, err := b.worth(p.lot, v)
	if err != nil {
		return err
	}
	if whole == 0 {
		b.out.Shop.Share += v
		b.out.Shop.Priced = b.out.Shop.Priced && ok
		b.out.Shop.Cost, err = b.out.Shop.Cost.Plus(m)
		return err
	}
	upTo, paid := quantity.Volume(0), quantity.Money{}
	for _, l := range b.laid {
		if !p.holds(l) {
			continue
		}
		s := &b.out.Seams[b.at[l.SeamID]]
		s.Share += quantity.Volume(float64(v) * float64(l.Volume/whole))
		s.Priced = s.Priced && ok
		upTo += l.Volume
		if !ok {
			continue
		}
		due, err := m.Times(math.Min(1, float64(upTo/whole)))
		if err != nil {
			return err
		}
		part, err := minus(due, paid)
		if err != nil {
			return err
		}
		if s.Cost, err = s.Cost.Plus(part); err != nil {
			return err
		}
		paid = due
	}
	return nil
}

func minus(a, b quantity.Money) (quantity.Money, error) {
	n, err := b.Times(-1)
	if err != nil {
		return quantity.Money{}, err
	}
	return a.Plus(n)
}

// sum adds the seams up to jobs.
func (b *biller) sum() error {
	for _, s := range b.out.Seams {
		k, ok := b.jobs[s.RO]
		if !ok {
			k = len(b.out.Jobs)
			b.jobs[s.RO] = k
			b.out.Jobs = append(b.out.Jobs, JobCost{RO: s.RO, Priced: true})
		}
		j := &b.out.Jobs[k]
		j.Laid += s.Laid
		j.Share += s.Share
		j.Priced = j.Priced && s.Priced
		var err error
		if j.Cost, err = j.Cost.Plus(s.Cost); err != nil {
			return err
		}
	}
	return nil
}

func checkCosts(laid []Laid, lost []Loss, prices map[string]Price) error {
	ros := map[string]string{}
	for i, l := range laid {
		at := fmt.Sprintf("laid[%d].", i)
		if l.SeamID == "" {
			return fault.Bad(at+"seam", "missing", "the seam that it went on; give it")
		}
		if ro, ok := ros[l.SeamID]; ok && ro != l.RO {
			return fault.Bad(at+"ro", l.RO, "the same job as before, "+ro+"; correct it")
		}
		ros[l.SeamID] = l.RO
		if err := notBelow(at+"ml", l.Volume.ML()); err != nil {
			return err
		}
	}
	for i, l := range lost {
		at := fmt.Sprintf("lost[%d].", i)
		switch l.Kind {
		case Purged, HeldUp, Equalised, Discarded:
		default:
			return fault.Bad(at+"kind", string(l.Kind), "purge, hold-up, equalised or discarded")
		}
		if err := notBelow(at+"ml", l.Volume.ML()); err != nil {
			return err
		}
	}
	return checkPrices(prices)
}

func checkPrices(prices map[string]Price) error {
	currency, of := "", ""
	for _, lot := range slices.Sorted(maps.Keys(prices)) {
		p := prices[lot]
		if p.Cartridge == (quantity.Money{}) {
			continue
		}
		if err := above("prices["+lot+"].cartridge_ml", p.Holds.ML(), "give what a cartridge holds"); err != nil {
			return err
		}
		if c := p.Cartridge.Currency(); currency == "" {
			currency, of = c, lot
		} else if c != currency {
			return fault.Bad("prices["+lot+"]", c, "all lots in one currency, "+currency+" as of lot "+of+"; convert them first")
		}
	}
	return nil
}
