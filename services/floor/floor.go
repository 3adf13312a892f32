package floor

import (
	"cmp"
	"maps"
	"slices"
	"time"

	"google.golang.org/protobuf/proto"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
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
	stands     map[string]ZoneID    // terminals, by the newest definitions
	enrolled   time.Time            // when the newest of these was made
	heard      map[string]time.Time // newest fact told at a terminal
	booths     map[BoothID]*Booth
	loads      map[LoadID]*Load
	permits    map[BoothID]*Permit   // running
	issued     map[BoothID][]*Permit // all that there ever were, oldest first
	findings   map[FindingID]*FindingState
	about      map[key][]FindingID
	byFact     map[uint64][]FindingID
	ofJob      map[RO][]SeamID // sorted

	revisions map[*materialsv1.ProductDefined]*Product
	paths     *pathCache
}

// entry is an event with what later facts did to it.
type entry struct {
	ev        Event         // corrected, if it was
	told      proto.Message // as it was told at first
	placed    []placed      // where its facts stand in the book
	withdrawn bool
}

// New makes the empty floor.
func New() *Floor {
	return &Floor{
		commands: map[string]uint64{}, book: newBook(nil), jobs: map[RO]*Job{}, seams: map[SeamID]*Seam{},
		where: map[RO]*whereabouts{}, cartridges: map[CartridgeID]*Cartridge{}, nozzles: map[NozzleID]*Nozzle{},
		lots: map[LotID]*Lot{}, zones: map[ZoneID]*zoneOf{}, heard: map[string]time.Time{}, booths: map[BoothID]*Booth{}, loads: map[LoadID]*Load{}, permits: map[BoothID]*Permit{},
		issued: map[BoothID][]*Permit{}, findings: map[FindingID]*FindingState{}, about: map[key][]FindingID{},
		byFact: map[uint64][]FindingID{}, ofJob: map[RO][]SeamID{},
		revisions: map[*materialsv1.ProductDefined]*Product{}, paths: newPathCache(),
	}
}

// Grow makes room for n events, so that folding a whole journal does not move
// what it has folded again and again.
func (fl *Floor) Grow(n int) {
	if more := n - len(fl.log); more > 0 {
		fl.log = slices.Grow(fl.log, more)
		commands := make(map[string]uint64, n)
		maps.Copy(commands, fl.commands)
		fl.commands = commands
	}
}

// Seq is the sequence of the newest event that was applied.
func (fl *Floor) Seq() uint64 { return fl.seq }

// Last is the newest moment at which the floor heard anything.
func (fl *Floor) Last() time.Time { return fl.last }

// Begun is the moment at which the floor heard anything for the first time;
// zero: it never did.
func (fl *Floor) Begun() time.Time {
	if len(fl.log) == 0 {
		return time.Time{}
	}
	return fl.log[0].ev.Received
}

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

// Told gives the body of an event as it was told at first, before any
// correction; nil when there is no such event.
func (fl *Floor) Told(seq uint64) proto.Message {
	if seq == 0 || seq > uint64(len(fl.log)) {
		return nil
	}
	return fl.log[seq-1].told
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
	fl.log = append(fl.log, entry{ev: ev, told: ev.Body})
	if err := fl.apply(&ev); err != nil {
		return err
	}
	fl.assessed(&ev)
	return nil
}

func (fl *Floor) apply(ev *Event) error {
	switch b := ev.Body.(type) {
	case *curesv1.ReadingTaken:
		return fl.read(b, ev)
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
	if err := fl.putIn(ev.Seq); err != nil {
		return err
	}
	fl.spray(ev)
	return nil
}

// putIn puts a logged event into the histories that it concerns.
func (fl *Floor) putIn(seq uint64) error {
	e := &fl.log[seq-1]
	ev := e.ev // facts keep a header that the log's growth does not move
	e.placed = fl.place(&ev)
	for _, p := range e.placed {
		fl.book.insert(p.k, p.f)
	}
	return fl.refresh(e.placed)
}

func sortedKeys[K cmp.Ordered, V any](m map[K]V) []K { return slices.Sorted(maps.Keys(m)) }
