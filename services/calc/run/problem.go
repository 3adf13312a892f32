package run

import (
	"fmt"
	"math"
	"time"

	"seamwright/services/calc/bead"
	"seamwright/services/calc/cure"
	"seamwright/services/calc/quantity"
	"seamwright/services/calc/spec"
	"seamwright/services/fault"
)

// ExactSeams is up to how many seams the best run is looked for until it is
// proved, or until so much was looked at that a bay would have to wait.
const ExactSeams = 12

// MaxSeams is how many seams a run may have.
const MaxSeams = 120

// Seam is a seam that is ready to be laid, with what goes on it.
type Seam struct {
	ID        string          // "2207/rd-l"
	RO        string          // the car that it is on
	Panel     string          // the panel: seams of one panel are laid without a walk
	ProductID string          // empty: not settled
	Volume    quantity.Volume // beads and beds, without waste; 0: not known
	Laying    time.Duration   // material flows that long; 0: not known
	Tip       spec.Nozzle     // what makes its profile; the zero Kind goes with its like only
	MayJoin   bool            // its bead may have a joint, see [Joins]
}

// Joins reports whether a joint in a bead of that profile goes unseen and
// tight as long as its end is wet: a levelled bead flows together, a brushed
// one is brushed together. Common practice, no source.
func Joins(p spec.Profile) bool { return p == spec.Levelled || p == spec.Brushed }

// Product is what a run needs to know of a sealer.
type Product struct {
	ID         string
	Gel        time.Duration   // nozzle gel time at the bay's temperature, see [GelAt]; 0: not known
	Tooling    time.Duration   // tooling time there; 0: not known, so no bead is joined
	OpenedLife time.Duration   // 0: not given
	Losses     bead.Losses     // of each nozzle and of what is laid
	Equalise   quantity.Volume // squeezed out of a new cartridge until both sides are level
	Cartridge  quantity.Volume // a full one; 0: not known, the fullest lot's counts
}

// Lot is a lot with its unopened cartridges.
type Lot struct {
	ID        string
	ProductID string
	Expires   time.Time       // zero: not given
	Recalled  bool            // nothing of it is used
	Shelf     int             // unopened cartridges
	Cartridge quantity.Volume // of a full one
}

// Cartridge is an opened cartridge with what is on it.
type Cartridge struct {
	ID        string
	LotID     string
	ProductID string
	Left      quantity.Volume // 0 or below: emptied, overdrawn
	Expires   time.Time       // of its lot; zero: not given
	Opened    time.Time       // zero: not known, so no opened life is counted
	Equalised bool
	Recalled  bool
	Nozzle    Nozzle
}

// Nozzle is what is on a cartridge; the zero value is none.
type Nozzle struct {
	ID     string
	Tip    spec.Nozzle
	Purged bool      // since it was fitted
	GelsBy time.Time // at the hot bound; of a purged one zero means not known: it is not relied on
}

// Times are how long what is not laying takes.
type Times struct {
	Take      time.Duration // put another cartridge into the gun
	Open      time.Duration // open a new cartridge and equalise it
	Fit       time.Duration // take the nozzle off, fit another, cut and purge it
	Cut       time.Duration // cut the tip of a nozzle in use wider
	WalkPanel time.Duration // to another panel of the same car
	WalkCar   time.Duration // to another car, at least WalkPanel
}

// UsualTimes are times to begin with until a shop takes its own. Common
// practice, no source.
func UsualTimes() Times {
	return Times{
		Take: 20 * time.Second, Open: time.Minute, Fit: 90 * time.Second, Cut: 15 * time.Second,
		WalkPanel: 20 * time.Second, WalkCar: time.Minute,
	}
}

// Problem is what there is to lay and what there is to lay it with.
type Problem struct {
	Start    time.Time // use-by dates and nozzles are judged by it
	Seams    []Seam    // in the order that one would lay them without a plan, panels as one walks past them
	Products []Product
	Lots     []Lot
	Opened   []Cartridge
	Times    Times
}

// GelAt is how long a nozzle surely stays good at hotC (°C), the hot edge of
// the bay's temperature: needed (at the law's reference temperature) less its
// tolerance (fraction, 0 to under 1), over the rate of cure on the hot side.
// The error is a fault of kind Invalid: a law that is not set, a needed time
// below 0, a tolerance out of range or a temperature outside -60 to 200 °C.
func GelAt(law cure.Law, needed time.Duration, tolerance, hotC float64) (time.Duration, error) {
	c := cure.Clock{Kind: cure.Expiry, Law: law, From: time.Unix(0, 0), Needed: needed, Tolerance: tolerance}
	if err := c.Validate(); err != nil {
		return 0, err
	}
	if !(hotC >= -60 && hotC <= 200) {
		return 0, fault.Bad("temp_c", hotC, "from -60 to 200 °C; correct it")
	}
	s := c.Target(cure.Hot) / law.Rate(hotC, cure.Hot)
	const most = 1e9 // s: a nozzle that cold never gels; still to be held in a duration
	return time.Duration(math.Min(s, most) * float64(time.Second)), nil
}

// useBy is the moment that a cartridge must be used by: its lot's expiry or
// the end of its opened life, whichever comes first; zero when neither is
// given.
func useBy(expires, opened time.Time, life time.Duration) time.Time {
	if opened.IsZero() || life <= 0 {
		return expires
	}
	if end := opened.Add(life); expires.IsZero() || end.Before(expires) {
		return end
	}
	return expires
}

// minSec shows a duration as it is read off a watch: "4 min 30 s".
func minSec(d time.Duration) string {
	s := int64(math.Round(d.Seconds()))
	if s < 60 {
		return fmt.Sprintf("%d s", s)
	}
	if s%60 == 0 {
		return fmt.Sprintf("%d min", s/60)
	}
	return fmt.Sprintf("%d min %d s", s/60, s%60)
}
