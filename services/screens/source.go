package screens

import "context"

// Source feeds the screens and takes what people do at them. Its errors are
// faults (services/fault): the kind becomes the HTTP status, message and hint
// become the page's text. Views must be safe to read after they were
// returned: a Source hands out values that nobody changes any more.
type Source interface {
	// Board is the wall's picture.
	Board(ctx context.Context) (Board, error)
	// Booth is one booth's picture; an unknown id is a NotFound fault.
	Booth(ctx context.Context, id string) (Booth, error)
	// Bay is a terminal's picture: the cars when ro is empty, the seams of a
	// car when seam is empty, else the seam's next step. Unknown names are
	// NotFound faults.
	Bay(ctx context.Context, terminal, ro, seam string) (Bay, error)
	// Plan is the booth plan, with the answer to a question if one is asked. A
	// question that does not fit is answered with what is wrong about it.
	Plan(ctx context.Context, q Question) (Plan, error)
	// Run is the sealing run of the bay that a terminal stands in, as it is best
	// begun now. Where there is none it says what is wrong.
	Run(ctx context.Context, terminal string) (Run, error)
	// People is the short list to pick a name from.
	People(ctx context.Context) ([]Person, error)
	// Booths are what the index page links, Terminals what a tablet may be:
	// those that stand in a bay first.
	Booths(ctx context.Context) ([]Named, error)
	Terminals(ctx context.Context) ([]Named, error)
	// Changes tells the journal's newest sequence that the views show, as it
	// grows, until ctx ends; then the channel is closed. It may skip numbers
	// but never the last one.
	Changes(ctx context.Context) <-chan uint64
	// Post hands over what somebody did or asks for. The same CommandID takes
	// effect once: a repeat returns the first result. A refused permission is
	// a Refused fault, ill-formed fields an Invalid one that names them.
	Post(ctx context.Context, a Action) (Result, error)
}

// Named is a booth or a terminal with its identifier and its name as a person
// says it: "Bay 1".
type Named struct{ ID, Name string }

// Kind names an action: a fact to record or a permission to ask for.
type Kind string

// What is done at a bay. The fields that each takes stand in actions.go.
const (
	DoPlan          Kind = "plan"           // SeamPlanned: as the rules propose, or as picked
	DoPrep          Kind = "prep"           // SurfacePrepped
	DoCoat          Kind = "coat"           // CoatApplied
	DoOpenCartridge Kind = "open-cartridge" // CartridgeOpened
	DoEqualise      Kind = "equalise"       // CartridgeEqualised
	DoFitNozzle     Kind = "fit-nozzle"     // NozzleFitted
	DoPurge         Kind = "purge"          // CartridgePurged
	DoNozzleOff     Kind = "nozzle-off"     // NozzleRemoved
	DoStore         Kind = "store"          // CartridgeStored
	DoWeigh         Kind = "weigh"          // CartridgeWeighed
	DoEmpty         Kind = "empty"          // CartridgeEmptied
	DoLay           Kind = "lay"            // BeadLaid, layer bead
	DoLayBed        Kind = "lay-bed"        // BeadLaid, layer bed
	DoTool          Kind = "tool"           // BeadTooled
	DoDeair         Kind = "deair"          // BeadDeaired
	DoDisturbed     Kind = "disturbed"      // BeadDisturbed
	DoScuff         Kind = "scuff"          // SeamScuffed
	DoHeat          Kind = "heat"           // HeatApplied
	DoRedo          Kind = "redo"           // SeamReworked
	DoWax           Kind = "wax"            // WaxApplied
	DoWaterTest     Kind = "water-test"     // WaterTested
	DoInspect       Kind = "inspect"        // SeamInspected
	DoCarMoved      Kind = "car-moved"      // CarMoved
	DoElsewhere     Kind = "done-elsewhere" // DoneElsewhere
	DoDispose       Kind = "dispose"        // FindingDisposed
	DoWithdraw      Kind = "withdraw"       // FactWithdrawn: undo
	DoCorrect       Kind = "correct"        // FactCorrected: a laid bead took another volume
)

// What is done at a booth.
const (
	DoRequestPermit Kind = "request-permit"
	DoReturnPermit  Kind = "return-permit" // the painter will not spray after all
	DoStartSpray    Kind = "start-spray"
	DoPhase         Kind = "phase" // BoothPhaseChanged
	DoFinishLoad    Kind = "finish-load"
	DoOverride      Kind = "override" // a foreman's, with PIN and reason
	DoBoothFault    Kind = "booth-fault"
	DoBoothReset    Kind = "booth-reset"
)

// What a foreman does at the desk, each with the PIN.
const (
	DoPlaceLoad Kind = "place-load" // LoadPlanned: into a booth at a start by hand
	DoFreeLoad  Kind = "free-load"  // LoadPlanned: the planner's again
)

// Action is one press of a button.
type Action struct {
	Kind Kind
	// RO and Seam are set at a bay, Booth at a booth, Desk at the foreman's desk.
	RO, Seam, Booth string
	Desk            bool
	CommandID       string // a UUID, made once for a page and its button
	Actor           string // the name picked at this screen
	Terminal        string // which terminal the press came from
	Fields          map[string]string
}

// Result is what came of an action.
type Result struct {
	Seq      uint64   // the journal's sequence of the event
	Said     string   // one sentence for the person: "Bead laid at 10:43."
	Findings []string // what was wrong about it, worst first
}

// Button is an action that a screen may offer. The screen adds the command
// id, the actor and the terminal; it adds nothing else.
type Button struct {
	Kind  Kind
	Label string // "Bead laid"
	Hint  string // a line below the label: "47 ml as planned"
	Ready bool   // false: drawn disabled, with Why
	Why   string // why it is not ready
	Given []Given
	Asks  []Ask
	Grave bool // drawn as a warning: override, redo
}

// Given is a field that the Source fills in and gets back unchanged.
type Given struct{ Name, Value string }

// AskType is how a field is filled in.
type AskType string

// The ways to fill in a field.
const (
	AskText   AskType = "text"
	AskNumber AskType = "number"
	AskPick   AskType = "pick"
	AskTick   AskType = "tick"
	AskPIN    AskType = "pin"
)

// Ask is a field that the person fills in.
type Ask struct {
	Name, Label string
	Type        AskType
	Unit        string // "ml", "min"
	Value       string // what stands there at first
	Min, Max    string // of a number, as written; empty: none
	Options     []Option
	Need        bool
	Hint        string
}

// Option is one choice of a pick.
type Option struct{ Value, Label string }
