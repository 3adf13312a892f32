package floor

import (
	"maps"
	"slices"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
)

// stale is what must be derived again because facts were put in or taken out.
// Everything is a function of the book, so the order does not matter; what
// matters is that nothing that leans on a changed list is left out.
type stale struct {
	fl         *Floor
	jobs       []RO
	wheres     []RO
	lots       []LotID
	cartridges []CartridgeID
	nozzles    []NozzleID
	seams      []SeamID
	loads      []LoadID
	booths     []BoothID
	ofBooth    map[BoothID]*fact // the one fact of a booth that was put in or taken out; nil: others as well
	zones      []ZoneID
}

// refresh derives again what the given facts concern. The facts may have been
// put in or taken out.
func (fl *Floor) refresh(ps []placed) error {
	s := stale{fl: fl}
	for _, p := range ps {
		s.note(p)
	}
	for _, z := range distinct(s.zones) {
		if err := fl.rezone(z); err != nil {
			return err
		}
	}
	s.derive()
	return nil
}

// note marks what leans on the list that a fact stands in.
func (s *stale) note(p placed) {
	b := s.fl.book
	switch kind, id := p.k.split(); kind {
	case "job":
		s.jobs = append(s.jobs, RO(id))
		s.seams = append(s.seams, s.fl.SeamsOf(RO(id))...)
	case "where":
		s.wheres = append(s.wheres, RO(id))
	case "seam":
		s.seams = append(s.seams, SeamID(id))
		if _, ok := p.f.body.(*jobsv1.SeamSurveyed); ok {
			s.wheres = append(s.wheres, SeamID(id).RO()) // it may name another panel
		}
	case "cartridge":
		s.cartridge(CartridgeID(id), p.f)
	case "nozzle":
		s.nozzles = append(s.nozzles, NozzleID(id))
		for _, c := range carriers(b, NozzleID(id)) {
			s.cartridge(c, p.f)
		}
	case "lot":
		s.lot(LotID(id), p.f)
	case "product":
		s.everyProduct()
	case "zone":
		s.zones = append(s.zones, ZoneID(id))
		s.wheres = append(s.wheres, slices.Collect(maps.Keys(s.fl.where))...) // a terminal may stand elsewhere
		s.cartridges = append(s.cartridges, slices.Collect(maps.Keys(s.fl.cartridges))...)
	case "load":
		s.load(LoadID(id), p.f)
	case "booth":
		s.booth(BoothID(id), p.f)
	}
}

// cartridge: beads lean on what came before them out of the same cartridge.
func (s *stale) cartridge(id CartridgeID, f *fact) {
	s.cartridges = append(s.cartridges, id)
	s.seams = append(s.seams, laidFrom(s.fl.book.after(id.key(), f))...)
	if n := nozzleOf(f); n != "" {
		s.nozzles = append(s.nozzles, n)
	}
	if c := s.fl.cartridges[id]; c != nil && c.Nozzle != "" {
		s.nozzles = append(s.nozzles, c.Nozzle)
	}
	if _, ok := f.body.(*materialsv1.CartridgeOpened); !ok {
		return
	}
	for _, f := range s.fl.book.of(id.key()) {
		if e, ok := f.body.(*materialsv1.CartridgeOpened); ok {
			s.lots = append(s.lots, LotID(e.GetLotId()))
		}
	}
}

// lot: its cartridges lean on its product.
func (s *stale) lot(id LotID, f *fact) {
	s.lots = append(s.lots, id)
	if _, ok := f.body.(*materialsv1.LotReceived); !ok {
		return
	}
	for _, c := range openedFrom(s.fl.book, id) {
		s.cartridges = append(s.cartridges, c)
		s.seams = append(s.seams, laidFrom(s.fl.book.of(c.key()))...)
	}
}

// everyProduct: definitions are rare. Beads keep the revision that was in
// force when they were laid.
func (s *stale) everyProduct() {
	s.lots = append(s.lots, slices.Collect(maps.Keys(s.fl.lots))...)
	s.cartridges = append(s.cartridges, slices.Collect(maps.Keys(s.fl.cartridges))...)
	s.seams = append(s.seams, slices.Collect(maps.Keys(s.fl.seams))...)
}

// load: what was sprayed with it went into the booth, which bears its colour.
func (s *stale) load(id LoadID, f *fact) {
	_, planned := f.body.(*boothv1.LoadPlanned)
	s.loads = append(s.loads, id)
	for _, f := range s.fl.book.of(id.key()) {
		switch e := f.body.(type) {
		case *boothv1.LoadPlanned:
			s.wheres = append(s.wheres, RO(e.GetRo()))
		case *boothv1.SprayStarted:
			if planned { // else the booth's own list tells
				s.anew(BoothID(e.GetBoothId()), nil)
			}
		}
	}
}

// anew marks a booth for the fact that concerns it, nil for any.
func (s *stale) anew(id BoothID, f *fact) {
	if s.ofBooth == nil {
		s.ofBooth = map[BoothID]*fact{}
	}
	if _, again := s.ofBooth[id]; again {
		f = nil
	}
	s.booths, s.ofBooth[id] = append(s.booths, id), f
}

// boothAfter derives a booth again: by its newest fact alone where that is all that
// came.
func (fl *Floor) boothAfter(id BoothID, f *fact) *Booth {
	facts, was := fl.book.of(id.key()), fl.booths[id]
	if n := len(facts); f != nil && was != nil && n > 1 && facts[n-1] == f {
		return was.next(fl.book, f)
	}
	return foldBooth(fl.book, id)
}

func (s *stale) booth(id BoothID, f *fact) {
	s.anew(id, f)
	if _, ok := f.body.(*boothv1.BoothDefined); !ok {
		return
	}
	for _, l := range s.fl.loads {
		s.wheres = append(s.wheres, l.RO) // what was sprayed there is in its zone
	}
}

func (s *stale) derive() {
	fl, b := s.fl, s.fl.book
	for _, id := range distinct(s.jobs) {
		set(fl.jobs, id, fl.foldJob(b, id))
	}
	for _, id := range distinct(s.lots) {
		set(fl.lots, id, fl.lotOf(b, id))
	}
	for _, id := range distinct(s.cartridges) {
		set(fl.cartridges, id, fl.foldCartridge(b, id))
		if c := fl.cartridges[id]; c != nil && c.Nozzle != "" {
			s.nozzles = append(s.nozzles, c.Nozzle)
		}
	}
	for _, id := range distinct(s.nozzles) {
		set(fl.nozzles, id, fl.foldNozzle(b, id))
	}
	for _, id := range distinct(s.loads) {
		set(fl.loads, id, fl.foldLoad(b, id))
	}
	for _, id := range distinct(s.booths) {
		set(fl.booths, id, fl.boothAfter(id, s.ofBooth[id]))
	}
	for _, ro := range distinct(s.wheres) {
		set(fl.where, ro, fl.foldWhere(b, ro))
		fl.paths.drop(fl.SeamsOf(ro)...)
	}
	for _, id := range distinct(s.seams) {
		fl.setSeam(id, fl.foldSeam(b, id, b.of(id.key())))
	}
}

// setSeam stores a derived seam with what is kept beside it.
func (fl *Floor) setSeam(id SeamID, s *Seam) {
	if _, known := fl.seams[id]; known != (s != nil) {
		of := fl.ofJob[id.RO()]
		n, found := slices.BinarySearch(of, id)
		if found {
			of = slices.Delete(slices.Clone(of), n, n+1)
		} else {
			of = slices.Insert(slices.Clone(of), n, id)
		}
		fl.ofJob[id.RO()] = of
	}
	set(fl.seams, id, s)
	fl.paths.drop(id)
	for _, f := range fl.about[id.key()] {
		fl.settle(fl.findings[f])
	}
}

// set stores a derived thing, or removes it when there is nothing of it.
func set[K comparable, V any](m map[K]*V, k K, v *V) {
	if v == nil {
		delete(m, k)
		return
	}
	m[k] = v
}

func distinct[K ~string](ids []K) []K {
	slices.Sort(ids)
	return slices.Compact(ids)
}

// laidFrom lists the seams that facts of a cartridge laid material on.
func laidFrom(facts []*fact) []SeamID {
	var out []SeamID
	for _, f := range facts {
		if f.lay != nil {
			out = append(out, f.lay.seam)
		}
	}
	return out
}

// SeamsOf lists the seams of a job by identifier. The caller must not change
// the list.
func (fl *Floor) SeamsOf(ro RO) []SeamID { return fl.ofJob[ro] }
