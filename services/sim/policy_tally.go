package sim

import (
	"fmt"
	"strings"
	"time"
)

// Tally is what the order of loads came to.
type Tally struct {
	Policy   Policy  `json:"policy"`
	Load     float64 `json:"load_percent"`  // that the arrivals were fixed for; 0: they were not
	SetupMin float64 `json:"reference_min"` // a setup at the reference rate
	Arrivals string  `json:"arrivals"`      // sum over the cars that came in
	Cars     int     `json:"cars"`

	// Tardiness is the sum of weight times minutes past the promise. A car is
	// ready when its last load is out of the booth and the work after it is
	// done.
	Tardiness float64 `json:"weighted_tardiness_min"`
	Late      int     `json:"late_cars"`
	Delivered float64 `json:"weighted_tardiness_delivered_min"` // by the moment of delivery
	Unready   int     `json:"not_ready"`                        // cars that are not ready in the end: late until then
	Missed    int     `json:"missed_windows"`                   // times that a load's window closed before its first coat
	Scuffed   int     `json:"scuffed_seams"`                    // beads that were scuffed for it
	Sprayed   int     `json:"loads_sprayed"`
	Changes   int     `json:"colour_changes"`
	OpenMin   float64 `json:"open_min"` // of the booth that bakes, over the days that cars come in
	BusyMin   float64 `json:"busy_min"` // with a car in it or a setup going on
	IdleMin   float64 `json:"idle_min"`
	WaitedMin float64 `json:"idle_while_work_waited_min"` // of it, with a load that was clear
	SetupsMin float64 `json:"setups_min"`
	RolledOut int     `json:"rolled_out"` // cars that left the booth unsprayed

	end time.Time // of the days that cars come in
}

// keepTally begins to count, and fixes the arrivals if they are fixed.
func (s *sim) keepTally() {
	if s.opt.Policy == "" {
		return
	}
	s.score = &Tally{Policy: s.opt.Policy, Load: s.opt.Load, end: s.hours.on(s.opt.Start, max(s.opt.Days, 400), 0)}
	if s.opt.Days > 0 {
		s.score.end = s.hours.on(s.opt.Start, s.opt.Days, 0)
	}
	s.rep.Order = s.score
	if s.opt.Load == 0 {
		return
	}
	for _, b := range s.boothList() {
		if b.bakes() {
			s.score.SetupMin = referenceSetup(b).Minutes()
			s.fixed = s.fixArrivals(b)
			break
		}
	}
	s.score.Arrivals = sumArrivals(s.fixed)
}

// use counts a stretch of the booth's time; outside its hours and after the
// last day it does not count.
func (s *sim) use(b *booth, from time.Time) {
	t := s.score
	if t == nil || !b.bakes() {
		return
	}
	t.BusyMin += s.openMinutes(b, from, earlier(s.now, t.end))
}

// openMinutes is how long a booth is open between two moments.
func (s *sim) openMinutes(b *booth, from, to time.Time) float64 {
	sum := 0.0
	for day := s.hours.on(from, 0, 0); day.Before(to); day = s.hours.on(day, 1, 0) {
		if !s.hours.workday(day) {
			continue
		}
		if d := earlier(to, s.hours.on(day, 0, b.closes)).Sub(later(from, s.hours.on(day, 0, b.opens))); d > 0 {
			sum += d.Minutes()
		}
	}
	return sum
}

// stood counts time in which a booth stood idle while a load was clear.
func (s *sim) stood(b *booth, from time.Time) {
	if s.score != nil && b.bakes() {
		s.score.WaitedMin += s.openMinutes(b, from, earlier(s.now, s.score.end))
	}
}

// missedWindow counts a load whose window closed before its first coat.
func (s *sim) missedWindow() {
	if s.score != nil {
		s.score.Missed++
	}
}

// scuffedOne counts a bead that was scuffed.
func (s *sim) scuffedOne() {
	if s.score != nil {
		s.score.Scuffed++
	}
}

// rolledOut counts a car that leaves the booth unsprayed.
func (s *sim) rolledOut() {
	if s.score != nil {
		s.score.RolledOut++
	}
}

// mostAfter is how many days a shop with fixed arrivals goes on at most once
// no more cars come in.
const mostAfter = 28

// runOn lets such a shop go on until every car is delivered.
func (s *sim) runOn() {
	for d := 1; s.opt.Load > 0 && d <= mostAfter && len(s.inShop) > 0 && s.err == nil; d++ {
		s.run(s.hours.on(s.opt.Start, s.opt.Days+d, 0))
	}
}

// ready is when a job's car is ready; zero: not yet.
func (j *job) ready() time.Time {
	var at time.Time
	for _, l := range j.loads {
		if !l.done {
			return time.Time{}
		}
		at = later(at, l.out)
	}
	if at.IsZero() {
		return at
	}
	return at.Add(ofMinutes(j.def.GetAfterBoothMin()))
}

// close reckons how late the cars were.
func (t *Tally) close(s *sim) {
	if t == nil {
		return
	}
	t.Sprayed = s.rep.Sprayed
	for _, ro := range s.order {
		j := s.jobs[ro]
		if j.def.GetPromised() == nil {
			continue
		}
		late := func(at time.Time) float64 {
			if at.IsZero() {
				at = s.now
			}
			return max(0, at.Sub(j.def.GetPromised().AsTime()).Minutes())
		}
		t.Cars++
		ready := j.ready()
		if ready.IsZero() {
			t.Unready++
		}
		if late(ready) > 0 {
			t.Late++
		}
		t.Tardiness += j.def.GetWeight() * late(ready)
		t.Delivered += j.def.GetWeight() * late(j.deliveredAt)
	}
	for _, b := range s.booths {
		if b.bakes() {
			t.OpenMin += s.openMinutes(b, s.opt.Start, t.end)
		}
	}
	t.IdleMin = t.OpenMin - t.BusyMin
}

// String is the tally as text.
func (t *Tally) String() string {
	var b strings.Builder
	p := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	switch {
	case t.Load > 0:
		p("policy %s, booth load %.0f %% at a setup of %.1f min, %d cars, arrivals %.12s", t.Policy, t.Load, t.SetupMin, t.Cars, t.Arrivals)
	default:
		p("policy %s, %d cars", t.Policy, t.Cars)
	}
	p("  weighted tardiness %.0f min, %d cars late, %d not ready; by delivery %.0f min", t.Tardiness, t.Late, t.Unready, t.Delivered)
	p("  missed windows %d, seams scuffed for them %d", t.Missed, t.Scuffed)
	p("  loads sprayed %d, colour changes %d, setups %.0f min, rolled out unsprayed %d", t.Sprayed, t.Changes, t.SetupsMin, t.RolledOut)
	p("  booth open %.0f min, idle %.0f min, of it %.0f min while a load was clear", t.OpenMin, t.IdleMin, t.WaitedMin)
	return b.String()
}
