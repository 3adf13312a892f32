package planner

import (
	"slices"
	"time"

	"seamwright/services/calc/plan"
	"seamwright/services/calc/spec"
	"seamwright/services/floor"
)

// soft is the weight, of the job's, by which a load without a promise is
// wanted soon.
const soft = 0.01

// addLoads puts in every load of an open job that is not done.
func (b *builder) addLoads() {
	var ls []*floor.Load
	for _, id := range b.f.Loads() {
		l := b.f.Load(id)
		_, inside := b.in[id]
		j := b.f.Job(l.RO)
		if j == nil || !inside && (!l.Sprayed.IsZero() || j.State != floor.JobOpen || b.f.Booth(l.Booth) == nil) {
			continue
		}
		ls = append(ls, l)
	}
	for _, l := range ls {
		b.addLoad(l)
	}
	for i, l := range ls {
		b.follow(i, ls)
		if !b.d.Loads[i].Begun {
			b.ready(i, l, ls)
		}
	}
	b.freeze(ls)
	b.lag()
}

func (b *builder) addLoad(l *floor.Load) {
	j := b.f.Job(l.RO)
	o := Load{
		ID: l.ID, RO: l.RO, Vehicle: j.Vehicle, Colour: l.Colour, Booth: l.Booth, Start: l.Start, Keep: l.Keep, told: l.Told,
		Due: j.Promised, Weight: j.Weight,
	}
	_, o.Begun = b.in[l.ID]
	for _, p := range b.f.Permits() {
		o.Permitted = o.Permitted || p.Load == l.ID && p.Booth == l.Booth
	}
	if !o.Begun && !o.Permitted {
		o.lost, o.lostAt = b.f.Revoked(l.Booth, l.ID)
	}
	booths, process := b.mayTake(l)
	p := plan.Load{
		ID: string(l.ID), Booths: booths, Colour: colour(l.Colour), Process: process, Due: j.Promised,
		Weight: j.Weight, Tail: upMinutes(j.AfterBooth), MissCost: j.Weight * b.d.house.MissMin, Wait: b.d.house.Wait * nearness(b.at, j.Promised),
	}
	if p.Due.IsZero() {
		p.Due, p.Weight = b.d.Problem.Start, j.Weight*soft
	}
	b.d.Loads, b.d.Problem.Loads = append(b.d.Loads, o), append(b.d.Problem.Loads, p)
}

// nearness is how much the wait of a load counts, from a half to twice: the
// nearer its promise, the less can still come between. A day away it counts
// once, without a promise a half.
func nearness(at, promised time.Time) float64 {
	if promised.IsZero() {
		return 0.5
	}
	return min(2, max(0.5, 24/max(1, promised.Sub(at).Hours())))
}

// mayTake lists the booths that may take a load, and how long the slowest of
// them needs: the one that it stands in; else its own, where it stands now, those that were named beside it,
// and those that say that they take its first coat and know its colour.
func (b *builder) mayTake(l *floor.Load) (out []string, process time.Duration) {
	if at, inside := b.in[l.ID]; inside {
		return []string{string(at)}, b.process(l, at)
	}
	here := b.broughtIn(l)
	for _, id := range b.f.Booths() {
		may := id == l.Booth
		if l.Keep == floor.KeepNothing && !here {
			may = may || id == l.Told || slices.Contains(l.Also, id) || b.takes(b.f.Booth(id), l)
		}
		if may {
			out, process = append(out, string(id)), max(process, b.process(l, id))
		}
	}
	return out, process
}

// broughtIn reports whether what is to be sprayed stands in its booth already:
// it is not sent to another one.
func (b *builder) broughtIn(l *floor.Load) bool {
	t := b.f.Booth(l.Booth)
	if t == nil || slices.Contains(b.f.Bays(), t.Zone) {
		return false
	}
	return slices.ContainsFunc(l.Seams, func(id floor.SeamID) bool {
		s := b.f.Seam(id)
		return s != nil && b.f.Zone(s) == t.Zone
	})
}

func (b *builder) takes(t *floor.Booth, l *floor.Load) bool {
	return spec.Known(b.coat(l), t.Coats) && (len(t.Setups) == 0 || t.Knows(l.Colour))
}

func (b *builder) process(l *floor.Load, in floor.BoothID) time.Duration {
	there := *l
	there.Booth = in
	if p := upMinutes(b.f.Process(&there)); p > 0 {
		return p
	}
	return b.d.house.Process
}

// coat is what a load is sprayed with first.
func (b *builder) coat(l *floor.Load) spec.Coat {
	if l.Coat != "" {
		return l.Coat
	}
	return b.firstCoat(l.RO)
}

func (b *builder) firstCoat(ro floor.RO) spec.Coat {
	if j := b.f.Job(ro); j != nil && len(j.Coats) > 0 {
		return j.Coats[0]
	}
	return ""
}

// follow notes the loads of the same car that must go before one: those with
// the car's first coat over some of the same seams. Their work counts for the
// promise.
func (b *builder) follow(i int, ls []*floor.Load) {
	l := ls[i]
	for k, o := range ls {
		if k != i && b.first(o, l) {
			b.d.Loads[i].after = append(b.d.Loads[i].after, k)
			b.d.Problem.Loads[k].Tail += b.d.Problem.Loads[i].Process
		}
	}
}

// first reports whether o brings the first coat over a seam of l's. Where both
// are told to, the one that stands earlier does: a seam is laid once.
func (b *builder) first(o, l *floor.Load) bool {
	if o.RO != l.RO || b.coat(o) != b.firstCoat(o.RO) || !slices.ContainsFunc(o.Seams, func(s floor.SeamID) bool { return slices.Contains(l.Seams, s) }) {
		return false
	}
	return b.coat(l) != b.coat(o) || !o.Start.IsZero() && o.Start.Before(l.Start)
}

// lag begins with what each load that follows others must wait for at least.
func (b *builder) lag() {
	p := &b.d.Problem
	for range 3 { // a car goes through no more
		for i := range b.d.Loads {
			for _, k := range b.d.Loads[i].after {
				end := latest(p.Start, p.Loads[k].Release).Add(p.Loads[k].Process)
				if z := p.Loads[k].Frozen; z != nil {
					end = z.Start.Add(p.Loads[k].Process)
				}
				p.Loads[i].Release = latest(p.Loads[i].Release, end)
			}
		}
	}
}

// freeze keeps the loads that have begun, whose permit runs, or whose place
// somebody has given. Where two of them meet, the one that begun, then the one
// with the permit, then the earlier one stands; the other keeps its booth and
// is planned from its start on.
func (b *builder) freeze(ls []*floor.Load) {
	type place struct {
		from, to time.Time
		booth    string
	}
	var taken []place
	put := func(i int, id floor.BoothID, from time.Time) {
		p := &b.d.Problem.Loads[i]
		to := from.Add(p.Process)
		p.Booths = []string{string(id)}
		for _, t := range taken {
			if t.booth == string(id) && from.Before(t.to) && t.from.Before(to) {
				p.Release = latest(p.Release, from)
				return
			}
		}
		taken, p.Frozen = append(taken, place{from, to, string(id)}), &plan.Frozen{Booth: string(id), Start: from}
	}
	start := b.d.Problem.Start
	for i, l := range ls {
		if id, inside := b.in[l.ID]; inside {
			from := downTo(l.Sprayed)
			end := latest(from.Add(b.d.Problem.Loads[i].Process), upTo(b.f.Booth(id).PhaseEnds), start)
			b.d.Problem.Loads[i].Process = min(latest(end, from.Add(time.Minute)).Sub(from), plan.MaxMinutes*time.Minute)
			put(i, id, from)
		}
	}
	for i, l := range ls {
		if o := &b.d.Loads[i]; o.Permitted && !o.Begun {
			put(i, l.Booth, start)
		}
	}
	var kept []int
	for i, l := range ls {
		o := &b.d.Loads[i]
		if o.Begun || o.Permitted || l.Keep != floor.KeepStart {
			continue
		}
		if l.Start.Before(start) || b.f.Booth(l.Booth).Fault != "" {
			b.d.Problem.Loads[i].Booths = []string{string(l.Booth)}
			continue // its start has gone by, or cannot be kept
		}
		kept = append(kept, i)
	}
	slices.SortStableFunc(kept, func(x, y int) int { return ls[x].Start.Compare(ls[y].Start) })
	for _, i := range kept {
		put(i, ls[i].Booth, downTo(ls[i].Start))
		if b.d.Problem.Loads[i].Frozen == nil {
			b.d.Loads[i].Taken = ls[i].Start
		}
	}
}
