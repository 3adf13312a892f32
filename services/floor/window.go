package floor

import (
	"time"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/calc/spec"
)

// WindowState is how a seam stands to the first coat of a load.
type WindowState uint8

// The states of a window. The zero value is that nobody can tell.
const (
	WindowUnknown WindowState = iota // no clock runs that is known
	WindowPast                       // a coat lies over the sealer
	WindowToLay                      // a layer is still to be laid
	WindowToScuff                    // it has closed, may have, or closes before a first coat could end
	WindowRuns                       // it opens and closes by itself
)

// Window is when the first coat of a load may begin over one seam, as far as
// can be told at a moment: what must be reached at the cold bound, what must
// not be passed at the hot one.
type Window struct {
	Seam  *Seam
	State WindowState

	// Of a window that runs: surely open from, and the latest begin of a first
	// coat that surely ends before it closes; zero: never.
	Opens, Closes time.Time

	// Of a bead that is laid, or scuffed, from now on: how long it takes from
	// then until it surely is open, and until the latest begin of a first coat.
	// Waits and Lasts say whether that is known.
	OpensIn, ClosesIn time.Duration
	Waits, Lasts      bool
}

// Windows are those of all seams that a load's first coat goes over. The
// forecast holds the air as it is; the end of the first coat is reckoned along
// the growing cone in the hull of where the seam is and the load's booth, as
// the gate does.
func (fl *Floor) Windows(l *Load, at time.Time) []Window {
	seams, _ := fl.LoadSeams(l)
	out := make([]Window, 0, len(seams))
	for _, s := range seams {
		out = append(out, fl.window(l, s, at))
	}
	return out
}

func (fl *Floor) window(l *Load, s *Seam, at time.Time) Window {
	w := Window{Seam: s}
	switch {
	case s.Coated():
		w.State = WindowPast
		return w
	case !s.Complete():
		w.State = WindowToLay
		fl.layingAhead(&w, l, at)
		return w
	case s.Bead.Elsewhere || s.Bead.Product == nil:
		return w
	}
	asked := *s
	if l.Coat != "" {
		asked.firstCoat = l.Coat
	}
	opens, ok := beadClock(&asked, floorv1.Clock_CLOCK_COAT_OPENS)
	closes, ok2 := beadClock(&asked, floorv1.Clock_CLOCK_COAT_CLOSES)
	path := fl.path(s)
	if !ok || !ok2 || path == nil {
		return w
	}
	ahead := fl.lately(s, path, at)
	w.State, w.Opens = WindowRuns, cure.JudgeAhead(path, opens.clock, at, ahead).DueCold
	early := fl.early(closes.clock, l, s, path, at)
	w.Closes = cure.JudgeAhead(path, early, at, ahead).DueHot
	if early.Needed <= 0 || cure.Answer(path, closes.clock, at) != cure.No || !w.Closes.IsZero() && w.Closes.Before(at) {
		w.State = WindowToScuff
		fl.scuffAhead(&w, closes.clock, l, path, at)
	}
	return w
}

// toBeLaid is the product that is planned for a seam, before that the one that
// the rules suggest; nil if they leave it open.
func (fl *Floor) toBeLaid(s *Seam, at time.Time) *Product {
	if s.Plan != nil {
		return fl.productAt(fl.book, s.Plan.Product, at)
	}
	if p := spec.PlanFor(s.Survey(), fl.Sheets(at)); p.ProductID != "" {
		return fl.productAt(fl.book, ProductID(p.ProductID), at)
	}
	return nil
}

// layingAhead says how a bead would cure that is laid from now on with what
// is planned for the seam, or will be.
func (fl *Floor) layingAhead(w *Window, l *Load, at time.Time) {
	s := w.Seam
	path, p, coat := fl.path(s), fl.toBeLaid(s, at), coatOf(l, s)
	if p == nil || path == nil {
		return
	}
	opens, ok := p.Needs(floorv1.Clock_CLOCK_COAT_OPENS, coat)
	closes, ok2 := p.Needs(floorv1.Clock_CLOCK_COAT_CLOSES, coat)
	if !ok || !ok2 {
		return
	}
	c := cure.Clock{Kind: cure.Ready, Law: p.Law, From: at, Needed: opens, Tolerance: p.Tolerance}
	ahead := fl.lately(s, path, at)
	if due := cure.JudgeAhead(path, c, at, ahead).DueCold; !due.IsZero() {
		w.OpensIn, w.Waits = due.Sub(at), true
	}
	c.Kind, c.Needed = cure.Expiry, closes
	w.lasts(fl.early(c, l, s, path, at), path, at, ahead)
}

// scuffAhead says how long a bead that is scuffed now may wait for its coat.
func (fl *Floor) scuffAhead(w *Window, c cure.Clock, l *Load, path *cure.Path, at time.Time) {
	needed, ok := w.Seam.Bead.Product.AfterScuff()
	if !ok {
		return
	}
	c.From, c.Needed = at, needed
	w.Waits = true
	w.lasts(fl.early(c, l, w.Seam, path, at), path, at, fl.lately(w.Seam, path, at))
}

func (w *Window) lasts(early cure.Clock, path *cure.Path, at time.Time, ahead cure.Forecast) {
	if early.Needed <= 0 {
		w.ClosesIn, w.Lasts = 0, true
		return
	}
	if due := cure.JudgeAhead(path, early, at, ahead).DueHot; !due.IsZero() {
		w.ClosesIn, w.Lasts = due.Sub(at), true
	}
}

func coatOf(l *Load, s *Seam) spec.Coat {
	if l.Coat != "" {
		return l.Coat
	}
	return s.firstCoat
}

// sprayC is about as warm as a booth is when a load is brought in, in °C,
// whatever it is baked at now. Common practice, no source.
const sprayC = 26

// early is an expiry clock that ends a first coat before the one it is made
// of: it needs less by what the coat's time can add at the hot bound, the air
// growing warmer as fast as it credibly may.
func (fl *Floor) early(c cure.Clock, l *Load, s *Seam, path *cure.Path, at time.Time) cure.Clock {
	hi, top, drift := fl.lately(s, path, at)[0].Set.Hi, 0.0, 0.0
	zones := fl.Places(s, at)
	if b := fl.booths[l.Booth]; b != nil {
		zones = union(zones, []ZoneID{b.Zone})
		if z := fl.zones[b.Zone]; z != nil && b.Loaded == "" {
			hi = max(hi, z.hourHigh(at))
		} else {
			hi = max(hi, sprayC)
		}
	}
	for _, id := range zones {
		if z := fl.zones[id]; z != nil {
			def := z.course.Zone()
			top, drift = max(top, def.Limits.Hi), max(drift, def.DriftPerMin)
		}
	}
	age := 0.0
	for left := fl.FirstCoat(l); left > 0; left -= time.Minute {
		step := min(left, time.Minute)
		hi = max(hi, min(hi+drift*step.Minutes(), top)) // the step's warm end
		age += c.Law.Rate(hi, cure.Hot) * step.Seconds()
	}
	c.Needed -= time.Duration(age / (1 - c.Tolerance) * float64(time.Second))
	return c
}

// Bays lists the zones in which cars are worked on.
func (fl *Floor) Bays() []ZoneID { return fl.bays() }

// TerminalsOf lists the terminals that stand in a zone.
func (fl *Floor) TerminalsOf(id ZoneID) []string {
	if z := fl.zones[id]; z != nil {
		return z.Terminals
	}
	return nil
}
