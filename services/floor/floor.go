package floor

import (
	"cmp"
	"maps"
	"slices"
	"sync"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/fault"
)

// Floor is the state of one shop. Make it with [New].
type Floor struct {
	seq      uint64
	last     time.Time // newest receipt: the floor never goes back in time
	commands map[string]uint64
	log      []entry // by sequence, from 1

	book       *book
	jobs       map[RO]*Job
	seams      map[SeamID]*Seam
	where      map[RO]*whereabouts
	cartridges map[CartridgeID]*Cartridge
	nozzles    map[NozzleID]*Nozzle
	lots       map[LotID]*Lot
	zones      map[ZoneID]*zoneOf
	terminals  map[string]ZoneID
	heard      map[string]time.Time // newest fact told at a terminal
	tablet     map[RO]string        // terminal that a job's seams were last worked at
	booths     map[BoothID]*Booth
	loads      map[LoadID]*Load
	permits    map[BoothID]*Permit
	findings   map[FindingID]*FindingState
	about      map[key][]FindingID

	revisions map[*materialsv1.ProductDefined]*Product
	paths     *pathCache
}

// entry is an event with what later facts did to it.
type entry struct {
	ev        Event // corrected, if it was
	withdrawn bool
}

// New makes the empty floor.
func New() *Floor {
	return &Floor{
		commands: map[string]uint64{}, book: newBook(nil), jobs: map[RO]*Job{}, seams: map[SeamID]*Seam{},
		where: map[RO]*whereabouts{}, cartridges: map[CartridgeID]*Cartridge{}, nozzles: map[NozzleID]*Nozzle{},
		lots: map[LotID]*Lot{}, zones: map[ZoneID]*zoneOf{}, terminals: map[string]ZoneID{}, heard: map[string]time.Time{},
		tablet: map[RO]string{}, booths: map[BoothID]*Booth{}, loads: map[LoadID]*Load{}, permits: map[BoothID]*Permit{},
		findings: map[FindingID]*FindingState{}, about: map[key][]FindingID{},
		revisions: map[*materialsv1.ProductDefined]*Product{}, paths: newPathCache(),
	}
}

// Seq is the sequence of the newest event that was applied.
func (fl *Floor) Seq() uint64 { return fl.seq }

// Last is the newest moment at which the floor heard anything.
func (fl *Floor) Last() time.Time { return fl.last }

// Taken gives the sequence of the event that a command id made, of all
// events that were ever applied.
func (fl *Floor) Taken(commandID string) (uint64, bool) {
	seq, ok := fl.commands[commandID]
	return seq, ok
}

// Event gives an applied event in its present form (corrected, if it was) and
// whether it still counts.
func (fl *Floor) Event(seq uint64) (ev Event, counts, ok bool) {
	if seq == 0 || seq > uint64(len(fl.log)) {
		return Event{}, false, false
	}
	e := fl.log[seq-1]
	return e.ev, !e.withdrawn, true
}

// Apply folds the next event. An event that is out of turn or of a type that
// this program does not know is an error, and the floor must not go on.
func (fl *Floor) Apply(ev Event) error {
	if ev.Seq != fl.seq+1 {
		return fault.New(fault.Corrupt, "event-out-of-turn",
			"the floor stands at a different event than the one before this", "fold the journal again from the first event")
	}
	fl.seq = ev.Seq
	fl.last = later(fl.last, ev.Received)
	if ev.CommandID != "" {
		if _, ok := fl.commands[ev.CommandID]; !ok {
			fl.commands[ev.CommandID] = ev.Seq
		}
	}
	if ev.Terminal != "" {
		fl.heard[ev.Terminal] = later(fl.heard[ev.Terminal], ev.Received)
	}
	fl.log = append(fl.log, entry{ev: ev})
	if err := fl.apply(&fl.log[len(fl.log)-1].ev); err != nil {
		return err
	}
	fl.assessed(&ev)
	return nil
}

func (fl *Floor) apply(ev *Event) error {
	switch b := ev.Body.(type) {
	case *curesv1.ReadingTaken:
		return fl.read(b, ev.Occurred, ev.Seq)
	case *curesv1.ZoneDefined:
		if err := fl.defineZone(b); err != nil {
			return err
		}
		fl.paths.clear()
	case *materialsv1.ProductDefined:
		if err := fl.keepRevision(b, ev.Seq); err != nil {
			return err
		}
	case *jobsv1.FactWithdrawn:
		return fl.withdraw(b.GetSequence())
	case *jobsv1.FactCorrected:
		return fl.correct(b, ev)
	case *jobsv1.FindingRaised:
		fl.raise(ev, 0, b.GetFinding())
		return nil
	case *jobsv1.FindingDisposed:
		fl.dispose(b, ev)
		return nil
	case *boothv1.PermitIssued, *boothv1.PermitRevoked:
		fl.permit(ev)
		return nil
	}
	if !known(ev.Body) {
		return fault.New(fault.Corrupt, "unknown-event-type",
			"the journal holds an event of type "+ev.Type()+" that this program does not know",
			"start a program that is new enough for this shop")
	}
	ps := fl.place(ev)
	for _, p := range ps {
		fl.book.insert(p.k, p.f)
	}
	fl.refresh(ps)
	fl.spray(ev)
	fl.noteTablet(ev)
	return nil
}

// refresh derives again what the given facts concern: places first, since
// beads cure in them, then cartridges, since beads come out of them.
func (fl *Floor) refresh(ps []placed) {
	done := map[key]bool{}
	var seams []SeamID
	for _, p := range ps {
		if done[p.k] {
			continue
		}
		done[p.k] = true
		seams = append(seams, fl.refreshThing(p.k)...)
	}
	for _, p := range ps {
		if kind, id := p.k.split(); kind == "seam" {
			seams = append(seams, SeamID(id))
		}
	}
	slices.Sort(seams)
	for _, s := range slices.Compact(seams) {
		if fs := fl.book.of(s.key()); len(fs) > 0 {
			fl.seams[s] = fl.foldSeam(fl.book, s, fs)
		} else {
			delete(fl.seams, s)
		}
		fl.paths.drop(s)
	}
}

// refreshThing derives one thing that is not a seam and names the seams that
// lean on it.
func (fl *Floor) refreshThing(k key) []SeamID {
	kind, id := k.split()
	switch kind {
	case "job":
		set(fl.jobs, RO(id), fl.foldJob(fl.book, RO(id)))
		return fl.SeamsOf(RO(id))
	case "where":
		fl.where[RO(id)] = fl.foldWhere(fl.book, RO(id))
		fl.paths.dropJob(RO(id))
	case "cartridge":
		c := fl.foldCartridge(fl.book, CartridgeID(id), fl.book.of(k))
		set(fl.cartridges, CartridgeID(id), c)
		return fl.laidFrom(CartridgeID(id))
	case "nozzle":
		set(fl.nozzles, NozzleID(id), fl.foldNozzle(fl.book, NozzleID(id)))
	case "lot":
		set(fl.lots, LotID(id), fl.lotOf(fl.book, LotID(id)))
		return fl.refreshLot(LotID(id))
	case "product":
		return fl.refreshProduct()
	case "booth":
		set(fl.booths, BoothID(id), fl.foldBooth(fl.book, BoothID(id)))
	case "load":
		set(fl.loads, LoadID(id), fl.foldLoad(fl.book, LoadID(id)))
	}
	return nil
}

// set stores a derived thing, or removes it when there is nothing of it.
func set[K comparable, V any](m map[K]*V, k K, v *V) {
	if v == nil {
		delete(m, k)
		return
	}
	m[k] = v
}

// refreshLot derives the cartridges of a lot again: their product hangs on it.
func (fl *Floor) refreshLot(id LotID) []SeamID {
	var seams []SeamID
	for _, c := range sortedKeys(fl.cartridges) {
		if fl.cartridges[c].Lot == id {
			set(fl.cartridges, c, fl.foldCartridge(fl.book, c, fl.book.of(c.key())))
			seams = append(seams, fl.laidFrom(c)...)
		}
	}
	return seams
}

// refreshProduct derives all that hangs on products again. Definitions are
// rare; beads keep the revision that was in force when they were laid.
func (fl *Floor) refreshProduct() []SeamID {
	for _, l := range sortedKeys(fl.lots) {
		set(fl.lots, l, fl.lotOf(fl.book, l))
	}
	for _, c := range sortedKeys(fl.cartridges) {
		set(fl.cartridges, c, fl.foldCartridge(fl.book, c, fl.book.of(c.key())))
	}
	return sortedKeys(fl.seams)
}

// laidFrom lists the seams that were laid from a cartridge.
func (fl *Floor) laidFrom(id CartridgeID) []SeamID {
	var out []SeamID
	for _, f := range fl.book.of(id.key()) {
		if f.lay != nil {
			out = append(out, f.lay.seam)
		}
	}
	return out
}

// SeamsOf lists the seams of a job by identifier.
func (fl *Floor) SeamsOf(ro RO) []SeamID {
	var out []SeamID
	for id := range fl.seams {
		if id.RO() == ro {
			out = append(out, id)
		}
	}
	slices.Sort(out)
	return out
}

func (fl *Floor) noteTablet(ev *Event) {
	if ev.Terminal == "" || fl.terminals[ev.Terminal] == "" {
		return
	}
	for _, p := range fl.place(ev) {
		if handsOn(p.f) {
			for _, s := range seamsOf(p.f) {
				fl.tablet[s.RO()] = ev.Terminal
			}
		}
	}
}

func sortedKeys[K cmp.Ordered, V any](m map[K]V) []K { return slices.Sorted(maps.Keys(m)) }

// pathCache keeps the paths of seams between changes. Readers fill it side
// by side.
type pathCache struct {
	mu sync.Mutex
	m  map[SeamID]*cure.Path
}

func newPathCache() *pathCache { return &pathCache{m: map[SeamID]*cure.Path{}} }

func (c *pathCache) get(s SeamID) (*cure.Path, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	p, ok := c.m[s]
	return p, ok
}

func (c *pathCache) put(s SeamID, p *cure.Path) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.m[s] = p
}

func (c *pathCache) drop(s SeamID) {
	c.mu.Lock()
	defer c.mu.Unlock()
	delete(c.m, s)
}

func (c *pathCache) dropJob(ro RO) {
	c.mu.Lock()
	defer c.mu.Unlock()
	maps.DeleteFunc(c.m, func(s SeamID, _ *cure.Path) bool { return s.RO() == ro })
}

func (c *pathCache) clear() {
	c.mu.Lock()
	defer c.mu.Unlock()
	clear(c.m)
}
