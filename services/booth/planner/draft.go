package planner

import (
	"cmp"
	"maps"
	"slices"
	"time"

	"seamwright/services/calc/plan"
	"seamwright/services/floor"
)

// Draft is a floor at a moment as a problem of loads and booths, with what is
// needed to tell the answer. It holds nothing of the floor.
type Draft struct {
	At      time.Time
	Seq     uint64
	Problem plan.Problem
	Loads   []Load // as in the problem
	Works   []Work // as the problem's tasks

	// Zone is the shop's own time zone: sentences tell hours in it; nil: UTC.
	Zone *time.Location

	house   House
	booths  []booth
	asTold  bool                    // no search has put the loads where they are
	journal map[floor.LoadID]string // why each load stands there, for the journal: with hours in UTC
}

// Load is what a load is beside its part of the problem.
type Load struct {
	ID        floor.LoadID
	RO        floor.RO
	Vehicle   string
	Colour    string
	Booth     floor.BoothID // where it stands now
	Start     time.Time     // when, zero: it has no place yet
	Keep      floor.Keep
	told      floor.BoothID
	Begun     bool
	Permitted bool
	lost      string    // why its last permit was taken back; empty: it was not
	lostAt    time.Time // and when
	Opens     time.Time // all its beads are surely open; zero: they are
	Latest    time.Time // before the first of them may close
	Due       time.Time // promised
	Weight    float64
	Waits     []string  // what it waits for beside time
	release   time.Time // as it is told; the problem's is moved where loads of a car meet
	after     []int     // loads of the same car that must be out before
	Taken     time.Time // the start that it was put at by hand, where another load is; zero: none
	settled   time.Time // until when a silent place that it was in counts; zero: none does
	held      time.Time // by when what holds it is reckoned to be answered; zero: nothing does
}

// Work is what a task of the problem is.
type Work struct {
	Seam floor.SeamID
	Name string
	What string // "lay", "scuff"
	Zone floor.ZoneID
	Load int

	Unplanned bool // nobody has said what is to be laid
}

// booth is what must be known of one to tell its plan.
type booth struct {
	id     floor.BoothID
	colour string // in the gun, or what it is set up to
	fault  string
	open   []plan.Interval
	busy   time.Time       // until when a phase runs without a load in it; zero: none does
	next   string          // colour that its gun is set up to meanwhile; empty: none
	hours  []plan.Interval // all that it was told, also those that have gone by; none: round the clock
}

// What is done to a seam before a load.
const (
	Lay   = "lay"
	Scuff = "scuff"
)

// From translates a floor. It reads the floor only.
func From(f *floor.Floor, at time.Time, h House) *Draft {
	b := &builder{f: f, at: at, d: &Draft{At: at, Seq: f.Seq(), house: h}, crews: map[string]bool{}}
	b.d.Problem.Start = upTo(at)
	b.addBooths()
	b.addLoads()
	b.addCrews()
	b.setups()
	return b.d
}

// builder is a translation under way.
type builder struct {
	f     *floor.Floor
	at    time.Time
	d     *Draft
	in    map[floor.LoadID]floor.BoothID // loads that are in a booth
	crews map[string]bool

	lacking []lack // of the load that is looked at
}

func (b *builder) addBooths() {
	b.in = map[floor.LoadID]floor.BoothID{}
	for _, id := range b.f.Booths() {
		t := b.f.Booth(id)
		open := b.hours(t)
		gun, _ := t.Gun()
		x := booth{id: id, colour: colour(gun), fault: t.Fault, open: open, hours: told(t), next: t.Next}
		if t.Fault != "" {
			open = nil
		} else if until := t.Ends(); t.Loaded == "" && until.After(b.at) && t.PhaseFrom.Before(until) {
			x.busy = upTo(until)
			open = without(open, plan.Interval{From: b.d.Problem.Start, To: x.busy})
		}
		b.d.booths = append(b.d.booths, x)
		if t.Loaded != "" {
			b.in[t.Loaded] = id
		}
		b.d.Problem.Booths = append(b.d.Problem.Booths, plan.Booth{ID: string(id), Colour: x.colour, Open: open})
	}
}

// hours are a booth's from the start of the plan on, in order and apart.
func (b *builder) hours(t *floor.Booth) []plan.Interval {
	start := b.d.Problem.Start
	if len(t.Hours) == 0 {
		return []plan.Interval{{From: start, To: start.Add(b.d.house.Horizon)}}
	}
	var out []plan.Interval
	for _, h := range t.Hours {
		if from := latest(start, upTo(h.From)); from.Before(downTo(h.To)) {
			out = append(out, plan.Interval{From: from, To: downTo(h.To)})
		}
	}
	return joined(out)
}

// told are a booth's hours as they were told, in order and apart.
func told(t *floor.Booth) []plan.Interval {
	var out []plan.Interval
	for _, h := range t.Hours {
		out = append(out, plan.Interval{From: h.From, To: h.To})
	}
	return joined(out)
}

// joined puts intervals in order and joins those that touch.
func joined(open []plan.Interval) []plan.Interval {
	slices.SortFunc(open, func(a, b plan.Interval) int { return cmp.Or(a.From.Compare(b.From), a.To.Compare(b.To)) })
	var out []plan.Interval
	for _, o := range open {
		if n := len(out) - 1; n >= 0 && !o.From.After(out[n].To) {
			out[n].To = latest(out[n].To, o.To)
			continue
		}
		out = append(out, o)
	}
	return out
}

// without cuts an interval out of others.
func without(open []plan.Interval, cut plan.Interval) []plan.Interval {
	var out []plan.Interval
	for _, o := range open {
		if !cut.From.Before(o.To) || !o.From.Before(cut.To) {
			out = append(out, o)
			continue
		}
		if o.From.Before(cut.From) {
			out = append(out, plan.Interval{From: o.From, To: cut.From})
		}
		if cut.To.Before(o.To) {
			out = append(out, plan.Interval{From: cut.To, To: o.To})
		}
	}
	return out
}

// colour names what has none.
func colour(c string) string {
	if c == "" {
		return "no colour"
	}
	return c
}

// setups are the changes between all colours that can meet: of booths that
// say otherwise the longest counts, and one that is not told takes no time.
// From a gun that was set up to a colour for the next load, that colour takes
// none.
func (b *builder) setups() {
	p := &b.d.Problem
	var all []string
	for _, x := range b.d.booths {
		all = append(all, x.colour)
	}
	for i := range p.Loads {
		all = append(all, p.Loads[i].Colour)
	}
	slices.Sort(all)
	all = slices.Compact(all)
	p.Setups = map[string]map[string]time.Duration{}
	for _, from := range all {
		p.Setups[from] = map[string]time.Duration{}
		for _, to := range all {
			var most time.Duration
			for _, id := range b.f.Booths() {
				most = max(most, b.f.Booth(id).Setups[[2]string{uncoloured(from), uncoloured(to)}])
			}
			p.Setups[from][to] = upMinutes(most)
		}
	}
	for i, x := range b.d.booths {
		if x.next == "" {
			continue
		}
		filled := "set up to " + x.colour
		p.Booths[i].Colour, p.Setups[filled] = filled, maps.Clone(p.Setups[x.colour])
		p.Setups[filled][x.colour] = 0
	}
}

func uncoloured(c string) string {
	if c == colour("") {
		return ""
	}
	return c
}
