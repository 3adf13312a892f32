package floor

import (
	"time"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
)

// Nozzle is a static mixer as its facts make it.
type Nozzle struct {
	ID        NozzleID
	Kind      string
	Cartridge CartridgeID // the one it was fitted to last
	Fitted    time.Time
	On        bool
	said      map[uint64]announcement // gel announced, by the flow it began with
}

func (fl *Floor) foldNozzle(b *book, id NozzleID) *Nozzle {
	facts := b.of(id.key())
	if len(facts) == 0 {
		return nil
	}
	n := &Nozzle{ID: id, said: map[uint64]announcement{}}
	for _, f := range facts {
		switch e := f.body.(type) {
		case *materialsv1.NozzleFitted:
			n.Cartridge, n.Kind, n.Fitted, n.On = CartridgeID(e.GetCartridgeId()), e.GetKind(), f.at, true
		case *materialsv1.NozzleRemoved:
			n.On = false
		case *curesv1.WindowClosed:
			say(n.said, e.GetBegan(), announcement{f.seq, e.GetDue().AsTime()})
		case *curesv1.WindowRetracted:
			for began, a := range n.said {
				if a.seq == e.GetAnnounced() {
					delete(n.said, began)
				}
			}
		}
	}
	return n
}

// carrier is the cartridge that a nozzle was fitted to last; empty when it
// was never fitted.
func (fl *Floor) carrier(id NozzleID) CartridgeID {
	if n, ok := fl.nozzles[id]; ok {
		return n.Cartridge
	}
	return ""
}
