package floor

import (
	"slices"
	"strings"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
)

// Permit is leave to spray that has not been used, revoked or returned.
type Permit struct {
	ID        string
	Booth     BoothID
	Load      LoadID
	Holder    string
	Issued    time.Time
	StartBy   time.Time
	Override  bool
	By        string   // who gave the override
	Over      []string // what held then, "open-stop seam/2207/rd-l"
	Untouched bool     // a painter confirmed that no bead was touched
	Seq       uint64
	Revoked   string    // why it was taken back or given back, in words; empty: neither
	Grounds   []string  // the same by name
	ended     time.Time // revoked or used; zero: running
}

// permit takes in what the booth service decided.
func (fl *Floor) permit(ev *Event) {
	switch b := ev.Body.(type) {
	case *boothv1.PermitIssued:
		p := &Permit{
			ID: b.GetPermitId(), Booth: BoothID(b.GetBoothId()), Load: LoadID(b.GetLoadId()), Holder: b.GetHolder(),
			Issued: ev.Occurred, StartBy: b.GetStartBy().AsTime(), Override: b.GetOverride(), By: b.GetOverrideBy(), Over: b.GetOverReasons(),
			Untouched: b.GetUntouchedBy() != "", Seq: ev.Seq,
		}
		fl.endPermit(p.Booth, ev.Occurred)
		fl.permits[p.Booth], fl.issued[p.Booth] = p, append(fl.issued[p.Booth], p)
	case *boothv1.PermitRevoked:
		if p := fl.permits[BoothID(b.GetBoothId())]; p != nil && p.ID == b.GetPermitId() {
			p.Revoked, p.Grounds = b.GetWhy(), b.GetReasons()
			fl.endPermit(p.Booth, ev.Occurred)
		}
	}
}

func (fl *Floor) endPermit(b BoothID, at time.Time) {
	if p := fl.permits[b]; p != nil {
		p.ended = at
		delete(fl.permits, b)
	}
}

// spray uses up the permit for a load that is being sprayed, whichever permit
// the painter's terminal named: it does not run on.
func (fl *Floor) spray(ev *Event) {
	b, ok := ev.Body.(*boothv1.SprayStarted)
	if !ok {
		return
	}
	if p := fl.permits[BoothID(b.GetBoothId())]; p != nil && p.Load == LoadID(b.GetLoadId()) {
		fl.endPermit(p.Booth, ev.Received)
	}
}

// permitAt is the permit under which the spraying of a load began at a
// moment: one that ran then, whatever became of it since; nil: none.
func (fl *Floor) permitAt(b BoothID, l LoadID, at time.Time) *Permit {
	for _, p := range slices.Backward(fl.issued[b]) {
		if p.Load == l && !p.Issued.After(at) && (p.ended.IsZero() || !at.After(p.ended)) {
			return p
		}
	}
	return nil
}

// Names of grounds on which a permit ends that are none to hold.
const (
	EndedNewHolder = "new-holder" // another service speaks for the booth
	EndedReturned  = "returned"
)

// Lost says in words for people why a permit was taken back or given back;
// empty: neither. Where the program itself was the cause, it is that alone: what
// else it could not vouch for then says nothing about the booth.
func (p *Permit) Lost() string {
	for _, c := range [][2]string{
		{HoldGatePaused, "the shop's program stood still for a while"},
		{EndedNewHolder, "the shop's program was started anew, or another of its booth services took over"},
	} {
		if slices.ContainsFunc(p.Grounds, func(g string) bool { name, _, _ := strings.Cut(g, " "); return name == c[0] }) {
			return c[1]
		}
	}
	return p.Revoked
}

// Revoked says why and when the last permit for a load in a booth was taken or
// given back, as Lost does; empty: there was none, or another thing became of it.
func (fl *Floor) Revoked(b BoothID, l LoadID) (why string, at time.Time) {
	for _, p := range slices.Backward(fl.issued[b]) {
		if p.Load == l {
			return p.Lost(), p.ended
		}
	}
	return "", time.Time{}
}

// LastPermit is the newest permit of a booth and when it ended; nil: there was
// none, zero: it runs.
func (fl *Floor) LastPermit(b BoothID) (p *Permit, ended time.Time) {
	if all := fl.issued[b]; len(all) > 0 {
		p = all[len(all)-1]
		return p, p.ended
	}
	return nil, time.Time{}
}

// Permit gives a booth's running permit, or nil.
func (fl *Floor) Permit(b BoothID) *Permit { return fl.permits[b] }

// Permits lists the running permits by booth, also one of a booth that is no
// longer defined.
func (fl *Floor) Permits() []*Permit {
	var out []*Permit
	for _, b := range sortedKeys(fl.permits) {
		out = append(out, fl.permits[b])
	}
	return out
}

// Booth gives a booth, or nil.
func (fl *Floor) Booth(b BoothID) *Booth { return fl.booths[b] }

// Booths lists the booths by identifier.
func (fl *Floor) Booths() []BoothID { return sortedKeys(fl.booths) }

// Load gives a load, or nil.
func (fl *Floor) Load(l LoadID) *Load { return fl.loads[l] }

// Loads lists the loads by identifier.
func (fl *Floor) Loads() []LoadID { return sortedKeys(fl.loads) }

// Job gives a job, or nil.
func (fl *Floor) Job(ro RO) *Job { return fl.jobs[ro] }

// Jobs lists the jobs by repair-order number.
func (fl *Floor) Jobs() []RO { return sortedKeys(fl.jobs) }

// Seam gives a seam, or nil.
func (fl *Floor) Seam(s SeamID) *Seam { return fl.seams[s] }

// Seams lists all seams by identifier.
func (fl *Floor) Seams() []SeamID { return sortedKeys(fl.seams) }

// Cartridge gives a cartridge, or nil.
func (fl *Floor) Cartridge(c CartridgeID) *Cartridge { return fl.cartridges[c] }

// Cartridges lists the opened cartridges by identifier.
func (fl *Floor) Cartridges() []CartridgeID { return sortedKeys(fl.cartridges) }

// Nozzle gives a nozzle, or nil.
func (fl *Floor) Nozzle(n NozzleID) *Nozzle { return fl.nozzles[n] }

// Nozzles lists the nozzles by identifier.
func (fl *Floor) Nozzles() []NozzleID { return sortedKeys(fl.nozzles) }

// Lot gives a lot, or nil.
func (fl *Floor) Lot(l LotID) *Lot { return fl.lots[l] }

// Lots lists the lots by identifier.
func (fl *Floor) Lots() []LotID { return sortedKeys(fl.lots) }

// Product gives the newest revision of a product at a moment, or nil.
func (fl *Floor) Product(p ProductID, at time.Time) *Product { return fl.productAt(fl.book, p, at) }

// Products lists the products by identifier.
func (fl *Floor) Products() []ProductID {
	var out []ProductID
	for _, id := range fl.book.products {
		if len(fl.book.of(id.key())) > 0 {
			out = append(out, id)
		}
	}
	return out
}

// TerminalZone is the zone that a terminal stands in; empty when unknown.
func (fl *Floor) TerminalZone(terminal string) ZoneID {
	return fl.terminalZone(fl.book, terminal, fl.last)
}
