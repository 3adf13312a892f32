package screens

import "time"

// Bay is the technician's tablet. With Seam set it shows the next step of
// that seam; with Job set the seams of that car; else the cars to pick.
type Bay struct {
	Picture
	Terminal, Zone string // "bay-2", "Bay 2"
	People         []Person
	Cars           []BayCar
	Job            *BayJob
	Nozzle         *Nozzle // the one that is on at this terminal; nil: none
	Seam           *BaySeam
}

// BayCar is a car to pick.
type BayCar struct {
	RO, Vehicle string
	Promised    time.Time
	Next        string    // "lay rear panel to floor"
	By          time.Time // zero: no hurry
	Open        int       // seams still to do
	Holds       int       // seams on hold
	Here        bool      // stands in this terminal's zone
}

// BayJob is one car with its seams in the order to do them.
type BayJob struct {
	RO, Vehicle, Colour string
	Promised            time.Time
	Seams               []BayLine
}

// BayLine is one seam in the list of a car.
type BayLine struct {
	ID, Place, Stage string
	Mark             Mark
	Next             string // "lay the bead", "wait: opens 11:07"
	By               time.Time
	Hold             string
}

// NozzleState says whether the mixer may still be used.
type NozzleState string

// The states of a nozzle. The zero value is unknown and is shown as "may
// have gelled".
const (
	NozzleUnknown NozzleState = ""
	NozzleGood    NozzleState = "good"       // surely not gelled before GelsAt
	NozzleMay     NozzleState = "may-gelled" // the hot bound has passed
	NozzleGelled  NozzleState = "gelled"     // a reading has settled it
)

// Nozzle is the mixer's clock.
type Nozzle struct {
	State     NozzleState
	Product   string // "heavy-bodied white"
	Cartridge string // "31"
	LeftML    *float64
	FlowedAt  time.Time     // when material last moved through it
	GelsAt    time.Time     // the hot bound: surely usable before
	GelTime   time.Duration // from FlowedAt to GelsAt at most; the ring's full circle
	Advice    string        // "keep it moving", "take it off: fit and purge a new one"
}

// StepState is where a step of a seam stands.
type StepState string

// The states of a step.
const (
	StepTodo StepState = ""
	StepDone StepState = "done"
	StepNow  StepState = "now"
)

// Step is one station of a seam's way: "prepped", "purged", "lay bead".
type Step struct {
	Label string
	State StepState
}

// BaySeam is what to do next on one seam, with what, by when and why.
type BaySeam struct {
	ID, Place, RO string
	Steps         []Step
	Do            string    // "lay the bead"
	By            time.Time // zero: no hurry
	For           string    // "for the 12:40 load"
	Why           string    // one sentence: why this step now
	Work          *Work
	Clock         *SeamClock
	Hold          string   // the finding that holds the seam
	Findings      []string // notes and queries
	Cautions      []string // what matters most to this step first: "Brush inside the tooling time."
	Done          string   // set when nothing is left: "accepted 14:20 by A. Vellacorn"
	Next          *Button  // the one big button; nil: nothing to press now
	Else          []Button
	Undo          *Button   // withdraws the last fact
	UndoAt        time.Time // when that fact was recorded
}

// Work is what to lay and with what. Empty strings and nil are left out.
type Work struct {
	Product   string // "heavy-bodied white"
	Profile   string // "ribbon 25 mm, brushed"
	Reference string // "factory: ribbon 24 mm, white; seen in the survey photo"
	LengthMM  *float64
	VolumeML  *float64
	Nozzle    string // "spreader cut at 25 mm"
	Technique string // "direct on e-coat, brush within 10 min"
	Reason    string // "heavy-bodied keeps brush marks and stands as laid"
	More      []Line
}

// Line is a further label and value of the work.
type Line struct{ Label, Value, Detail string }

// SeamClock is what a laid seam waits for.
type SeamClock struct {
	Doing               string    // "flow-out", "tooling time"
	Since               time.Time // begin of the wait
	DoneSure, DoneMaybe float64   // 0 to 1, at the cold and the hot bound
	ReadyAt, MaybeFrom  time.Time
	// Expires is set where the clock must not be passed (tooling time): the
	// hot bound.
	Expires time.Time
}
