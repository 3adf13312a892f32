package feed

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// The board's axis: so much of it lies behind now.
const (
	axisLength = 5 * time.Hour
	axisBehind = axisLength / 4
	axisStep   = 30 * time.Minute
)

// axis is the stretch of time that the board shows: whole half hours, with
// now at about a quarter from the left.
func axis(now time.Time) (from, to time.Time) {
	from = now.Add(-axisBehind)
	_, off := from.Zone()
	shift := time.Duration(off) * time.Second
	from = from.Add(shift).Round(axisStep).Add(-shift)
	return from, from.Add(axisLength)
}

func (v *view) board(gates map[floor.BoothID]*boothv1.Gate) screens.Board {
	b := screens.Board{Picture: v.pic, Climate: v.boardClimate()}
	b.From, b.To = axis(v.now)
	next := map[floor.RO]bool{}
	for _, id := range v.f.Booths() {
		booth := v.f.Booth(id)
		if l := v.f.Load(floor.LoadID(gates[id].GetLoadId())); l != nil {
			next[l.RO] = true
		}
		b.Gates = append(b.Gates, v.gate(booth, gates[id]))
		b.Lanes = append(b.Lanes, v.lane(booth, gates[id], b.From, b.To))
	}
	for _, ro := range v.openJobs() {
		j := v.jobRows(v.f.Job(ro))
		j.Next = next[ro]
		b.Jobs = append(b.Jobs, j)
	}
	b.Plan = v.planWords()
	return b
}

// boardClimate is the air of the bays; a booth's own air stands on its page.
func (v *view) boardClimate() []screens.Climate {
	var bays []screens.Climate
	for _, z := range v.f.Zones() {
		if v.works(z) && v.isBooth(z) == 0 {
			bays = append(bays, v.climateOf(z, placeName(string(z))))
		}
	}
	return bays
}

// works reports whether a zone is a bay: a car of unknown whereabouts may be
// in it.
func (v *view) works(z floor.ZoneID) bool {
	return slices.Contains(v.f.Places(&floor.Seam{ID: "?/?", Job: "?"}, v.now), z)
}

// openJobs lists the jobs on the floor by promised time, those without one
// last.
func (v *view) openJobs() []floor.RO {
	var out []floor.RO
	for _, ro := range v.f.Jobs() {
		if v.f.Job(ro).State == floor.JobOpen {
			out = append(out, ro)
		}
	}
	slices.SortFunc(out, func(a, b floor.RO) int {
		x, y := v.f.Job(a).Promised, v.f.Job(b).Promised
		if x.IsZero() != y.IsZero() {
			if x.IsZero() {
				return 1
			}
			return -1
		}
		return cmp.Or(x.Compare(y), cmp.Compare(a, b))
	})
	return out
}

func (v *view) jobRows(j *floor.Job) screens.Job {
	out := screens.Job{RO: string(j.RO), Vehicle: upper(j.Vehicle), Promised: j.Promised, Late: v.late(j)}
	for _, s := range v.seamsOf(j.RO) {
		out.Seams = append(out.Seams, v.seamRow(s))
	}
	return out
}

// seamsOf lists a job's seams as they stand on the car: by panel, then by
// identifier.
func (v *view) seamsOf(ro floor.RO) []*floor.Seam {
	var out []*floor.Seam
	for _, id := range v.f.SeamsOf(ro) {
		out = append(out, v.f.Seam(id))
	}
	slices.SortStableFunc(out, func(a, b *floor.Seam) int { return cmp.Compare(a.Panel, b.Panel) })
	return out
}

// late reports whether a job misses its promise as the lanes stand: the end
// of its last load and the work after the booth come too late.
func (v *view) late(j *floor.Job) bool {
	if j.Promised.IsZero() {
		return false
	}
	end := v.now
	for id, s := range v.plan().slots {
		if v.f.Load(id).RO == j.RO {
			end = latest(end, s.to.Add(j.AfterBooth))
		}
	}
	return end.After(j.Promised)
}

// lane is a booth's loads on the axis.
func (v *view) lane(b *floor.Booth, g *boothv1.Gate, from, to time.Time) screens.Lane {
	l := screens.Lane{Booth: string(b.ID), Name: upper(placeName(string(b.ID)))}
	l.Blocks = append(l.Blocks, v.closed(b, from, to)...)
	l.Blocks = append(l.Blocks, v.past(b, from)...)
	if next, ready := b.Gun(); b.Loaded == "" && ready.After(v.now) {
		l.Blocks = append(l.Blocks, screens.Block{Kind: screens.BlockColourChange, From: b.PhaseFrom, To: ready, Label: "to " + next})
	}
	for _, s := range v.plan().lanes[b.ID] {
		l.Blocks = append(l.Blocks, v.blocks(b, g, s)...)
	}
	slices.SortStableFunc(l.Blocks, func(a, b screens.Block) int { return a.From.Compare(b.From) })
	l.Order = v.order(b.ID)
	return l
}

// order is which loads a booth takes next, and when: "2207-A 12:40, 2214-A
// 14:20 and 3 more".
func (v *view) order(id floor.BoothID) string {
	var names []string
	for _, s := range v.plan().lanes[id] {
		if !s.running {
			names = append(names, string(s.load)+" "+v.at(s.from))
		}
	}
	if len(names) > 2 {
		return strings.Join(names[:2], ", ") + fmt.Sprintf(" and %d more", len(names)-2)
	}
	return strings.Join(names, ", ")
}

func (v *view) blocks(b *floor.Booth, g *boothv1.Gate, s slot) []screens.Block {
	load := v.f.Load(s.load)
	main := screens.Block{
		Kind: screens.BlockLoad, From: s.from, To: s.to, Label: string(s.load), Next: string(s.load) == g.GetLoadId(),
		Late: v.lateSlot(load, s),
	}
	if s.running {
		main.Label += " " + phases[b.Phase]
		if b.Phase != boothv1.Phase_PHASE_BAKING {
			return []screens.Block{main}
		}
		bake := main
		bake.Kind = screens.BlockBake
		if !b.PhaseFrom.After(main.From) {
			return []screens.Block{bake}
		}
		main.Label, main.To, bake.From = string(s.load), b.PhaseFrom, b.PhaseFrom
		return []screens.Block{main, bake}
	}
	if s.setup <= 0 || b.Setups == nil {
		return []screens.Block{main}
	}
	return []screens.Block{
		{Kind: screens.BlockColourChange, From: s.from.Add(-s.setup), To: s.from, Label: "to " + load.Colour}, main,
	}
}

func (v *view) lateSlot(l *floor.Load, s slot) bool {
	j := v.f.Job(l.RO)
	return j != nil && !j.Promised.IsZero() && s.to.After(j.Promised)
}

// past are the loads that were in the booth earlier today, cut off where the
// next one began.
func (v *view) past(b *floor.Booth, from time.Time) []screens.Block {
	var done []*floor.Load
	for _, id := range v.f.Loads() {
		if l := v.f.Load(id); l.Booth == b.ID && l.ID != b.Loaded && !l.Sprayed.IsZero() {
			done = append(done, l)
		}
	}
	slices.SortFunc(done, func(a, b *floor.Load) int { return a.Sprayed.Compare(b.Sprayed) })
	var out []screens.Block
	for i, l := range done {
		end := l.Sprayed.Add(v.f.Process(l))
		if i+1 < len(done) && done[i+1].Sprayed.Before(end) {
			end = done[i+1].Sprayed
		}
		if in := v.f.Load(b.Loaded); in != nil && in.Sprayed.Before(end) {
			end = in.Sprayed
		}
		if b.Loaded == "" && end.After(b.PhaseFrom) && i == len(done)-1 && b.PhaseFrom.After(l.Sprayed) {
			end = b.PhaseFrom
		}
		if end.After(from) {
			out = append(out, screens.Block{Kind: screens.BlockLoad, From: l.Sprayed, To: end, Label: string(l.ID) + " done"})
		}
	}
	return out
}

// closed is when a booth cannot be used: a fault, or outside its hours.
func (v *view) closed(b *floor.Booth, from, to time.Time) []screens.Block {
	if b.Fault != "" {
		return []screens.Block{{Kind: screens.BlockClosed, From: v.now, To: to, Label: "out of use: " + b.Fault}}
	}
	if len(b.Hours) == 0 {
		return nil
	}
	hours := slices.Clone(b.Hours)
	slices.SortFunc(hours, func(a, b floor.Interval) int { return a.From.Compare(b.From) })
	var out []screens.Block
	at := from
	add := func(until time.Time) {
		if until.After(at) {
			out = append(out, screens.Block{Kind: screens.BlockClosed, From: at, To: until, Label: "closed"})
		}
	}
	for _, h := range hours {
		if !h.To.After(at) {
			continue
		}
		if !h.From.Before(to) {
			break
		}
		add(h.From)
		at = h.To
	}
	if at.Before(to) {
		add(to)
	}
	return out
}

// forLoad names a load's place: "for the 12:40 load", with its day if it is
// another.
func (v *view) forLoad(p slot) string {
	if p.load == "" {
		return ""
	}
	return fmt.Sprintf("for %s at %s", p.load, strings.TrimSpace(v.at(p.from)))
}
