package plan

import "time"

// Problem is what a booth plan is asked for: booths with calendars and the
// colours in their guns, loads to be sprayed, and the work that has to be
// done on the cars before.
//
// The zero time stands for "not given" where a moment may be left out.
type Problem struct {
	Start  time.Time // nothing is planned before it
	Booths []Booth
	Setups map[string]map[string]time.Duration // from colour, to colour
	Loads  []Load
	Crews  []Crew
	Tasks  []Task
}

// Interval is a stretch of time, ends included.
type Interval struct{ From, To time.Time }

// Booth takes one load at a time, each inside one of its open intervals,
// which stand in order and do not touch.
type Booth struct {
	ID     string
	Colour string // in the gun at the start
	Open   []Interval
}

// Load is what a booth takes at once.
type Load struct {
	ID          string
	Booths      []string // that may take it
	Colour      string
	Process     time.Duration // that it occupies the booth
	Release     time.Time     // earliest start
	LatestStart time.Time     // later is a missed window; zero: no window
	Due         time.Time     // zero: none
	Weight      float64       // cost of a minute late
	Tail        time.Duration // work after the booth, until the car is done
	MissCost    float64       // paid once for a missed window or lag
	Wait        float64       // cost of a minute by which it starts after the start of the plan
	Frozen      *Frozen       // where it stands and stays
}

// Frozen is the place of a load that has begun or must not be moved. Its
// start may lie before the start of the plan.
type Frozen struct {
	Booth string
	Start time.Time
}

// Crew is people who can do the same tasks.
type Crew struct {
	ID            string
	People        int
	RoundTheClock bool // else they work in the open intervals only
	Open          []Interval
}

// Task is work on a car before its load is sprayed: one person of a crew,
// without a break, inside one open interval of the crew. Lags run from its
// end to the start of its load.
type Task struct {
	ID      string
	Load    string
	Crew    string
	Length  time.Duration
	MinLag  time.Duration
	MaxLag  time.Duration
	HasMax  bool // MaxLag counts
	After   []string
	Release time.Time
}

// Plan answers a Problem.
type Plan struct {
	Objective  float64 // cost of lateness, of missed loads and of waiting
	LowerBound float64 // no plan costs less
	Optimal    bool    // proved: LowerBound equals Objective
	Loads      []PlannedLoad
	Tasks      []PlannedTask
	Changes    []Change // against the plan that it was made from
	Kept       *Kept    // a better plan was found but not taken; nil: none
	Rounds     int      // of local search
}

// Kept says why an earlier plan was kept: another one costs less, but by less
// than a change had to gain.
type Kept struct {
	Gain  float64 // of the other plan, in its cost
	Asked float64 // that it had to be
}

// PlannedLoad is where a load stands. A load that has no place has an empty
// booth and zero times.
type PlannedLoad struct {
	ID         string
	Booth      string
	SetupStart time.Time
	Start, End time.Time
	LateMin    float64 // minutes that the car is late after the tail
	Missed     bool
	Why        string
	SlackMin   *float64 // minutes that it alone could start later at no cost; nil without a place
	Index      int      // in Problem.Loads
}

// PlannedTask is when a task is done, and how late it could be: with every
// task at its LatestStart the plan still holds, and none of them alone could
// move later. Tasks of a load without a place have zero times.
type PlannedTask struct {
	ID          string
	Start, End  time.Time
	LatestStart time.Time
	IfLater     string // what does not hold any more if it alone begins later than that, as a clause
	Index       int    // in Problem.Tasks
}

// Placed reports whether the load has a place.
func (l PlannedLoad) Placed() bool { return l.Booth != "" }

// Change is what a new plan does otherwise than the one before.
type Change struct {
	ID              string
	Booth, OldBooth string // empty: none
	Start, OldStart time.Time
	What            string // one sentence
}
