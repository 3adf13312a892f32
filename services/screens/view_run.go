package screens

import "time"

// Run is a bay's sealing run: in which order to lay what may be laid now, out
// of which cartridges and through which nozzles, and why what is left out is
// left out. It is planned when it is asked for and then stands still, so that
// somebody can work through it.
type Run struct {
	Picture
	Zone     string // "Bay 1"
	At       time.Time
	HotC     *float64 // the warmest that the bay may be, by which nozzles are reckoned to gel
	ReadC    *float64 // what was read last in the bay; nil: never
	ReadAt   time.Time
	Stale    bool // that is longer ago than the bay's limit
	Steps    []RunStep
	Left     []RunLeft
	After    []RunLine // what becomes of opened cartridges
	Aside    []RunLine // stock that is not used
	Sum      string    // "3 seams, 1 nozzle, no cartridge opened, 74 ml taken: 60 on the seams, 3 tooled off them, 11 lost; 6 min"
	Naive    string    // the same panel by panel
	Gap      string    // what better run was not ruled out; empty: none exists
	Products []RunProduct
	Wrong    string // there is no run: why, and what to do
}

// RunStep is one seam, or a part of one.
type RunStep struct {
	N                int
	Place, RO        string // "roof ditch L", "2207"
	Part             string // "part 2 of 3"; empty: the whole
	ML, LeftML       *float64
	After            time.Duration // laying begins, after the start
	Change, Why      string        // what to do before it, and why; empty: go on
	Cartridge, Joint string
}

// Read says what the bay's temperature was read at, and how long before the
// run was planned.
func (v Run) Read() string {
	if v.ReadC == nil {
		return "its temperature was never read"
	}
	return temp(v.ReadC) + " was read " + age(v.At.Sub(v.ReadAt)) + " before"
}

// RunLeft are seams that are left out for one reason.
type RunLeft struct {
	Seams []RunSeam
	Why   string
}

// RunSeam is a seam by its place and its car.
type RunSeam struct{ Place, RO string }

// RunLine is a cartridge or a lot with what is said of it.
type RunLine struct{ What, Text string }

// RunProduct is how well a product's times are known, by its label and by what
// people in this shop saw.
type RunProduct struct {
	Name    string
	Label   string // "52 kJ/mol, stated by the product"
	Guessed bool   // the label names no activation energy: the band of the literature
	Fit     string // "51.8 kJ/mol (51.4 to 52.2) from 6 observations"
	Stages  []RunStage
}

// RunStage is a stage beside its label, in minutes at the reference
// temperature.
type RunStage struct {
	Stage             string
	LabelMin, SeenMin *float64
}
