package screens

import (
	"net/url"
	"time"
)

// Plan is the foreman's desk: which load is in which booth when and why, what
// each bay must lay by when, and what would be if something were otherwise.
// It moves nothing by itself, and is no leave to spray.
type Plan struct {
	Picture
	Planning bool       // false: loads stand as they were told
	Words    []PlanWord // trouble, and what the shift's end brings
	Loads    []PlanLoad // by start, those without a place last
	Bays     []PlanBay

	// What a question can be about.
	Seams, Booths, Waiting []Named
	Days                   []Named // beside today: "2026-03-03", "tomorrow"
	Asked                  Question
	Answer                 *PlanAnswer // nil: nothing was asked

	Place, Free *Button // by hand, with a foreman's PIN; nil: nobody can, or nothing is kept by hand
}

// PlanLoad is a load in the plan.
type PlanLoad struct {
	ID, Vehicle, Colour string
	Booth               string    // "Booth 1"; empty: it has no place
	Order               int       // among those of its booth that wait; 0: it has begun, or no place
	Start, End          time.Time // zero: no place
	Latest              time.Time // later a window may have closed; zero: none runs
	Due                 time.Time // zero: not promised
	Slack               string    // "35 min"
	State               string    // "in the booth", "by hand", "misses its window"
	Bad                 bool      // State is something to do about
	Why                 string
	Waits               []string
}

// PlanBay is what a bay has to do for the plan, the first to be done first.
type PlanBay struct {
	Name  string
	Works []PlanWork
}

// PlanWork is one seam to lay or to scuff.
type PlanWork struct {
	Text string    // "lay roof ditch L on 2207"
	By   time.Time // be done by then; zero: its load has no place
	For  string    // "or it misses 14:10"
	Late bool      // it can hardly be begun in time any more
}

// Question is what somebody supposes, as it was typed.
type Question struct {
	Seam, Until string // a seam is not laid before
	Booth, To   string // a booth is closed from now to then; To empty: for the day
	Load, Due   string // a load's car is promised for then
	Day         string // of the hour, "2026-03-03"; empty: today
}

// Empty reports whether nothing is asked.
func (q Question) Empty() bool { return q == Question{Day: q.Day} }

// asked reads a question out of an address.
func asked(v url.Values) Question {
	return Question{v.Get("seam"), v.Get("until"), v.Get("booth"), v.Get("to"), v.Get("load"), v.Get("due"), v.Get("day")}
}

// dayPick is the choice of a day.
type dayPick struct {
	Days   []Named
	Picked string
}

// DayOf is the choice of a day in the form of a thing, with the day that was
// asked about if it was the thing.
func (p Plan) DayOf(thing string) dayPick {
	if thing == "" {
		return dayPick{p.Days, ""}
	}
	return dayPick{p.Days, p.Asked.Day}
}

// PlanAnswer is what would be.
type PlanAnswer struct {
	Question string // "roof ditch L waits until 14:00"
	Summary  string
	Changes  []string
	Wrong    string // the question does not fit: why, and what to do
}
