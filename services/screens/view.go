package screens

import "time"

// Picture is what every screen says about itself: whose shop, which moment
// and how far it can be trusted. Moments are given in the shop's own time
// zone; the templates print them in the zone of Now.
type Picture struct {
	Shop string
	// Now is the moment that the picture shows, in simulated time where the
	// shop is simulated.
	Now time.Time
	// Speed is how many seconds of Now pass in one second of the viewer's
	// clock; 0 counts as 1.
	Speed float64
	// Seq is the journal's sequence that the picture was folded up to.
	Seq uint64
	// Live says that the fold has seen the journal's newest event and that
	// the journal answers. The zero value is not live, and then every gate
	// sign reads HOLD.
	Live bool
	// Age is how old the picture is when it is not live.
	Age time.Duration
	// Trouble says in a few words why it is not live: "the journal does not
	// answer".
	Trouble string
	// Faults are what is wrong with the shop's program, its disk or its clock,
	// the worst first.
	Faults []Reason
}

// Climate is the air of a zone, as last read.
type Climate struct {
	Zone string // "Bays", "Booth 1"
	// TempC is in degrees Celsius, RHPercent in percent relative humidity;
	// nil: unknown.
	TempC     *float64
	RHPercent *float64
	ReadAt    time.Time // zero: never read
	Stale     bool      // older than the zone's limit: the gate holds
}

// GateState is what the booth's gate says. The zero value is unknown, which
// is shown as HOLD.
type GateState string

// The states of a gate.
const (
	GateUnknown  GateState = ""
	GateHold     GateState = "hold"
	GateClear    GateState = "clear"
	GateOverride GateState = "override"
)

// Gate is the verdict on a booth's next load.
type Gate struct {
	Booth     string // identifier, as in /booth/{id}
	BoothName string // "Booth 1"
	State     GateState
	Load      string // "2207-A"; empty: no load waits
	Headline  string // "Do not spray 2207-A"
	Sentence  string // what it waits for and what to do, without the times below
	// ClearAt is when it will surely be clear (the cold bound), MaybeFrom
	// when it may be (the hot bound); zero: cannot be told.
	ClearAt, MaybeFrom time.Time
	If                 string // what ClearAt rests on: "if rear panel is laid by 12:05"
	// Until is when the permit's lease or the override ends; zero: none.
	Until time.Time
}

// Board is the wall: one time axis, a lane for each booth, a strip for each
// seam.
type Board struct {
	Picture
	Climate  []Climate
	Gates    []Gate
	From, To time.Time // the axis
	Lanes    []Lane
	Plan     []PlanWord // what the booth plan has to say to everybody
	Jobs     []Job
}

// PlanWord is something that the booth plan has to say to everybody: "spray
// 2207-A by 16:10 today or scuff Monday".
type PlanWord struct {
	Text    string
	Trouble bool // somebody must do something about it
}

// BlockKind is what occupies a booth.
type BlockKind string

// The kinds of blocks in a booth's lane.
const (
	BlockLoad         BlockKind = "load"          // planned or running
	BlockBake         BlockKind = "bake"          // in the booth, being baked
	BlockColourChange BlockKind = "colour-change" // the gun is cleaned and filled
	BlockClosed       BlockKind = "closed"        // outside the booth's calendar, or faulted
)

// Lane is a booth's plan on the axis.
type Lane struct {
	Booth, Name string
	Order       string // what comes next and when: "2207-A 12:40, 2214-A 14:20"
	Blocks      []Block
}

// Block is one booking of a booth, cut to the axis by the template.
type Block struct {
	Kind     BlockKind
	From, To time.Time
	Label    string // "2207-A", "to blue"
	Next     bool   // the load that the gate speaks of
	Late     bool   // it ends after its job's promised time
}

// Mark is the sign before a seam: a shape of its own for each, never colour
// alone.
type Mark string

// The marks. The zero value is drawn as a question mark.
const (
	MarkUnknown  Mark = ""
	MarkTodo     Mark = "todo"     // ring: not begun, nothing urgent
	MarkLay      Mark = "lay"      // arrow: to be laid, by a time
	MarkFlowing  Mark = "flowing"  // quarter disc: laid, not ready
	MarkOpen     Mark = "open"     // disc: paint may go on
	MarkClosed   Mark = "closed"   // cross: the coat window has closed, scuff first
	MarkHold     Mark = "hold"     // octagon: a finding holds it
	MarkCoated   Mark = "coated"   // tick: painted over
	MarkFinished Mark = "finished" // double tick: tested and accepted
)

// Job is a car in work with its seams.
type Job struct {
	RO, Vehicle string
	Promised    time.Time
	Late        bool // will miss the promise as planned
	Next        bool // a booth's next load is of this car: kept on the wall first
	Seams       []SeamRow
}

// SeamRow is one seam on the board: a mark, a place and a strip against the
// clock. Exactly what stands on the strip is Text; Hold takes the whole
// width instead, LayBy and Note stand where there is no strip.
type SeamRow struct {
	ID    string // the seam's identifier, unique in the shop
	Place string // "Roof ditch L"
	Mark  Mark
	Stage string // one of the stages of a seam: "flowing"
	Strip []Segment
	Text  string // "flow-out 71 % · opens 11:07"
	LayBy *LayBy
	Hold  string // "nozzle past gel time when laid: foreman to decide"
	Note  string // "topcoated 10:20", "prep next · ripple bead on wet bed"
	// Exposed is set where no paint goes over the bead: its strip ends with
	// full cure. Silent says that the probe it rests on is silent.
	Exposed, Silent bool
}

// SegmentKind is what a stretch of a strip says.
type SegmentKind string

// The kinds of segments, in the order in which they follow each other.
const (
	SegNotReady SegmentKind = "not-ready" // striped: the bead is not ready
	SegOpening  SegmentKind = "opening"   // soft: from the hot to the cold bound of ready
	SegOpen     SegmentKind = "open"      // solid: paint may go on
	SegClosing  SegmentKind = "closing"   // soft: from the hot to the cold bound of closed
	SegClosed   SegmentKind = "closed"    // crossed: scuff first
)

// Segment is a stretch of a strip; the template cuts it to the axis.
type Segment struct {
	Kind     SegmentKind
	From, To time.Time
}

// LayBy is the latest moment to lay a seam that is not laid yet.
type LayBy struct {
	At   time.Time
	Text string // "or it misses 12:40", "prepped, epoxy primer"
}

// Person is somebody who may stand at a screen.
type Person struct {
	Name string
	Role string // "technician", "painter", "foreman", ...
}
