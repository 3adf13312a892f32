package run

import (
	"cmp"
	"fmt"
	"time"

	"seamwright/services/calc/quantity"
	"seamwright/services/calc/spec"
)

// Run is a sealing run. Lists are never nil.
type Run struct {
	Steps     []Step
	Stored    []Rest
	Asides    []Aside     // stock that is left although it should be used sooner, and what cannot be used
	Unplanned []Unplanned // seams that are left out
	Totals    Totals
	Naive     Totals // of laying the seams in the order given
	Proved    bool   // nothing better exists within the rules of this package
	Least     Least  // no run comes to less
	Gap       string // what was not ruled out, in a sentence; empty when it is proved
}

// Least is what any run comes to at least, to be read like [Totals]: one that
// has more of an earlier field may have less of a later one.
type Least struct {
	Left    int
	Nozzles int
	Passed  int
	Waste   quantity.Volume
}

// Pack names a cartridge: an opened one by its number, an unopened one by
// its lot and how many of it the run has taken by then.
type Pack struct {
	ID    string // empty: unopened, it gets its number when it is opened
	LotID string
	Nth   int // of the lot's unopened ones in this run, from 1; 0 for an opened one
}

// String says it as the bay reads it.
func (p Pack) String() string {
	if p.ID != "" {
		return p.ID
	}
	if p.Nth > 1 {
		return fmt.Sprintf("new cartridge %d of lot %s", p.Nth, p.LotID)
	}
	return "a new cartridge of lot " + p.LotID
}

// Change says why a step begins with another nozzle or cartridge. Empty: it
// goes on with the nozzle in hand.
type Change string

// The kinds of change.
const (
	FirstNozzle  Change = "first"           // the run begins
	NozzleReady  Change = "nozzle-ready"    // a cartridge whose nozzle is still good
	OtherProduct Change = "product"         // another product
	OtherTip     Change = "tip"             // another kind of tip, or a narrower cut
	WouldGel     Change = "gel"             // the way there takes longer than the gel time
	TooLittle    Change = "cartridge-short" // the cartridge in use does not hold the seam
	Joint        Change = "joint"           // the bead goes on out of another cartridge
	RestKept     Change = "rest-kept"       // what is left in the cartridge in use is kept: less waste or a shorter way
)

// Step is laying a seam, or a part of one, out of one cartridge.
type Step struct {
	SeamID string
	Part   int // from 1
	Parts  int // above 1: a bead with joints
	Pack   Pack
	Nozzle int    // fitted in this run, counted from 1; 0: one that was on
	NozID  string // of one that was on, as far as it is known
	Tip    spec.Nozzle
	Recut  bool // the tip of a nozzle that is on is cut wider for this seam

	Opens  bool   // the cartridge is opened for this step
	Fits   bool   // a nozzle is fitted for it
	Change Change // empty: none
	Why    string // the reason for the change

	Laid, Waste             quantity.Volume // what stays on the seam; what is tooled off
	Equalise, Purge, HoldUp quantity.Volume // what the change takes
	Taken, Left             quantity.Volume // out of the cartridge in all; in it afterwards
	Pause                   time.Duration   // that the nozzle rests before this bead, while its tip is cut too; 0 for a new one
	Begins, Ends            time.Duration   // of laying, after the start
}

// Rest is an opened cartridge after the run. It is stored with its nozzle on;
// before it is used again another one is fitted and purged. One that holds no
// more than its next nozzle would take is thrown away.
type Rest struct {
	Pack    Pack
	Left    quantity.Volume
	UseBy   time.Time   // zero: keeps
	Tip     spec.Nozzle // of the nozzle that is on
	Discard bool
	Why     string
}

// Aside is a cartridge or a lot that is not used, of the products that are
// laid: what cannot be used, what should be used sooner, and every other opened
// cartridge.
type Aside struct {
	ID     string // of the opened cartridge; empty: unopened ones
	LotID  string
	Passed bool // it should be used sooner than one that was taken
	Why    string
}

// Unplanned is a seam that is left out. Reason is one of no-product,
// volume-unknown, laying-unknown, gel-unknown, no-stock, too-little (material),
// nozzle-takes-it (there would be enough but for what a new nozzle takes),
// no-joint, longer-than-gel; Why says it in a sentence with what to do.
type Unplanned struct {
	SeamID string
	Reason string
	Why    string
}

// Totals sum a run up. Seams left out whatever the order are not counted.
type Totals struct {
	Laid     int             // seams
	Left     int             // seams that stock did not reach for
	Nozzles  int             // fitted
	Passed   int             // lots and cartridges passed over
	Waste    quantity.Volume // purge, hold-up and equalising
	Tooled   quantity.Volume // off the seams
	Thrown   quantity.Volume // rests in cartridges that are thrown away
	Taken    quantity.Volume // out of cartridges in all
	OnSeams  quantity.Volume
	Opened   int // cartridges
	Swaps    int // changes to another product
	Took     time.Duration
	WalkLong int // panels walked past, in the order given
}

// Compare orders totals of the same problem by what is best, see the package:
// below 0 when t is better.
func (t Totals) Compare(o Totals) int {
	return cmp.Or(
		cmp.Compare(t.Left, o.Left), cmp.Compare(t.Nozzles, o.Nozzles), cmp.Compare(t.Passed, o.Passed),
		cmp.Compare(t.Waste, o.Waste), cmp.Compare(t.Opened, o.Opened), cmp.Compare(t.Thrown, o.Thrown), cmp.Compare(t.Swaps, o.Swaps),
		cmp.Compare(t.Took, o.Took), cmp.Compare(t.WalkLong, o.WalkLong),
	)
}
