package screens

import "time"

// Booth is the painter's screen: HOLD or CLEAR and exactly why.
type Booth struct {
	Picture
	ID, Name string
	Gate     Gate
	Load     *BoothLoad // nil: no load waits
	Seams    []BoothSeam
	// Reasons are the grounds to hold that belong to no seam: "probe of bay 2
	// last read 17 min ago, limit 15". They stand above the seams.
	Reasons []Reason
	Climate Climate
	Gun     string        // colour in the gun, and what it is being set up to
	Change  string        // colour to change to; empty: none
	Setup   time.Duration // of that change
	Phase   string        // "idle", "spraying", "flash-off", "baking", ...
	Loads   []BoothLoad   // today's order, the next one first
	People  []Person      // who may stand here

	// Request, Start and Finish are the painter's buttons, Override is the
	// foreman's; nil: not offered. A button that is not Ready is drawn
	// disabled with its Why.
	Request  *Button
	Start    *Button
	Finish   *Button
	Override *Button
	// Else are the less common ones (fault, reset, nothing was touched).
	Else []Button
	// Warning is shouted across the screen: what went wrong while spraying.
	Warning string
}

// BoothLoad is a load in the booth's order.
type BoothLoad struct {
	ID, RO, Vehicle string
	Colour, Coat    string // "blue", "solventborne"
	Panels          string // "roof, left rear door"
	Start, End      time.Time
	State           GateState
	Note            string // "waits for 2 seams"
	Why             string // why it stands there in the plan: "behind 2198-A, after 25 min of setup to blue"
}

// Reason is one ground and what to do about it.
type Reason struct {
	Text string
	Do   string
	Own  string // the same in the program's own words, for whoever looks after it; may be empty
	Lost bool   // nothing that is told is recorded while it lasts
}

// SeamState is how a seam stands to the load.
type SeamState string

// The states of a seam as the booth sees it. The zero value is unknown and
// holds.
const (
	SeamUnknown SeamState = ""
	SeamWaiting SeamState = "waiting"  // laid, not ready: the bar shows how far
	SeamNotLaid SeamState = "not-laid" // still to be laid
	SeamReady   SeamState = "ready"    // surely open and surely not closed
	SeamClosing SeamState = "closing"  // may have closed
	SeamClosed  SeamState = "closed"   // has closed: scuff first
	SeamHeld    SeamState = "held"     // a finding holds it
)

// BoothSeam is one seam of the load.
type BoothSeam struct {
	ID, Place string
	State     SeamState
	Text      string // "not laid · bay 2 · heavy-bodied white, ribbon 25 mm"
	// DoneSure and DoneMaybe are the parts of the wait that are over, from 0
	// to 1, at the cold and at the hot bound; used while waiting.
	DoneSure, DoneMaybe float64
	Doing               string    // what it waits for: "flow-out"
	ReadyAt             time.Time // surely ready (cold bound)
	MaybeFrom           time.Time // may be ready from (hot bound)
	ClosesAt            time.Time // surely open until (hot bound)
	LayBy               time.Time // zero unless not laid
	Else                string    // "or the load moves to 14:20"
	LaidAt              time.Time
	LaidBy              string // "bay 1"
	TempC               *float64
}
