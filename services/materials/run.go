package materials

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	materialsv1 "seamwright/proto/seamwright/materials/v1"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/bead"
	"seamwright/services/calc/cure"
	"seamwright/services/calc/quantity"
	"seamwright/services/calc/run"
	"seamwright/services/calc/spec"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// What PlanRun takes where a request leaves it open. Common practice, no
// source.
const (
	usualMMPerS   = 20.0
	usualPurge    = 5.0 // ml
	usualHoldUp   = 5.0 // ml
	usualWaste    = 5.0 // %
	usualEqualise = 1.0 // ml
)

// PlanRun plans a sealing run for what is prepped in a bay.
func (s *Server) PlanRun(ctx context.Context, req *materialsv1.PlanRunRequest) (*materialsv1.PlanRunResponse, error) {
	resp := &materialsv1.PlanRunResponse{}
	var p run.Problem
	known, unheard := true, ""
	err := s.desk.View(ctx, req.GetMinSequence(), func(f *floor.Floor, now time.Time) {
		air, ok := f.Air(floor.ZoneID(req.GetZoneId()), now)
		if known = ok; !ok {
			return
		}
		for _, ro := range req.GetRos() {
			if f.Job(floor.RO(ro)) == nil {
				unheard = ro
				return
			}
		}
		b := bay{f: f, now: now, hot: air.Set.Hi, req: req, products: map[floor.ProductID]*floor.Product{}}
		p = b.problem(resp)
		resp.HotC, resp.Now, resp.Sequence = air.Set.Hi, timestamppb.New(now), f.Seq()
		if air.Read {
			resp.ReadAt, resp.ReadC, resp.ReadFresh = timestamppb.New(air.Last.At), air.Last.C, air.Fresh
		}
	})
	if err != nil {
		return nil, err
	}
	if !known {
		return nil, fault.Missing("zone", req.GetZoneId(), "define the bay as a zone first, or correct its name")
	}
	if unheard != "" {
		return nil, fault.Missing("job", unheard, "open the job first, or correct its number")
	}
	r, err := run.Make(p) // the floor is not held meanwhile
	if err != nil {
		return nil, err
	}
	write(resp, p, r)
	return resp, nil
}

// bay is what a run in one bay is made of.
type bay struct {
	f        *floor.Floor
	now      time.Time
	hot      float64 // °C
	req      *materialsv1.PlanRunRequest
	products map[floor.ProductID]*floor.Product // of the seams
}

func (b *bay) problem(resp *materialsv1.PlanRunResponse) run.Problem {
	p := run.Problem{Start: b.now, Times: run.UsualTimes()}
	p.Seams = b.seams(resp)
	b.elsewhere(resp)
	for _, s := range p.Seams {
		if id := floor.ProductID(s.ProductID); id != "" && b.products[id] == nil {
			if d := b.f.Product(id, b.now); d != nil {
				b.products[id] = d
				p.Products = append(p.Products, b.product(d))
			}
		}
	}
	p.Lots, p.Opened = b.lots(), b.opened()
	return p
}

// seams are those in the bay that may be laid now, car by car and panel by
// panel. What must not be laid yet is told with its reasons.
func (b *bay) seams(resp *materialsv1.PlanRunResponse) (ready []run.Seam) {
	var found []*floor.Seam
	for _, id := range b.f.Seams() {
		s := b.f.Seam(id)
		if b.here(s) && (s.Stage == floor.Prepped || s.Stage == floor.Planned) {
			found = append(found, s)
		}
	}
	slices.SortStableFunc(found, func(x, y *floor.Seam) int { return cmp.Or(cmp.Compare(x.Job, y.Job), cmp.Compare(x.Panel, y.Panel)) })
	for _, s := range found {
		holds := b.f.LayHolds(s, b.now)
		if len(holds) == 0 {
			ready = append(ready, b.seam(s))
		}
		if s.Stage == floor.Planned {
			resp.NotPrepped = append(resp.NotPrepped, string(s.ID))
		}
		for _, h := range holds {
			resp.Unplanned = append(resp.Unplanned, &materialsv1.RunUnplanned{SeamId: string(s.ID), Reason: h.Reason, Why: h.Why})
		}
	}
	return ready
}

// elsewhere tells of seams that could be laid here were it not for where their
// cars stand: those of the jobs that are asked about, else what is prepped and
// stands where nobody works on cars, or nobody said where.
func (b *bay) elsewhere(resp *materialsv1.PlanRunResponse) {
	for _, id := range b.f.Seams() {
		s := b.f.Seam(id)
		at := b.f.Zone(s)
		j := b.f.Job(s.Job)
		if j == nil || j.State != floor.JobOpen || at == floor.ZoneID(b.req.GetZoneId()) || s.Stage != floor.Prepped && s.Stage != floor.Planned {
			continue
		}
		why := fmt.Sprintf("By what was told last it is in %s: move the car into %s, and tell so.", at, b.req.GetZoneId())
		if at == "" {
			why = fmt.Sprintf("Nobody said where its car stands: move it into %s, and tell so.", b.req.GetZoneId())
		}
		of := b.req.GetRos()
		if slices.Contains(of, string(s.Job)) || len(of) == 0 && s.Stage == floor.Prepped && !slices.Contains(b.f.Bays(), at) {
			resp.Unplanned = append(resp.Unplanned, &materialsv1.RunUnplanned{SeamId: string(s.ID), Reason: "car-elsewhere", Why: why})
		}
	}
}

// here reports whether a seam is of a car that stands in the bay and is asked
// about.
func (b *bay) here(s *floor.Seam) bool {
	j := b.f.Job(s.Job)
	if j == nil || j.State != floor.JobOpen || b.f.Zone(s) != floor.ZoneID(b.req.GetZoneId()) {
		return false
	}
	of := b.req.GetRos()
	return len(of) == 0 || slices.Contains(of, string(s.Job))
}

func (b *bay) seam(s *floor.Seam) run.Seam {
	out := run.Seam{ID: string(s.ID), RO: string(s.Job), Panel: string(s.Panel)}
	if s.Plan == nil {
		return out
	}
	out.ProductID, out.Volume = string(s.Plan.Product), quantity.Volume(s.Plan.Volume.ML())
	out.Tip, _ = spec.ReadNozzle(s.Plan.Nozzle)
	out.MayJoin = run.Joins(s.Plan.Profile)
	passes := 1.0
	if s.NeedsBed() {
		passes = 2
	}
	speed := usualMMPerS
	if b.req.MmPerS != nil {
		speed = b.req.GetMmPerS()
	}
	out.Laying = time.Duration(passes * s.LengthMM / speed * float64(time.Second))
	return out
}

func (b *bay) product(p *floor.Product) run.Product {
	or := func(told *float64, usual float64) float64 {
		if told == nil {
			return usual
		}
		return *told
	}
	return run.Product{
		ID: string(p.ID), OpenedLife: p.OpenedLife, Gel: b.gels(p, floorv1.Clock_CLOCK_NOZZLE_GEL), Tooling: b.gels(p, floorv1.Clock_CLOCK_TOOLING),
		Losses: bead.Losses{
			PurgeML: or(b.req.PurgeMl, usualPurge), HoldUpML: or(b.req.HoldUpMl, usualHoldUp), WastePercent: or(b.req.WastePercent, usualWaste),
		},
		Equalise: quantity.Volume(or(b.req.EqualiseMl, usualEqualise)), Cartridge: quantity.Volume(p.CartridgeML()),
	}
}

// gels is how long a stage that must not be passed takes at the bay's hot
// edge; 0: not known.
func (b *bay) gels(p *floor.Product, k floorv1.Clock) time.Duration {
	needed, ok := p.Needs(k, "")
	if !ok {
		return 0
	}
	d, err := run.GelAt(p.Law, needed, p.Tolerance, b.hot)
	if err != nil {
		return 0
	}
	return d
}

func (b *bay) lots() (out []run.Lot) {
	for _, id := range b.f.Lots() {
		l := b.f.Lot(id)
		p := b.products[l.Product]
		if p == nil || l.Shelf <= 0 {
			continue
		}
		out = append(out, run.Lot{
			ID: string(id), ProductID: string(l.Product), Expires: l.Expires, Recalled: l.Recalled, Shelf: l.Shelf,
			Cartridge: quantity.Volume(p.CartridgeML()),
		})
	}
	return out
}

func (b *bay) opened() (out []run.Cartridge) {
	for _, id := range b.f.Cartridges() {
		c := b.f.Cartridge(id)
		if b.products[c.Product] == nil || c.Emptied {
			continue
		}
		x := run.Cartridge{
			ID: string(id), LotID: string(c.Lot), ProductID: string(c.Product), Left: quantity.Volume(c.Remaining.ML()),
			Opened: c.Opened, Equalised: c.Equalised,
		}
		if l := b.f.Lot(c.Lot); l != nil {
			x.Expires, x.Recalled = l.Expires, l.Recalled
		}
		if c.Nozzle != "" {
			x.Nozzle = b.nozzle(c)
		}
		out = append(out, x)
	}
	return out
}

// nozzle is the one that is on a cartridge, its tip as wide as it was cut for
// the beads laid through it. One that may have gelled is told as
// gelled by now.
func (b *bay) nozzle(c *floor.Cartridge) run.Nozzle {
	n := run.Nozzle{ID: string(c.Nozzle), Tip: b.f.Tip(c.ID), Purged: c.Purged || c.Flowed()}
	if g, ok := b.f.Gel(c.ID, b.now); ok {
		n.GelsBy = g.DueHot
		if g.Reached != cure.No && (n.GelsBy.IsZero() || n.GelsBy.After(b.now)) {
			n.GelsBy = b.now
		}
	}
	return n
}
