package floor

import (
	"cmp"
	"slices"
	"time"

	"google.golang.org/protobuf/proto"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
)

// fact is one event as it concerns one thing. A run laid over six seams is a
// fact of each of them, with the moment that its own pass ended.
type fact struct {
	seq   uint64
	at    time.Time // when it happened, to the best of knowledge: the sort key
	early time.Time // it surely did not happen before
	late  time.Time // it surely had happened by then
	head  *Header
	body  proto.Message
	lay   *laying // set for material laid on a seam
}

// compareFacts orders facts by (occurred, sequence), and the passes of one
// run by their place in it.
func compareFacts(a, b *fact) int {
	if c := a.at.Compare(b.at); c != 0 {
		return c // nearly always
	}
	return cmp.Or(cmp.Compare(a.seq, b.seq), cmp.Compare(a.pass(), b.pass()))
}

func (a *fact) pass() int {
	if a.lay == nil {
		return 0
	}
	return a.lay.pass
}

// book is the facts of each thing, sorted. A child book lays changed lists
// over its parent: what the floor would look like with one more fact.
type book struct {
	base     *book
	m        map[key][]*fact
	products []ProductID // of a root, sorted: that ever stood in it
}

func newBook(base *book) *book { return &book{base: base, m: map[key][]*fact{}} }

// of returns the facts of a thing in order. The caller must not change it.
func (b *book) of(k key) []*fact {
	for ; b != nil; b = b.base {
		if fs, ok := b.m[k]; ok {
			return fs
		}
	}
	return nil
}

// upTo returns the facts of a thing that stand before f.
func (b *book) upTo(k key, f *fact) []*fact { return before(b.of(k), f) }

// before cuts a list of facts in order off at f.
func before(fs []*fact, f *fact) []*fact {
	n, _ := slices.BinarySearchFunc(fs, f, compareFacts)
	return fs[:n:n]
}

// after gives the facts of a thing that stand behind f.
func (b *book) after(k key, f *fact) []*fact {
	fs := b.of(k)
	n, found := slices.BinarySearchFunc(fs, f, compareFacts)
	if found {
		n++
	}
	return fs[n:]
}

// insert puts a fact in its place. Lists are copied, never changed, so that
// a child book does not disturb its parent; appending at the end reuses
// spare room of the list that only the root book owns.
func (b *book) insert(k key, f *fact) {
	fs := b.of(k)
	if len(fs) == 0 {
		b.note(k)
	}
	n, _ := slices.BinarySearchFunc(fs, f, compareFacts)
	if n == len(fs) && b.base == nil {
		b.m[k] = append(fs, f)
		return
	}
	out := make([]*fact, 0, len(fs)+1)
	out = append(append(append(out, fs[:n]...), f), fs[n:]...)
	b.m[k] = out
}

// note keeps the names of products, which are few and asked for often.
func (b *book) note(k key) {
	kind, id := k.split()
	if kind != "product" || b.base != nil {
		return
	}
	if n, known := slices.BinarySearch(b.products, ProductID(id)); !known {
		b.products = slices.Insert(b.products, n, ProductID(id))
	}
}

// remove takes all facts of one event out of a thing's list.
func (b *book) remove(k key, seq uint64) {
	fs := b.of(k)
	out := make([]*fact, 0, len(fs))
	for _, f := range fs {
		if f.seq != seq {
			out = append(out, f)
		}
	}
	b.m[k] = out
}

// placed is a fact with the thing it concerns.
type placed struct {
	k key
	f *fact
}

// place spreads an event over the things that it concerns. Events that
// concern no history (finding dispositions, withdrawals) give none.
func (fl *Floor) place(ev *Event) []placed {
	f := &fact{seq: ev.Seq, at: ev.Occurred, early: ev.Earliest, late: ev.Latest, head: &ev.Header, body: ev.Body}
	if ps := fl.placeJobs(f); ps != nil {
		return ps
	}
	return fl.placeOthers(f)
}

func (fl *Floor) placeJobs(f *fact) []placed {
	switch b := f.body.(type) {
	case *jobsv1.JobOpened:
		return one(RO(b.GetRo()).key(), f)
	case *jobsv1.JobDelivered:
		return one(RO(b.GetRo()).key(), f)
	case *jobsv1.JobCancelled:
		return one(RO(b.GetRo()).key(), f)
	case *jobsv1.CarMoved:
		return one(RO(b.GetRo()).where(), f)
	case *jobsv1.PanelMoved:
		return one(RO(b.GetRo()).where(), f)
	case *jobsv1.BeadLaid:
		return placeLaying(f, layingOf(b, f))
	case *jobsv1.RunLaid:
		var ps []placed
		for i, p := range b.GetPasses() {
			pf := *f
			back := p.GetEndedBefore().AsDuration()
			pf.at, pf.early, pf.late = f.at.Add(-back), f.early.Add(-back), f.late.Add(-back)
			ps = append(ps, placeLaying(&pf, passOf(b, p, i, &pf))...)
		}
		return ps
	case *jobsv1.CoatApplied:
		return each(b.GetSeamIds(), f)
	case *jobsv1.HeatApplied:
		return each(b.GetSeamIds(), f)
	case interface{ GetSeamId() string }:
		if b.GetSeamId() == "" {
			return nil
		}
		return aboutSeam(SeamID(b.GetSeamId()), f)
	}
	return nil
}

func (fl *Floor) placeOthers(f *fact) []placed {
	switch b := f.body.(type) {
	case *materialsv1.ProductDefined:
		return one(ProductID(b.GetProductId()).key(), f)
	case *materialsv1.LotReceived:
		return one(LotID(b.GetLotId()).key(), f)
	case *materialsv1.LotRecalled:
		return one(LotID(b.GetLotId()).key(), f)
	case *materialsv1.StockCounted:
		return one(LotID(b.GetLotId()).key(), f)
	case *materialsv1.CartridgeOpened:
		return []placed{{CartridgeID(b.GetCartridgeId()).key(), f}, {LotID(b.GetLotId()).key(), f}}
	case *materialsv1.NozzleFitted:
		return []placed{{CartridgeID(b.GetCartridgeId()).key(), f}, {NozzleID(b.GetNozzleId()).key(), f}}
	case *materialsv1.NozzleRemoved:
		return one(NozzleID(b.GetNozzleId()).key(), f)
	case *curesv1.WindowClosed:
		return one(NozzleID(b.GetNozzleId()).key(), f)
	case *curesv1.WindowRetracted:
		return one(NozzleID(b.GetNozzleId()).key(), f)
	case interface{ GetCartridgeId() string }:
		return one(CartridgeID(b.GetCartridgeId()).key(), f)
	case *curesv1.ZoneDefined:
		return one(ZoneID(b.GetZoneId()).key(), f)
	case *curesv1.ReadingTaken:
		return nil // readings live in the zone's course
	case *boothv1.BoothDefined:
		return one(BoothID(b.GetBoothId()).key(), f)
	case *boothv1.LoadPlanned:
		return []placed{{LoadID(b.GetLoadId()).key(), f}}
	case *boothv1.SprayStarted:
		return fl.placeLoad(LoadID(b.GetLoadId()), BoothID(b.GetBoothId()), f)
	case *boothv1.LoadFinished:
		return fl.placeLoad(LoadID(b.GetLoadId()), BoothID(b.GetBoothId()), f)
	case interface{ GetBoothId() string }:
		return one(BoothID(b.GetBoothId()).key(), f)
	}
	return nil
}

func one(k key, f *fact) []placed { return []placed{{k, f}} }

func each(seams []string, f *fact) []placed {
	var ps []placed
	for _, s := range seams {
		ps = append(ps, aboutSeam(SeamID(s), f)...)
	}
	return ps
}

// aboutSeam: a fact about a seam that was told beside it also tells where the
// car is, by the terminal; one that hangs on the temperature is judged again
// when the car turns out to have been elsewhere.
func aboutSeam(s SeamID, f *fact) []placed {
	if handsOn(f) || hangsOnPlace(f) {
		return []placed{{s.key(), f}, {s.RO().where(), f}}
	}
	return one(s.key(), f)
}

// hangsOnPlace reports whether what is wrong about a fact hangs on the
// temperature where the seam was, though the fact does not tell where.
func hangsOnPlace(f *fact) bool {
	switch f.body.(type) {
	case *jobsv1.CoatApplied, *jobsv1.WaterTested, *curesv1.StageObserved:
		return true
	}
	return false
}

func placeLaying(f *fact, l *laying) []placed {
	f.lay = l
	ps := aboutSeam(l.seam, f)
	if l.cartridge != "" {
		ps = append(ps, placed{l.cartridge.key(), f})
	}
	if l.nozzle != "" {
		ps = append(ps, placed{l.nozzle.key(), f})
	}
	return ps
}

func (fl *Floor) placeLoad(l LoadID, b BoothID, f *fact) []placed {
	ps := []placed{{l.key(), f}, {b.key(), f}}
	if load, ok := fl.loads[l]; ok && load.RO != "" {
		ps = append(ps, placed{load.RO.where(), f})
	}
	return ps
}
