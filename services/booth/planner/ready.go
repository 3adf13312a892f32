package planner

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"seamwright/services/calc/plan"
	"seamwright/services/floor"
)

// ready works out from when until when a load may start, and what has to be
// done for it before.
func (b *builder) ready(i int, l *floor.Load, ls []*floor.Load) {
	o, p := &b.d.Loads[i], &b.d.Problem.Loads[i]
	b.lacking = nil
	for _, w := range b.f.Windows(l, b.at) {
		if b.coveredBefore(i, w.Seam.ID, ls) {
			continue // the load before it brings the first coat
		}
		if w.State == floor.WindowToScuff && !w.Waits {
			b.lacks(w.Seam, "its window has closed, and the product's sheet gives no time after scuffing")
		}
		switch w.State {
		case floor.WindowRuns:
			o.Opens = latest(o.Opens, upTo(w.Opens))
			if c := downTo(w.Closes); !w.Closes.IsZero() && (o.Latest.IsZero() || c.Before(o.Latest)) {
				o.Latest = c
			}
		case floor.WindowToLay:
			b.toLay(i, w)
		case floor.WindowToScuff:
			if w.Waits {
				b.toScuff(i, w)
			}
		}
	}
	o.Waits = append(o.Waits, listed(b.lacking)...)
	p.Release, p.LatestStart = o.Opens, o.Latest
	held, settled := b.held(i, l, ls)
	if len(held) > 0 {
		o.Waits, o.held = append(o.Waits, held...), upTo(b.at.Add(b.d.house.Held))
	}
	o.settled = upTo(settled)
	p.Release = latest(p.Release, o.held, o.settled)
}

// lack is what is wrong with seams of a load, told once for all of them.
type lack struct {
	what  string
	seams []string
}

func (b *builder) lacks(s *floor.Seam, what string) {
	for i := range b.lacking {
		if b.lacking[i].what == what {
			b.lacking[i].seams = append(b.lacking[i].seams, s.Name())
			return
		}
	}
	b.lacking = append(b.lacking, lack{what, []string{s.Name()}})
}

// listed are lacks as sentences that list the seams.
func listed(all []lack) (out []string) {
	const most = 6
	for _, l := range all {
		names := l.seams
		if len(names) > most+1 {
			names = append(slices.Clone(names[:most]), fmt.Sprintf("%d more", len(names)-most))
		}
		out = append(out, strings.Join(names, ", ")+": "+l.what)
	}
	return out
}

// coveredBefore reports whether a load that goes before brings the first coat
// over a seam.
func (b *builder) coveredBefore(i int, s floor.SeamID, ls []*floor.Load) bool {
	return slices.ContainsFunc(b.d.Loads[i].after, func(k int) bool { return slices.Contains(ls[k].Seams, s) })
}

// notKnown is what is said of a seam of which nobody can say when it will be
// open.
const notKnown = "what is planned would not cure there, or its window is not known"

// toLay makes the task of laying a seam. Its limit runs from the nozzle's
// flow before it, so laying and a nozzle's gel are taken off.
func (b *builder) toLay(i int, w floor.Window) {
	const gel = 10 * time.Minute // common practice, no source: a nozzle that has not gelled was used since
	h := b.d.house
	t := plan.Task{Length: h.Lay, MinLag: h.Opens}
	if w.Seam.Stage.Rank() < floor.Prepped.Rank() {
		t.Length += h.Prep
	}
	if w.Waits {
		t.MinLag = upMinutes(w.OpensIn)
	}
	if w.Lasts {
		t.MaxLag, t.HasMax = max(0, (w.ClosesIn-t.Length-gel).Truncate(time.Minute)), true
	}
	switch {
	case w.Seam.Plan == nil: // told of all of them at once
	case !w.Waits && !slices.Contains(b.f.Bays(), b.f.Zone(w.Seam)):
		b.lacks(w.Seam, notKnown+"; in which bay its car stands was not told")
	case !w.Waits:
		b.lacks(w.Seam, notKnown)
	case t.HasMax && t.MaxLag < t.MinLag:
		b.lacks(w.Seam, "its window may close before it surely opens")
	}
	b.task(i, w.Seam, Lay, t)
}

func (b *builder) toScuff(i int, w floor.Window) {
	t := plan.Task{Length: b.d.house.Scuff}
	if w.Lasts {
		t.MaxLag, t.HasMax = max(0, w.ClosesIn.Truncate(time.Minute)), true
	}
	o := &b.d.Loads[i]
	o.Opens = latest(o.Opens, upTo(w.Opens))
	b.task(i, w.Seam, Scuff, t)
}

func (b *builder) task(i int, s *floor.Seam, what string, t plan.Task) {
	zone := b.f.Zone(s)
	if !slices.Contains(b.f.Bays(), zone) {
		zone = ""
	}
	t.Load, t.Crew = string(b.d.Loads[i].ID), crew(zone)
	t.ID = what + " " + string(s.ID) + " for " + t.Load
	b.crews[t.Crew] = true
	b.d.Problem.Tasks = append(b.d.Problem.Tasks, t)
	b.d.Works = append(b.d.Works, Work{Seam: s.ID, Name: s.Name(), What: what, Zone: zone, Load: i, Unplanned: what == Lay && s.Plan == nil})
}

// crew names the people of a bay, or those of all bays for a car that is in
// none.
func crew(z floor.ZoneID) string {
	if z == "" {
		return "all bays"
	}
	return "bay " + string(z)
}

// addCrews: a bay has as many technicians as terminals, at least one, and
// they work while some booth is open.
func (b *builder) addCrews() {
	var open []plan.Interval
	for _, t := range b.d.booths {
		open = append(open, t.open...)
	}
	open = joined(open)
	add := func(id string, people int) {
		if b.crews[id] {
			b.d.Problem.Crews = append(b.d.Problem.Crews, plan.Crew{ID: id, People: max(1, people), Open: open})
		}
	}
	bays := b.f.Bays()
	for _, z := range bays {
		add(crew(z), len(b.f.TerminalsOf(z)))
	}
	add(crew(""), len(bays))
}

// aside are reasons of the gate that are the booth's, the process's, or told
// by the seams' windows: none of them says that somebody must do something
// about the load.
var aside = map[string]bool{
	floor.HoldBoothFault: true, floor.HoldBoothBusy: true, floor.HoldBoothClosed: true, floor.HoldBoothPermitted: true, floor.HoldWrongBooth: true,
	floor.HoldBoothUnknown: true, floor.HoldNotLaid: true, floor.HoldLayerMissing: true, floor.HoldClosed: true, floor.HoldMayClose: true,
	floor.HoldSilent: true,
}

// held is what holds a load that no time and no laying brings, in the gate's
// own words; and until when a place that it was in counts, of which the air is
// not known: zero, none does.
func (b *builder) held(i int, l *floor.Load, ls []*floor.Load) (out []string, settled time.Time) {
	r := b.f.Gate(l.ID, latest(b.at, b.f.Last()), floor.Live{Untouched: true})
	for _, x := range r.Reasons {
		if aside[x.Name] || floor.OfProcess(x.Name) {
			continue
		}
		if !x.Until.IsZero() {
			if strings.HasPrefix(x.Subject, "zone/") { // those of seams are in their windows
				settled = latest(settled, x.Until)
			}
			continue
		}
		if s, ok := strings.CutPrefix(x.Subject, "seam/"); ok && b.coveredBefore(i, floor.SeamID(s), ls) {
			continue
		}
		out = append(out, x.Text)
	}
	return out, settled
}
