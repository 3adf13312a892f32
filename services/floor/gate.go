package floor

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/calc/spec"
)

// The names of the reasons to hold. They are stable: the journal and other
// programs carry them. Those about the process stand in gate_health.go.
const (
	HoldLoadUnknown    = "load-unknown"
	HoldLoadEmpty      = "load-empty"
	HoldLoadSprayed    = "load-sprayed"
	HoldJobEnded       = "job-ended"
	HoldWrongBooth     = "wrong-booth"
	HoldBoothUnknown   = "booth-unknown"
	HoldBoothFault     = "booth-faulted"
	HoldBoothBusy      = "booth-busy"
	HoldBoothClosed    = "booth-closed"
	HoldBoothPermitted = "permit-running"
	HoldSeamUnknown    = "seam-unknown"
	HoldNotLaid        = "not-laid"
	HoldLayerMissing   = "layer-missing"
	HoldStop           = "open-stop"
	HoldProduct        = "product-unknown"
	HoldElsewhere      = "clocks-unknown"
	HoldCoatUnknown    = "coat-unknown"
	HoldZoneUnknown    = "zone-unknown"
	HoldNotOpen        = "coat-not-open"
	HoldMayClose       = "coat-may-close"
	HoldClosed         = "coat-closed"
	HoldNoReading      = "no-reading"
	HoldStale          = "reading-stale"
	HoldImplausible    = "reading-implausible"
	HoldSilent         = "terminal-silent"
)

// Reason is one reason to hold.
type Reason struct {
	Name    string
	Subject string    // "seam/2207/rd-l"
	Text    string    // one sentence for the painter
	Until   time.Time // when it will surely be gone, if time alone brings it; zero: it will not
	Maybe   time.Time // when it may be gone
}

// Live is what the gate must know beside the journal: the process's own
// health, and signs of life that are no events.
type Live struct {
	Health    error                // nil: process, journal and fold can be trusted; else what is wrong, or several joined
	Heard     map[string]time.Time // newest sign of life by terminal
	HearFor   time.Duration        // a terminal silent for longer holds; 0: DefaultHearFor
	Untouched bool                 // a painter confirms by name that no bead was touched
	Jumps     []Jump               // the times that the shop's clock was set while the program ran
	Holding   string               // the permit that is being kept alive: it does not hold itself
}

// DefaultHearFor is how long a bay's terminal may be silent before the gate
// wants a painter's word that nothing was touched.
const DefaultHearFor = 5 * time.Minute

// Ruling is the gate's answer about one load. Only a ruling without reasons
// is leave to spray; the zero value holds.
type Ruling struct {
	Load    LoadID
	Booth   BoothID
	At      time.Time
	Asked   bool // false: nobody evaluated anything
	Reasons []Reason
	ClearAt time.Time // when time alone will surely have cleared it; zero: it will not
	MaybeAt time.Time // when it may be clear
	Grounds string
}

// Clear reports whether the load may be sprayed.
func (r Ruling) Clear() bool { return r.Asked && len(r.Reasons) == 0 }

// Gate rules whether the first coat of a load may begin at a moment. Each
// thing that is not surely right is a reason by name; a panic is one too.
func (fl *Floor) Gate(id LoadID, at time.Time, live Live) (r Ruling) {
	defer func() {
		if p := recover(); p != nil {
			r = Ruling{Load: id, At: at, Asked: true, Reasons: []Reason{{
				Name: HoldPanic, Subject: string(id.key()),
				Text: fmt.Sprintf("the gate could not be evaluated (%v); tell whoever looks after the program", p),
			}}}
		}
	}()
	g := gate{fl: fl, at: at, live: live, r: Ruling{Load: id, At: at, Asked: true}}
	g.health()
	l, ok := fl.loads[id]
	if !ok {
		g.hold(HoldLoadUnknown, string(id.key()), fmt.Sprintf("load %s is not planned; plan it first", id))
		return g.done()
	}
	g.load(l)
	return g.done()
}

type gate struct {
	fl   *Floor
	at   time.Time
	end  time.Time // of the first coat
	live Live
	r    Ruling
}

func (g *gate) hold(name, subject, text string) {
	g.r.Reasons = append(g.r.Reasons, Reason{Name: name, Subject: subject, Text: text})
}

func (g *gate) holdUntil(name, subject, text string, until, maybe time.Time) {
	g.r.Reasons = append(g.r.Reasons, Reason{name, subject, text, until, maybe})
}

// done sorts the reasons and adds up when time alone clears them all. Of a
// reason that stands for several things, that which holds the longest stays.
func (g *gate) done() Ruling {
	slices.SortStableFunc(g.r.Reasons, func(a, b Reason) int {
		return cmp.Or(cmp.Compare(a.Name, b.Name), cmp.Compare(a.Subject, b.Subject), zeroLast(b.Until, a.Until))
	})
	g.r.Reasons = slices.CompactFunc(g.r.Reasons, func(a, b Reason) bool { return a.Name == b.Name && a.Subject == b.Subject })
	for i, r := range g.r.Reasons {
		if r.Until.IsZero() {
			g.r.ClearAt, g.r.MaybeAt = time.Time{}, time.Time{}
			break
		}
		g.r.ClearAt = later(g.r.ClearAt, r.Until)
		if i == 0 || r.Maybe.After(g.r.MaybeAt) {
			g.r.MaybeAt = r.Maybe
		}
	}
	return g.r
}

func (g *gate) health() {
	g.r.Reasons = append(g.r.Reasons, troubles(g.live.Health)...)
	if g.at.Before(g.fl.last) {
		g.hold(HoldClock, "clock", fmt.Sprintf("the clock says %s but the journal heard something at %s; set the clock",
			clockTime(g.at), clockTime(g.fl.last)))
	}
}

func (g *gate) load(l *Load) {
	g.r.Booth = l.Booth
	subject := string(l.ID.key())
	g.end = g.at.Add(g.fl.FirstCoat(l))
	if !l.Sprayed.IsZero() {
		g.hold(HoldLoadSprayed, subject, fmt.Sprintf("load %s was sprayed at %s; a further coat needs no permit of this gate", l.ID, clockTime(l.Sprayed)))
	}
	if j := g.fl.jobs[l.RO]; j == nil || j.State != JobOpen {
		g.hold(HoldJobEnded, string(l.RO.key()), fmt.Sprintf("job %s is not open", l.RO))
	}
	g.booth(l)
	seams, missing := g.fl.LoadSeams(l)
	for _, s := range missing {
		g.hold(HoldSeamUnknown, string(s.key()), fmt.Sprintf("seam %s is not surveyed", s))
	}
	if len(seams)+len(missing) == 0 {
		g.hold(HoldLoadEmpty, subject, fmt.Sprintf("load %s names no coated seam; plan it with its seams", l.ID))
	}
	for _, s := range seams {
		g.seam(l, s)
	}
	g.terminal(l)
}

// LoadSeams lists the seams that a load's first coat goes over: those it
// names, and every other coated seam on the same panels that bears no coat
// yet. Missing are those it names that are not known.
func (fl *Floor) LoadSeams(l *Load) (seams []*Seam, missing []SeamID) {
	panels := map[PanelID]bool{}
	for _, id := range l.Seams {
		s, ok := fl.seams[id]
		if !ok {
			missing = append(missing, id)
			continue
		}
		panels[s.Panel] = true
	}
	for _, id := range fl.SeamsOf(l.RO) {
		s := fl.seams[id]
		if s.Finish != spec.Exposed && (slices.Contains(l.Seams, id) || panels[s.Panel] && !s.Coated()) {
			seams = append(seams, s)
		}
	}
	return seams, missing
}

func (g *gate) booth(l *Load) {
	b, ok := g.fl.booths[l.Booth]
	subject := string(l.Booth.key())
	if !ok {
		g.hold(HoldBoothUnknown, subject, fmt.Sprintf("booth %s is not defined", l.Booth))
		return
	}
	if b.Fault != "" {
		g.hold(HoldBoothFault, subject, fmt.Sprintf("booth %s is out of use: %s", b.ID, b.Fault))
	}
	if b.Loaded != "" && b.Loaded != l.ID {
		g.hold(HoldBoothBusy, subject, fmt.Sprintf("load %s is in the booth (%s)", b.Loaded, enumWord(b.Phase)))
	} else if b.Loaded == "" && b.Phase != boothv1.Phase_PHASE_IDLE && b.Phase != boothv1.Phase_PHASE_PREPARING {
		g.hold(HoldBoothBusy, subject, fmt.Sprintf("the booth is %s", enumWord(b.Phase)))
	}
	if !b.OpenAt(g.at, g.end) {
		g.hold(HoldBoothClosed, subject, fmt.Sprintf("booth %s is not open from %s to %s", b.ID, clockTime(g.at), clockTime(g.end)))
	}
	if p := g.fl.permits[b.ID]; p != nil && p.ID != g.live.Holding {
		g.hold(HoldBoothPermitted, subject, fmt.Sprintf("a permit for load %s is running; use it or give it back", p.Load))
	}
	g.air(b.Zone, "booth", "", time.Time{})
}

// air holds unless a zone's readings are fresh and plausible. What is said of
// it beside that, if anything, is added; until is when the zone will count no
// more, zero where no time is known.
func (g *gate) air(z ZoneID, what, beside string, until time.Time) {
	a, ok := g.fl.Air(z, g.at)
	subject := string(z.key())
	hold := func(name, text string) { g.holdUntil(name, subject, text+beside, until, until) }
	switch {
	case !ok:
		g.hold(HoldZoneUnknown, subject, fmt.Sprintf("%s: zone %q is not defined", what, z))
	case !a.Read:
		hold(HoldNoReading, fmt.Sprintf("no reading of %s yet; look at its probe or read it by hand", z))
	case !a.Fresh:
		hold(HoldStale, fmt.Sprintf("the last reading of %s is from %s; look at its probe or read it by hand", z, clockTime(a.Last.At)))
	case a.Jumped:
		hold(HoldImplausible, fmt.Sprintf("the reading of %s at %s, %.1f °C, jumped more than the air can; wait for the next one or look at the probe", z, clockTime(a.Last.At), a.Last.C))
	}
}

// NextLoads lists the loads of a booth that are not sprayed yet: those with a
// planned start in that order, then the others, earliest promised first.
func (fl *Floor) NextLoads(b BoothID) []LoadID {
	var out []*Load
	for _, l := range fl.loads {
		if j := fl.jobs[l.RO]; l.Booth == b && l.Sprayed.IsZero() && j != nil && j.State == JobOpen {
			out = append(out, l)
		}
	}
	slices.SortFunc(out, func(a, b *Load) int {
		return cmp.Or(zeroLast(a.Start, b.Start), zeroLast(fl.jobs[a.RO].Promised, fl.jobs[b.RO].Promised), cmp.Compare(a.ID, b.ID))
	})
	ids := make([]LoadID, len(out))
	for i, l := range out {
		ids[i] = l.ID
	}
	return ids
}

// zeroLast puts what has no time last.
func zeroLast(a, b time.Time) int {
	switch {
	case a.IsZero() && b.IsZero():
		return 0
	case a.IsZero():
		return 1
	case b.IsZero():
		return -1
	}
	return a.Compare(b)
}

// clockTime is a moment for people. Texts that stand in the journal are in
// UTC; screens format the moments of reasons themselves.
func clockTime(t time.Time) string {
	if t.IsZero() {
		return "never"
	}
	return t.UTC().Format("15:04")
}
