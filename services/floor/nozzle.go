package floor

import (
	"slices"
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
	misfits   map[uint64]string
}

func (fl *Floor) foldNozzle(b *book, id NozzleID) *Nozzle {
	n := &Nozzle{ID: id, said: map[uint64]announcement{}, misfits: map[uint64]string{}}
	told := false
	for _, f := range b.of(id.key()) {
		switch e := f.body.(type) {
		case *materialsv1.NozzleFitted:
			n.Cartridge, n.Kind, n.Fitted = CartridgeID(e.GetCartridgeId()), e.GetKind(), f.at
		case *materialsv1.NozzleRemoved:
			if told = true; n.Cartridge == "" {
				n.misfits[f.seq] = "nobody said which cartridge the nozzle was on"
			}
			continue
		case *curesv1.WindowClosed:
			say(n.said, e.GetBegan(), announcement{f.seq, e.GetDue().AsTime()})
		case *curesv1.WindowRetracted:
			for began, a := range n.said {
				if a.seq == e.GetAnnounced() {
					delete(n.said, began)
				}
			}
		default:
			if f.lay == nil {
				continue
			}
			if n.Cartridge != f.lay.cartridge {
				n.Cartridge, n.Kind, n.Fitted = f.lay.cartridge, "", f.at // its fitting was not told
			}
		}
		told = true
	}
	if !told {
		return nil
	}
	if c := fl.foldCartridge(b, n.Cartridge); c != nil {
		n.On = c.Nozzle == id
	}
	return n
}

// carriers lists the cartridges that a nozzle was ever on, as told: by its
// fitting, or by what was laid through it.
func carriers(b *book, id NozzleID) []CartridgeID {
	var out []CartridgeID
	for _, f := range b.of(id.key()) {
		c := CartridgeID("")
		if e, ok := f.body.(*materialsv1.NozzleFitted); ok {
			c = CartridgeID(e.GetCartridgeId())
		} else if f.lay != nil {
			c = f.lay.cartridge
		}
		if c != "" && !slices.Contains(out, c) {
			out = append(out, c)
		}
	}
	return out
}
