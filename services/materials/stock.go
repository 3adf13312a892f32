package materials

import (
	"context"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/calc/quantity"
	"seamwright/services/calc/stock"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// What ShowStock takes where a request leaves it open. Common practice, no
// source.
const (
	usualWeeks   = 12
	usualService = 0.95
	usualCover   = 4.0     // weeks
	slowPerWeek  = 1.0     // cartridges: below it use is counted in whole ones (Poisson)
	lookedAt     = 1.0 / 7 // weeks between two looks at the shelf: it is added to the lead time
)

const (
	day  = 24 * time.Hour
	week = 7 * day
)

// ShowStock shows use, orders and what will lapse, product by product.
func (s *Server) ShowStock(ctx context.Context, req *materialsv1.ShowStockRequest) (*materialsv1.ShowStockResponse, error) {
	q := stockQuery{weeks: int(req.GetWeeks()), service: req.GetService(), cover: req.GetCoverWeeks()}
	q.defaults()
	resp := &materialsv1.ShowStockResponse{}
	var failed error
	err := s.desk.View(ctx, req.GetMinSequence(), func(f *floor.Floor, now time.Time) {
		for _, id := range f.Products() {
			p := f.Product(id, now)
			if p == nil || req.GetProductId() != "" && string(id) != req.GetProductId() {
				continue
			}
			one, err := q.product(f, p, now)
			if err != nil {
				failed = err
				return
			}
			resp.Products = append(resp.Products, one)
		}
		resp.Sequence, resp.Now = f.Seq(), timestamppb.New(now)
	})
	switch {
	case err != nil:
		return nil, err
	case failed != nil:
		return nil, failed
	case len(resp.Products) == 0 && req.GetProductId() != "":
		return nil, fault.Missing("product", req.GetProductId(), "look up its identifier, or import its file first")
	}
	return resp, nil
}

type stockQuery struct {
	weeks          int
	service, cover float64
}

func (q *stockQuery) defaults() {
	if q.weeks == 0 {
		q.weeks = usualWeeks
	}
	if q.service == 0 {
		q.service = usualService
	}
	if q.cover == 0 {
		q.cover = usualCover
	}
}

func (q stockQuery) product(f *floor.Floor, p *floor.Product, now time.Time) (*materialsv1.ProductStock, error) {
	out := &materialsv1.ProductStock{ProductId: string(p.ID), Name: p.Spec.Name}
	each := p.CartridgeML()
	held := holdings(f, p.ID, each, now, out)
	used, err := q.demand(f, p.ID, now, out)
	if err != nil {
		return nil, err
	}
	outlook, err := stock.Foresee(held, used.Mean/7, p.OpenedLife, now)
	if err != nil {
		return nil, err
	}
	if out.Use != useKnown {
		tell(out, outlook, now)
		return out, nil
	}
	in, err := used.In(each)
	if err != nil {
		return nil, err
	}
	out.WeeklyUse, out.WeeklyDeviation, out.Weeks = &in.Mean, &in.SD, int32(in.Periods)
	tell(out, outlook, now)
	if p.LeadTime <= 0 {
		out.Why = "how long a delivery of it takes is not known, so nothing is advised; enter lead_time_days in its sheet"
		return out, nil
	}
	a, err := stock.Advise(in, stock.Policy{
		Service: q.service, Lead: stock.Lead{Mean: p.LeadTime.Hours() / week.Hours(), Review: lookedAt}, Poisson: slow(in.Mean),
		Cover: q.cover, Keeps: p.ShelfLife.Hours() / week.Hours(), Pack: 1, Minimum: 1,
	}, float64(out.Shelf))
	if err != nil {
		return nil, err
	}
	out.ReorderPoint, out.Safety, out.OrderQuantity, out.OrderNow, out.Why = proto.Int32(int32(a.Point)), a.Safety, int32(a.Quantity), int32(a.Order), advice(out.Shelf, p.LeadTime, a)
	return out, nil
}

// slow reports whether so little is used in a week, in cartridges, that whole
// ones are counted. Just one a week, added up from many small volumes, is not.
func slow(weekly float64) bool { return weekly < slowPerWeek*(1-1e-9) }

// holdings lists a product's stock. What was recalled is none.
func holdings(f *floor.Floor, id floor.ProductID, each float64, now time.Time, out *materialsv1.ProductStock) []stock.Holding {
	var held []stock.Holding
	for _, lid := range f.Lots() {
		l := f.Lot(lid)
		if l.Product != id || l.Recalled || l.Shelf <= 0 {
			continue
		}
		if l.Expires.IsZero() || l.Expires.After(now) {
			out.Shelf += int32(l.Shelf)
		}
		held = append(held, stock.Holding{LotID: string(lid), Cartridges: l.Shelf, Each: quantity.Volume(each), Expires: l.Expires})
	}
	for _, cid := range f.Cartridges() {
		c := f.Cartridge(cid)
		if c.Product != id || c.Emptied || c.Remaining <= 0 {
			continue
		}
		h := stock.Holding{LotID: string(c.Lot), CartridgeID: string(cid), Cartridges: 1, Each: quantity.Volume(c.Remaining.ML()), Opened: c.Opened}
		if l := f.Lot(c.Lot); l != nil {
			if l.Recalled {
				continue
			}
			h.Expires = l.Expires
		}
		out.OpenedMl += c.Remaining.ML()
		held = append(held, h)
	}
	return held
}
