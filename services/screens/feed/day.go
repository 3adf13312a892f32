package feed

import (
	"time"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/calc/spec"
	"seamwright/services/floor"
)

// day is where the loads stand: in the booth plan, or without one where they
// would stand if each booth took them in the gate's order, one after the other,
// each when it can be ready.
type day struct {
	slots map[floor.LoadID]slot
	lanes map[floor.BoothID][]slot // in order, the running load first
}

// slot is a load's place in its booth.
type slot struct {
	load     floor.LoadID
	from, to time.Time
	setup    time.Duration // colour change before from
	running  bool          // it is in the booth
	missed   bool          // a window has closed by then
	why      string        // the plan's sentence
}

// rounds is how often the lanes are laid out again for loads that wait for
// another booth; a car goes through no more than these.
const rounds = 3

// plan lays the loads out, once a view.
func (v *view) plan() *day {
	if v.day != nil {
		return v.day
	}
	if v.day = v.planned(); v.day != nil {
		return v.day
	}
	d := &day{slots: map[floor.LoadID]slot{}}
	for range rounds {
		d = v.layOut(d)
	}
	v.day = d
	return d
}

// slotStep: loads begin on it, so that a lane does not tremble with every
// reading.
const slotStep = 5 * time.Minute

// layingTime is how long a bay is given for each seam that a load still
// lacks, one after the other. Common practice, no source.
const layingTime = 10 * time.Minute

// upTo is the first moment on a step not before t.
func upTo(t time.Time, step time.Duration) time.Time {
	if m := t.Truncate(step); m.Before(t) {
		return m.Add(step)
	}
	return t
}

func (v *view) layOut(before *day) *day {
	d := &day{slots: map[floor.LoadID]slot{}, lanes: map[floor.BoothID][]slot{}}
	for _, id := range v.f.Booths() {
		b := v.f.Booth(id)
		free := v.free(b)
		gun, _ := b.Gun()
		if l := v.f.Load(b.Loaded); l != nil {
			d.put(b, slot{load: l.ID, from: l.Sprayed, to: free, running: true})
		}
		for _, next := range v.f.NextLoads(id) {
			l := v.f.Load(next)
			setup := b.Setups[[2]string{gun, l.Colour}]
			start := upTo(latest(free.Add(setup), l.Start, v.ready(l), v.before(l, before)), slotStep)
			start, ok := fitHours(b, start, v.f.Process(l))
			if !ok {
				continue
			}
			s := slot{load: l.ID, from: start, to: start.Add(v.f.Process(l)), setup: setup}
			d.put(b, s)
			free, gun = s.to, l.Colour
		}
	}
	return d
}

func (d *day) put(b *floor.Booth, s slot) {
	d.slots[s.load] = s
	d.lanes[b.ID] = append(d.lanes[b.ID], s)
}

func latest(ts ...time.Time) time.Time {
	var out time.Time
	for _, t := range ts {
		if t.After(out) {
			out = t
		}
	}
	return out
}

// free is when the booth can take its next load, now or later.
func (v *view) free(b *floor.Booth) time.Time {
	free := v.now
	if l := v.f.Load(b.Loaded); l != nil {
		free = latest(free, l.Sprayed.Add(v.f.Process(l)))
	}
	return latest(free, b.Ends())
}

// before is when the loads of the same car that must come first are out:
// those with the car's first coat over some of the same seams.
func (v *view) before(l *floor.Load, d *day) time.Time {
	var out time.Time
	first := v.firstCoat(l.RO)
	if v.coatOf(l) == first {
		return out
	}
	for id, s := range d.slots {
		o := v.f.Load(id)
		if o.RO == l.RO && id != l.ID && v.coatOf(o) == first && shareSeam(o, l) {
			out = latest(out, s.to)
		}
	}
	return out
}

func shareSeam(a, b *floor.Load) bool {
	for _, x := range a.Seams {
		for _, y := range b.Seams {
			if x == y {
				return true
			}
		}
	}
	return false
}

func (v *view) firstCoat(ro floor.RO) spec.Coat {
	if j := v.f.Job(ro); j != nil && len(j.Coats) > 0 {
		return j.Coats[0]
	}
	return ""
}

// coatOf is the coat that a load is sprayed with first.
func (v *view) coatOf(l *floor.Load) spec.Coat {
	if l.Coat != "" {
		return l.Coat
	}
	return v.firstCoat(l.RO)
}

// ready is when time alone, and laying one after the other what is not laid,
// would make a load ready at the cold bound; zero: at once, or nobody can
// tell.
func (v *view) ready(l *floor.Load) time.Time {
	var out time.Time
	seams, _ := v.f.LoadSeams(l)
	work := v.now
	for _, s := range seams {
		if !s.Coated() && !s.Complete() {
			work = work.Add(layingTime)
		}
	}
	for _, s := range seams {
		switch {
		case s.Coated():
		case s.Complete():
			if c, ok := v.clock(s.ID, floorv1.Clock_CLOCK_COAT_OPENS); ok {
				out = latest(out, c.DueCold)
			}
		default:
			if wait, ok := v.wait(s); ok {
				out = latest(out, work.Add(wait))
			}
		}
	}
	return out
}

// clock is one of a seam's clocks now.
func (v *view) clock(id floor.SeamID, k floorv1.Clock) (floor.ClockState, bool) {
	for _, c := range v.f.Clocks(id, v.now) {
		if c.ClockID.Clock == k {
			return c, true
		}
	}
	return floor.ClockState{}, false
}

// wait is how long a bead laid now would surely need until its coat window
// opens, if the air stays at the cold edge of where it may be: false when the
// product or the coat is not known, or it stands still at that edge.
func (v *view) wait(s *floor.Seam) (time.Duration, bool) {
	p := v.productFor(s)
	if p == nil || s.Finish == spec.Exposed {
		return 0, false
	}
	needed, ok := p.Needs(floorv1.Clock_CLOCK_COAT_OPENS, s.FirstCoat())
	if !ok {
		return 0, false
	}
	return v.stretched(s, p, needed, cure.Cold)
}

// tooCold reports whether a bead laid now would stand still at the cold edge
// of its air, so that nobody can say when its window opens.
func (v *view) tooCold(s *floor.Seam) bool {
	p := v.productFor(s)
	set, ok := v.airOf(s)
	return p != nil && ok && p.Law.Rate(set.Lo, cure.Cold) <= 0
}

// stretched is a label's time at the edge of a seam's air now, with the
// label's tolerance on the safe side.
func (v *view) stretched(s *floor.Seam, p *floor.Product, needed time.Duration, side cure.Side) (time.Duration, bool) {
	set, ok := v.airOf(s)
	if !ok {
		return 0, false
	}
	c, factor := set.Lo, 1+p.Tolerance
	if side == cure.Hot {
		c, factor = set.Hi, 1-p.Tolerance
	}
	rate := p.Law.Rate(c, side)
	if rate <= 0 {
		return 0, needed == 0
	}
	return time.Duration(float64(needed) * factor / rate), true
}

// airOf is the set that the temperature of a seam's zones lies in now.
func (v *view) airOf(s *floor.Seam) (cure.Set, bool) {
	var out cure.Set
	known := false
	for _, z := range v.f.Places(s, v.now) {
		a, ok := v.f.Air(z, v.now)
		switch {
		case !ok:
		case !known:
			out, known = a.Set, true
		default:
			out = out.Hull(a.Set)
		}
	}
	return out, known
}

// fitHours is the first moment from start on at which the booth is open for
// all of a load; false when there is none.
func fitHours(b *floor.Booth, start time.Time, process time.Duration) (time.Time, bool) {
	if len(b.Hours) == 0 {
		return start, true
	}
	var best time.Time
	for _, h := range b.Hours {
		at := latest(start, h.From)
		if !at.Add(process).After(h.To) && (best.IsZero() || at.Before(best)) {
			best = at
		}
	}
	return best, !best.IsZero()
}

// place is the earliest place of a load that is still to be sprayed and that
// goes over a seam; false when none is planned.
func (v *view) place(s *floor.Seam) (slot, bool) {
	var best slot
	for id, p := range v.plan().slots {
		l := v.f.Load(id)
		if p.running || l.RO != s.Job || !l.Sprayed.IsZero() {
			continue
		}
		seams, _ := v.f.LoadSeams(l)
		for _, o := range seams {
			if o.ID == s.ID && (best.load == "" || p.from.Before(best.from)) {
				best = p
			}
		}
	}
	return best, best.load != ""
}

// layBy is the latest moment to lay a seam so that its coat window is surely
// open when its load's place comes; false when that cannot be told.
func (v *view) layBy(s *floor.Seam) (at time.Time, p slot, ok bool) {
	p, ok = v.place(s)
	if !ok || s.Finish == spec.Exposed || s.Complete() {
		return time.Time{}, p, false
	}
	if w := v.due(s.ID); w.GetDoneBy() != nil {
		return w.GetDoneBy().AsTime(), p, true
	}
	wait, ok := v.wait(s)
	if !ok {
		return time.Time{}, p, false
	}
	return p.from.Add(-wait), p, true
}
