package sim

import (
	"fmt"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
)

const (
	equaliseML = 2.0
	purgeML    = 5.0
	restML     = 12.0 // less is thrown away
)

// number makes a shop's own running number.
func (s *sim) number(prefix string) string {
	s.numbers++
	return fmt.Sprintf("%s%d", prefix, s.numbers)
}

// receive takes a delivery of a product into stock.
func (s *sim) receive(p *product, cartridges int, expires time.Time) *lot {
	b := &materialsv1.LotReceived{LotId: s.number("L"), ProductId: p.id(), Cartridges: int32(cartridges), Expires: timestamppb.New(expires)}
	s.tell(storeman, desk, live, b)
	return s.learnLot(b, s.now)
}

// shelf is how many unopened cartridges of a lot stand there.
func (l *lot) shelf() int { return l.received - l.opened - l.lost }

func (l *lot) outOfDate(at time.Time) bool { return at.After(l.expires) }

// usable finds the lot of a product that expires first and may be used; one
// is bought when there is none.
func (s *sim) usable(p *product) *lot {
	var best *lot
	for _, l := range s.stock {
		if l.product == p && l.shelf() > 0 && !l.recalled && !l.outOfDate(s.now) && (best == nil || l.expires.Before(best.expires)) {
			best = l
		}
	}
	if best == nil {
		best = s.receive(p, 6, s.now.Add(200*24*time.Hour))
	}
	return best
}

// takeCartridge finds an opened cartridge of a bay that holds enough, or
// opens one.
func (s *sim) takeCartridge(p *proc, t *tech, pr *product, needML float64) *cartridge {
	need := ul(needML + purgeML + holdUpML + equaliseML)
	var first *cartridge
	for _, c := range s.carts {
		if c.bay == t.zone && !c.gone && c.lot.product == pr && !c.lot.recalled && !c.lot.outOfDate(s.now.Add(time.Hour)) && c.left >= need &&
			(first == nil || c.useBy().Before(first.useBy())) {
			first = c
		}
	}
	if first != nil {
		return first
	}
	for _, c := range s.carts {
		if c.bay == t.zone && !c.gone && c.lot.product == pr && c.left < ul(restML) {
			s.discard(t, c)
		}
	}
	return s.openCartridge(p, t, s.usable(pr), true)
}

// openCartridge opens one from a lot and brings its sides level.
func (s *sim) openCartridge(p *proc, t *tech, l *lot, equalise bool) *cartridge {
	c := &cartridge{id: s.number("C"), lot: l, bay: t.zone, opened: s.now, left: ul(l.product.def.GetCartridgeMl())}
	c.holds, c.sure = c.left, c.left
	var found []due
	if l.outOfDate(s.now) {
		found = append(found, due{rule: "opened-out-of-date", subject: "cartridge/" + c.id, severity: note})
	}
	s.tell(t.person, t.terminal, live, &materialsv1.CartridgeOpened{CartridgeId: c.id, LotId: l.id}, found...)
	l.opened++
	s.carts = append(s.carts, c)
	if equalise {
		p.wait(20 * time.Second)
		s.tell(t.person, t.terminal, live, &materialsv1.CartridgeEqualised{CartridgeId: c.id, VolumeMl: proto.Float64(equaliseML)})
		c.equalised = true
		c.spend(s.now, equaliseML)
	}
	return c
}

// fit puts a new nozzle on and purges it.
func (s *sim) fit(p *proc, t *tech, c *cartridge, purge bool) {
	c.nozzle, c.purged, c.flow = s.number("N"), false, time.Time{}
	s.tell(t.person, t.terminal, live, &materialsv1.NozzleFitted{NozzleId: c.nozzle, CartridgeId: c.id, Kind: "round tip", HoldUpMl: s.filling(c)})
	p.wait(15 * time.Second)
	if purge {
		s.purge(t, c)
		p.wait(10 * time.Second)
	}
}

func (s *sim) purge(t *tech, c *cartridge) {
	s.tell(t.person, t.terminal, live, &materialsv1.CartridgePurged{CartridgeId: c.id, VolumeMl: proto.Float64(purgeML)})
	c.purged, c.flow = true, s.now
	c.spend(s.now, purgeML)
	c.fill(s.now)
}

// unfit takes the nozzle off.
func (s *sim) unfit(t *tech, c *cartridge) {
	if c.nozzle == "" {
		return
	}
	s.tell(t.person, t.terminal, live, &materialsv1.NozzleRemoved{NozzleId: c.nozzle})
	c.nozzle, c.purged, c.flow = "", false, time.Time{}
}

// discard throws a rest away.
func (s *sim) discard(t *tech, c *cartridge) {
	s.tell(t.person, t.terminal, live, &materialsv1.CartridgeEmptied{CartridgeId: c.id, Discarded: true})
	c.lot.thrown += c.left
	c.throw(s.now)
	c.left, c.gone = 0, true
}

// weigh corrects what is left by the scale, or by a mark, unless more is read
// than can be there.
func (s *sim) weigh(c *cartridge, ml float64, marked bool) {
	found := c.tooFull(ul(ml), marked)
	s.tell(storeman, desk, live, &materialsv1.CartridgeWeighed{CartridgeId: c.id, RemainingMl: ml, Marked: marked}, found...)
	if len(found) == 0 {
		c.measure(ul(ml))
		c.sure, c.off = ul(ml), misread(marked)
	}
}

// misreads tells another cartridge's weight for this one's: where it is more
// than can be in it the storekeeper is asked, and takes it back at once or lets
// it stand: it corrects nothing.
func (s *sim) misreads(c *cartridge, ml float64, marked, back bool) {
	if found := c.tooFull(ul(ml), marked); len(found) > 0 {
		s.planted("weighed-too-full", fmt.Sprintf("%s at %.0f ml", c.id, ml))
		seq := s.tell(storeman, desk, live, &materialsv1.CartridgeWeighed{CartridgeId: c.id, RemainingMl: ml, Marked: marked}, found...)
		if !back {
			return
		}
		s.tell(storeman, desk, live, &jobsv1.FactWithdrawn{Sequence: seq, Why: "another cartridge stood on the scale"})
		s.acc.withdrawn(seq)
	}
}

// recall takes a lot back: every bead from it that lies in the shop is held.
func (s *sim) recall(l *lot) {
	var found []due
	for _, ro := range s.order {
		for _, m := range s.jobs[ro].seams {
			if m.bead == nil || m.bead.cartridge.lot != l {
				continue
			}
			for _, f := range m.bead.facts {
				found = append(found, due{"lot-recalled", m.subject(), stop, f})
			}
		}
	}
	s.tell(storeman, desk, live, &materialsv1.LotRecalled{LotId: l.id, Why: "the maker's mixing ratio was off"}, found...)
	l.recalled, l.recalledAt = true, s.now
	s.planted("recalled-lot", fmt.Sprintf("%s, %d layers lie in the shop", l.id, len(found)))
	s.traced(l)
}

// count counts a lot on the shelf after the shift; now and then a cartridge
// is not where the book has it.
func (s *sim) count() {
	l := s.stock[s.chance.IntN(len(s.stock))]
	if s.err != nil || s.silent || l.shelf() == 0 {
		return
	}
	if s.chance.IntN(2) == 0 {
		s.planted("lost-cartridge", l.id)
		l.lost++
		l.missing += ul(l.product.def.GetCartridgeMl())
	}
	s.tell(storeman, desk, live, &materialsv1.StockCounted{LotId: l.id, Cartridges: int32(l.shelf())})
}

// usage compares a lot's balance, as the shop lists it, with the account's
// own tally, and asks whether it closes.
func (s *sim) usage() {
	if s.err != nil {
		return
	}
	resp, err := s.opt.Materials.ListStock(s.ctx, &materialsv1.ListStockRequest{MinSequence: s.watch.seq})
	if err != nil {
		s.fail(fmt.Errorf("stock: %w", err))
		return
	}
	seen := map[string]bool{}
	for _, b := range resp.GetLots() {
		seen[b.GetLotId()] = true
		s.checks.count("I11")
		sum := ul(b.GetShelfMl()) + ul(b.GetOpenedMl()) + ul(b.GetLaidMl()) + ul(b.GetPurgedMl()) + ul(b.GetDiscardedMl()) + ul(b.GetUnexplainedMl())
		if sum != ul(b.GetReceivedMl()) {
			s.broken("I11", "lot %s: %.3f ml came in, %.3f ml are accounted for", b.GetLotId(), b.GetReceivedMl(), float64(sum)/1000)
		}
		if l := s.lots[b.GetLotId()]; l != nil {
			s.tally(l, b)
		}
	}
	for _, l := range s.stock {
		if !seen[l.id] {
			s.broken("I11", "lot %s is not in the list of stock", l.id)
		}
	}
	s.traceSome()
}

func (s *sim) tally(l *lot, b *materialsv1.Lot) {
	full := ul(l.product.def.GetCartridgeMl())
	opened, missing := int64(0), l.missing
	for _, c := range s.carts {
		if c.lot == l {
			opened += max(0, c.left)
			missing += min(0, c.left)
		}
	}
	for _, x := range []struct {
		what string
		got  float64
		want int64
	}{
		{"on the shelf", b.GetShelfMl(), int64(l.shelf()) * full},
		{"in opened cartridges", b.GetOpenedMl(), opened},
		{"laid", b.GetLaidMl(), l.laid},
		{"purged", b.GetPurgedMl(), l.purged},
		{"thrown away", b.GetDiscardedMl(), l.thrown},
		{"unexplained", b.GetUnexplainedMl(), missing},
	} {
		if ul(x.got) != x.want {
			s.broken("I11", "lot %s: %.3f ml are said to be %s, used were %.3f ml", l.id, x.got, x.what, float64(x.want)/1000)
		}
	}
}
