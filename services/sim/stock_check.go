package sim

import (
	"math"
	"time"

	materialsv1 "seamwright/proto/seamwright/materials/v1"
)

// What the shop takes where nobody says otherwise, as its contract has it.
const (
	lookBack  = 12 // weeks
	inTime    = 0.95
	lasts     = 4.0     // weeks that an order lasts
	lookedAt  = 1.0 / 7 // weeks between two looks at the stock
	knownWith = 2       // weeks that must have passed
	week      = 7 * 24 * time.Hour
	edge      = time.Hour // so near to the end of a week nobody says in which one it was
)

// held is what the account knows of a product's stock.
type held struct {
	shelf  int
	opened int64 // µl
	weeks  []int64
	unsure bool // something was used at the edge of two weeks
	ever   int64
}

// compareStock compares what is said of every product's stock, use and orders
// with the account's own tally and with the textbook's reorder point, written
// out here once more.
func (s *sim) compareStock(resp *materialsv1.ShowStockResponse) {
	n := int(min(s.now.Sub(s.opt.Start)/week, lookBack))
	known := s.tallyStock(n)
	for _, ps := range resp.GetProducts() {
		h := known[ps.GetProductId()]
		if h == nil {
			h = &held{weeks: make([]int64, n)}
		}
		s.checks.count("stock")
		if int(ps.GetShelf()) != h.shelf || ul(ps.GetOpenedMl()) != h.opened {
			s.broken("I11", "product %s: %d cartridges and %.3f ml in opened ones are said to be there, there are %d and %.3f",
				ps.GetProductId(), ps.GetShelf(), ps.GetOpenedMl(), h.shelf, float64(h.opened)/1000)
		}
		switch {
		case h.unsure:
		case n < knownWith || h.ever == 0:
			if ps.WeeklyUse != nil || ps.GetOrderNow() != 0 || ps.GetWhy() == "" {
				s.broken("stock", "product %s: %.3f a week and %d to order are said after %d weeks without use", ps.GetProductId(), ps.GetWeeklyUse(), ps.GetOrderNow(), n)
			}
		default:
			s.compareAdvice(ps, h)
		}
		s.compareLapses(ps)
	}
}

// tallyStock adds up what is there, and what left the cartridges in each of so
// many weeks up to now.
func (s *sim) tallyStock(n int) map[string]*held {
	known := map[string]*held{}
	of := func(l *lot) *held {
		id := l.product.id()
		if known[id] == nil {
			known[id] = &held{weeks: make([]int64, n)}
		}
		return known[id]
	}
	for _, l := range s.stock {
		if !l.recalled && l.shelf() > 0 && !l.outOfDate(s.now) {
			of(l).shelf += l.shelf()
		}
	}
	for _, c := range s.carts {
		h := of(c.lot)
		if !c.gone && c.left > 0 && !c.lot.recalled {
			h.opened += c.left
		}
		for _, w := range c.layers {
			h.used(s.now, w.at, w.volume)
		}
		for _, w := range c.wastes {
			h.used(s.now, w.at, w.ul)
		}
	}
	return known
}

func (h *held) used(now, at time.Time, ul int64) {
	back := now.Sub(at)
	if k := int(back / week); k < len(h.weeks) {
		h.weeks[k] += ul
		h.ever += ul
	}
	if off := back % week; back < time.Duration(len(h.weeks))*week+edge && (off < edge || off > week-edge) {
		h.unsure = true
	}
}

// compareAdvice reckons use and reorder point again.
func (s *sim) compareAdvice(ps *materialsv1.ProductStock, h *held) {
	d := s.products[ps.GetProductId()].def
	total, n := int64(0), float64(len(h.weeks))
	for _, v := range h.weeks {
		total += v
	}
	mean := float64(total) / 1000 / d.GetCartridgeMl() / n
	square := 0.0
	for _, v := range h.weeks {
		square += math.Pow(float64(v)/1000/d.GetCartridgeMl()-mean, 2)
	}
	sd := math.Sqrt(square / (n - 1))
	if math.Abs(ps.GetWeeklyUse()-mean) > 1e-6 || math.Abs(ps.GetWeeklyDeviation()-sd) > 1e-6 || int(ps.GetWeeks()) != len(h.weeks) {
		s.broken("stock", "product %s: %.6f ± %.6f cartridges a week are said over %d weeks, used were %.6f ± %.6f over %d",
			ps.GetProductId(), ps.GetWeeklyUse(), ps.GetWeeklyDeviation(), ps.GetWeeks(), mean, sd, len(h.weeks))
	}
	until := d.GetLeadTimeDays()/7 + lookedAt
	point := mean*until + quantile(inTime)*sd*math.Sqrt(until)
	if total < int64(len(h.weeks))*ul(d.GetCartridgeMl()) { // less than one a week
		point = poisson(mean*until, inTime)
	}
	quantity := mean * lasts
	if keeps := d.GetShelfLifeDays() / 7; keeps > 0 {
		quantity = min(quantity, max(0, mean*keeps-max(0, point-mean*until)))
	}
	s.whole("point", ps, float64(ps.GetReorderPoint()), point)
	s.whole("quantity", ps, float64(ps.GetOrderQuantity()), max(1, quantity))
	want := 0
	if short := int(ps.GetReorderPoint()) - h.shelf; short >= 0 {
		want = int(ps.GetOrderQuantity()) + short
	}
	if int(ps.GetOrderNow()) != want {
		s.broken("stock", "product %s: %d are to be ordered at %d on the shelf, due are %d", ps.GetProductId(), ps.GetOrderNow(), h.shelf, want)
	}
}

// whole compares a number of cartridges with what it is the next whole number
// from.
func (s *sim) whole(what string, ps *materialsv1.ProductStock, got, want float64) {
	if got < want-1e-6 || got > want+1+1e-6 {
		s.broken("stock", "product %s: the %s is said to be %g, due is %.6f rounded up", ps.GetProductId(), what, got, want)
	}
}

// compareLapses checks that what is said to lapse is there, and lapses by its
// use-by date.
func (s *sim) compareLapses(ps *materialsv1.ProductStock) {
	for _, x := range ps.GetLapses() {
		l := s.lots[x.GetLotId()]
		if l == nil || l.recalled || l.product.id() != ps.GetProductId() || x.GetAt().AsTime().After(l.expires) {
			s.broken("stock", "product %s: lot %s is said to lapse on %s", ps.GetProductId(), x.GetLotId(), clock(x.GetAt().AsTime()))
			continue
		}
		most := int64(l.shelf()) * ul(l.product.def.GetCartridgeMl())
		for _, c := range s.carts {
			if c.id == x.GetCartridgeId() && c.lot == l && !c.gone && x.GetAt().AsTime().Equal(c.useBy()) {
				most = c.left
			}
		}
		if x.GetCartridges() < 1 || ul(x.GetVolumeMl()) > most || x.GetCartridgeId() == "" && int(x.GetCartridges()) > l.shelf() {
			s.broken("stock", "%d cartridges of lot %s with %.3f ml are said to lapse (%s), it has no more than %.3f ml there",
				x.GetCartridges(), l.id, x.GetVolumeMl(), x.GetWhy(), float64(most)/1000)
		}
	}
}

// quantile is that of the standard normal distribution, by halving.
func quantile(p float64) float64 {
	lo, hi := -10.0, 10.0
	for range 80 {
		if mid := (lo + hi) / 2; math.Erfc(-mid/math.Sqrt2)/2 < p {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// poisson is the least number that is not gone beyond with a chance, added up
// term by term.
func poisson(mean, p float64) float64 {
	n, term := 0.0, math.Exp(-mean)
	for sum := term; sum < p; sum += term {
		n++
		term *= mean / n
	}
	return n
}
