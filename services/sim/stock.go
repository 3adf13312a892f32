package sim

import (
	"fmt"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	materialsv1 "seamwright/proto/seamwright/materials/v1"
)

// store is what the storekeeper keeps in mind beside the shop's books.
type store struct {
	coming map[string]int // cartridges on their way, by product
}

// asksAt is when the storekeeper looks at the stock, before anybody lays.
const asksAt = 6*time.Hour + 30*time.Minute

// storekeeper asks each working day what to order, orders what is advised
// and not on its way yet, and throws away what has lapsed.
func (s *sim) storekeeper(p *proc) {
	s.store.coming = map[string]int{}
	for {
		p.until(s.hours.on(s.now, 1, asksAt))
		if !s.hours.workday(s.now) || s.silent {
			continue
		}
		for _, ps := range s.askStock() {
			s.orders(ps)
		}
		s.throwLapsed(p)
	}
}

// askStock asks for every product's stock and compares the answer with the
// account.
func (s *sim) askStock() []*materialsv1.ProductStock {
	if s.err != nil {
		return nil
	}
	resp, err := s.opt.Stock.ShowStock(s.ctx, &materialsv1.ShowStockRequest{MinSequence: s.watch.seq})
	if err != nil {
		s.fail(fmt.Errorf("what to order: %w", err))
		return nil
	}
	s.compareStock(resp)
	return resp.GetProducts()
}

// orders what is advised, less what is on its way: the shop's books
// know of a delivery when it is there.
func (s *sim) orders(ps *materialsv1.ProductStock) {
	pr := s.products[ps.GetProductId()]
	coming := s.store.coming[ps.GetProductId()]
	n := int(ps.GetOrderNow()) - coming
	if pr == nil || n <= 0 || int(ps.GetShelf())+coming > int(ps.GetReorderPoint()) {
		return
	}
	s.checks.count("ordered")
	s.store.coming[pr.id()] += n
	lead := time.Duration(pr.def.GetLeadTimeDays() * 24 * float64(time.Hour))
	r := stream(s.opt.Seed, "delivery "+pr.id()+clock(s.now))
	keeps := time.Duration(150+r.IntN(250)) * 24 * time.Hour
	at := s.hours.next(s.now.Add(lead), time.Hour, shiftBegins, shiftEnds).Add(time.Duration(r.IntN(50)) * time.Minute)
	s.spawn("delivery of "+pr.id(), at, func(p *proc) {
		p.poll(time.Minute, func() bool { return !s.silent })
		s.store.coming[pr.id()] -= n
		b := &materialsv1.LotReceived{LotId: s.number("L"), ProductId: pr.id(), Cartridges: int32(n)}
		if r.IntN(4) > 0 { // else the label's shelf life counts from the delivery
			b.Expires = timestamppb.New(s.now.Add(keeps))
		}
		s.tell(storeman, desk, live, b)
		s.learnLot(b, s.now)
	})
}

// useBy is the moment that an opened cartridge must be used by.
func (c *cartridge) useBy() time.Time {
	by := c.lot.expires
	if life := c.lot.product.openedLife(); life > 0 && (by.IsZero() || c.opened.Add(life).Before(by)) {
		by = c.opened.Add(life)
	}
	return by
}

func (p *product) openedLife() time.Duration {
	return time.Duration(p.def.GetOpenedLifeDays() * 24 * float64(time.Hour))
}

// idle reports whether a cartridge lies in its bay with nothing on it, so that
// somebody else may take it in hand: all that was done with it is told.
func (c *cartridge) idle() bool { return !c.gone && c.bay != "" && c.nozzle == "" }

// throwLapsed throws away opened cartridges that nobody may use any more;
// every other one is overlooked for a while.
func (s *sim) throwLapsed(p *proc) {
	for _, c := range s.carts {
		if !c.idle() || c.useBy().After(s.now) && !c.lot.recalled || stream(s.opt.Seed, "lapsed "+c.id+clock(s.now)).IntN(2) == 0 {
			continue
		}
		p.wait(20 * time.Second)
		if c.idle() {
			s.discard(&tech{person: storeman, terminal: desk}, c)
		}
	}
}

// gauges weighs opened cartridges, or marks them, on most days: what was laid
// as planned comes to what it really was.
func (s *sim) gauges(p *proc) {
	r := stream(s.opt.Seed, "scale")
	for {
		p.until(s.hours.on(s.now, 1, 13*time.Hour+time.Duration(r.IntN(170))*time.Minute))
		if !s.hours.workday(s.now) || s.silent {
			continue
		}
		for _, c := range s.carts {
			if !c.idle() || s.now.Sub(c.opened) < 10*time.Minute || len(c.layers) == c.since || r.IntN(2) == 0 {
				continue
			}
			s.gauge(p, c, r.IntN(3) == 0)
		}
	}
}

// gauge weighs a cartridge to the millilitre, or marks what is left in it to
// five.
func (s *sim) gauge(p *proc, c *cartridge, marked bool) {
	p.wait(time.Minute)
	if !c.idle() || s.err != nil {
		return
	}
	step := int64(1000)
	kind := "weighed"
	if marked {
		step, kind = 5000, "marked"
	}
	left := (max(c.holds, 0) + step/2) / step * step
	s.checks.count(kind)
	if r := stream(s.opt.Seed, "misread "+c.id+clock(s.now)); r.IntN(8) == 0 {
		s.misreads(c, float64((left+int64(r.IntN(150_000)))/step*step)/1000, marked, r.IntN(2) == 0)
	}
	s.weigh(c, float64(left)/1000, marked)
}
