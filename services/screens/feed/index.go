package feed

import (
	"slices"
	"sync"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/floor"
)

// index follows the journal for what the floor does not keep: at which
// terminal a cartridge was last in hand, and which facts were water tests and
// inspections. It is no state of the shop, only a way to find events again: whether
// they still count is asked of the floor.
type index struct {
	mu    *sync.Mutex
	upTo  uint64
	hand  map[floor.CartridgeID]inHand
	tests map[floor.SeamID][]uint64
	looks map[floor.SeamID][]uint64 // inspections
	stood map[string]bool           // terminals that some zone's definition named
}

// inHand is where and by which event a cartridge was last handled.
type inHand struct {
	terminal string
	seq      uint64
}

func newIndex() index {
	return index{mu: &sync.Mutex{}, hand: map[floor.CartridgeID]inHand{}, tests: map[floor.SeamID][]uint64{}, looks: map[floor.SeamID][]uint64{}, stood: map[string]bool{}}
}

// follow takes in the events that came since.
func (x *index) follow(f *floor.Floor) {
	x.mu.Lock()
	defer x.mu.Unlock()
	for x.upTo < f.Seq() {
		x.upTo++
		ev, _, ok := f.Event(x.upTo)
		if !ok {
			continue
		}
		switch b := ev.Body.(type) {
		case *curesv1.ZoneDefined:
			x.standing(b)
		case *jobsv1.FactCorrected:
			var z curesv1.ZoneDefined
			if b.GetBody().MessageIs(&z) && b.GetBody().UnmarshalTo(&z) == nil {
				x.standing(&z)
			}
		case *jobsv1.WaterTested:
			id := floor.SeamID(b.GetSeamId())
			x.tests[id] = append(x.tests[id], ev.Seq)
		case *jobsv1.SeamInspected:
			id := floor.SeamID(b.GetSeamId())
			x.looks[id] = append(x.looks[id], ev.Seq)
		case *materialsv1.NozzleRemoved:
			if n := f.Nozzle(floor.NozzleID(b.GetNozzleId())); n != nil {
				x.hand[n.Cartridge] = inHand{ev.Terminal, ev.Seq}
			}
		case interface{ GetCartridgeId() string }:
			if id := floor.CartridgeID(b.GetCartridgeId()); id != "" {
				x.hand[id] = inHand{ev.Terminal, ev.Seq}
			}
		}
	}
}

// standing notes the terminals of a zone's definition. x.mu must be locked.
func (x *index) standing(z *curesv1.ZoneDefined) {
	for _, t := range z.GetTerminals() {
		x.stood[t] = true
	}
}

// terminals are those that stand in a zone now, by name.
func (x *index) terminals(f *floor.Floor) []string {
	x.mu.Lock()
	defer x.mu.Unlock()
	var out []string
	for t := range x.stood {
		if f.TerminalZone(t) != "" {
			out = append(out, t)
		}
	}
	slices.Sort(out)
	return out
}

// inHandOf is where a cartridge was last handled.
func (x *index) inHandOf(id floor.CartridgeID) inHand {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.hand[id]
}

// tested reports whether the bead that lies on a seam has passed a water
// test: the newest test that counts decides.
func (x *index) tested(f *floor.Floor, s *floor.Seam) bool {
	if s.Stage.Rank() >= floor.Tested.Rank() {
		return true
	}
	if s.Bead == nil {
		return false
	}
	x.mu.Lock()
	defer x.mu.Unlock()
	seqs := x.tests[s.ID]
	for i := len(seqs) - 1; i >= 0; i-- {
		ev, counts, ok := f.Event(seqs[i])
		if b, is := ev.Body.(*jobsv1.WaterTested); ok && counts && is {
			return ev.Seq > s.Bead.Began && b.GetTight()
		}
	}
	return false
}

// inspections are the events that inspected a seam, the newest first.
func (x *index) inspections(id floor.SeamID) []uint64 {
	x.mu.Lock()
	defer x.mu.Unlock()
	out := slices.Clone(x.looks[id])
	slices.Reverse(out)
	return out
}
