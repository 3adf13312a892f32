package sim

import (
	"cmp"
	"slices"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
)

// doubt is how near to a limit, as a part of it, the account does not say on
// which side the shop must be: its steps are coarser than the shop's sums.
const doubt = 0.02

// hearFor is how long a bay's terminal may be silent.
const hearFor = 5 * time.Minute

// verdict is what is due when leave is asked for.
type verdict struct {
	holds []hold
	sure  bool // no limit is near
}

func (v verdict) clear() bool { return v.sure && len(v.holds) == 0 }

// lists reports whether a reason is among the holds.
func (v verdict) lists(name string) bool {
	return slices.ContainsFunc(v.holds, func(h hold) bool { return h.name == name })
}

// expect says what is due if leave to spray a load were asked for now.
func (s *sim) expect(l *load, untouched bool) verdict {
	v := &verdict{sure: true}
	b := l.booth
	end := s.now.Add(l.first)
	add := func(name, subject string) { v.holds = append(v.holds, hold{name, subject}) }
	if s.trouble != nil {
		v.holds = append(v.holds, *s.trouble)
	}
	if s.doubted {
		add("journal-unhealthy", "journal")
	}
	if l.sprayed {
		add("load-sprayed", "load/"+l.id)
	}
	if l.job.delivered {
		add("job-ended", "job/"+l.job.ro)
	}
	if b.fault != "" {
		add("booth-faulted", "booth/"+b.id)
	}
	switch {
	case b.loaded != nil && b.loaded != l,
		b.loaded == nil && b.phase != boothv1.Phase_PHASE_IDLE && b.phase != boothv1.Phase_PHASE_PREPARING && b.phase != boothv1.Phase_PHASE_UNSPECIFIED:
		add("booth-busy", "booth/"+b.id)
	}
	if !b.openFor(s.now, end) {
		add("booth-closed", "booth/"+b.id)
	}
	if b.permit != nil && !b.permit.ended && !s.now.After(b.permit.startBy) {
		add("permit-running", "booth/"+b.id)
	}
	s.airHolds(s.airs[b.zone], v)
	for _, m := range l.covers() {
		s.seamHolds(l, m, end, v)
	}
	if !untouched {
		s.silenceHolds(l, v)
	}
	slices.SortFunc(v.holds, func(x, y hold) int { return cmp.Or(cmp.Compare(x.name, y.name), cmp.Compare(x.subject, y.subject)) })
	v.holds = slices.Compact(v.holds)
	return *v
}

// silenceHolds wants a sign of life of the bay that the job was worked in; a
// job that nobody has seen in a bay has none that could give it.
func (s *sim) silenceHolds(l *load, v *verdict) {
	t := s.listens(l.job)
	if t == "" {
		v.holds = append(v.holds, hold{"terminal-silent", "job/" + l.job.ro})
		return
	}
	silent := s.now.Sub(s.heard[t])
	if silent > hearFor {
		v.holds = append(v.holds, hold{"terminal-silent", "terminal/" + t})
	}
	if !s.sharp() && silent > hearFor-10*time.Second && silent < hearFor+10*time.Second {
		v.sure = false
	}
}

// openFor reports whether the booth may be used all the time between two
// moments.
func (b *booth) openFor(from, to time.Time) bool {
	for _, o := range b.def.GetOpen() {
		if !from.Before(o.GetFrom().AsTime()) && !to.After(o.GetTo().AsTime()) {
			return true
		}
	}
	return len(b.def.GetOpen()) == 0
}

// covers are the seams that a load's first coat goes over: those it names and
// every other coated one on the same panels that bears no coat yet.
func (l *load) covers() []*seam {
	panels := map[string]bool{}
	for _, m := range l.seams {
		panels[m.def.GetPanel()] = true
	}
	var out []*seam
	for _, m := range l.job.seams {
		if !m.exposed() && (slices.Contains(l.seams, m) || panels[m.def.GetPanel()] && !m.coated) {
			out = append(out, m)
		}
	}
	return out
}

// airHolds: readings must be fresh and plausible.
func (s *sim) airHolds(z *air, v *verdict) {
	r, ok := z.last()
	subject := "zone/" + z.zone
	switch {
	case !ok:
		v.holds = append(v.holds, hold{"no-reading", subject})
	case !z.fresh(s.now):
		v.holds = append(v.holds, hold{"reading-stale", subject})
	case r.jump:
		v.holds = append(v.holds, hold{"reading-implausible", subject})
	}
}

// seamHolds: laid with all layers, nothing that stops, its window surely open
// and surely not closed up to the end of the first coat.
func (s *sim) seamHolds(l *load, m *seam, end time.Time, v *verdict) {
	add := func(name string) { v.holds = append(v.holds, hold{name, m.subject()}) }
	if s.acc.openOf(m.subject(), stop) > 0 {
		add("open-stop")
	}
	switch {
	case m.coated:
		return
	case m.bead == nil:
		add("not-laid")
		return
	case !m.bead.complete():
		add("layer-missing")
		return
	}
	for _, z := range m.job.course.zones(s.now) {
		s.airHolds(z, v)
	}
	coat := l.coat
	if coat == floorv1.Coat_COAT_UNSPECIFIED {
		coat = m.job.coat()
	}
	opens, needed, ok := m.bead.age(floorv1.Clock_CLOCK_COAT_OPENS, coat, s.now)
	closes, within, ok2 := m.bead.age(floorv1.Clock_CLOCK_COAT_CLOSES, coat, s.now)
	if !ok || !ok2 {
		add("coat-unknown")
		return
	}
	tol := m.bead.product.tol
	if needed > 0 {
		if opens.cold < needed*(1+tol) {
			add("coat-not-open")
		}
		v.unsure(opens.cold, needed*(1+tol))
	}
	limit := within * (1 - tol)
	known := m.bead.settled(coat, s.now)
	until := closes.hot + s.inBoothAge(l, m, end)
	switch {
	case known >= limit:
		add("coat-closed")
	case closes.hot >= limit || until >= limit:
		add("coat-may-close")
	}
	v.unsure(known, limit)
	v.unsure(until, limit)
}

// inBoothAge is how far a window may close from now until a moment, with the
// panel in the booth or still where it is.
func (s *sim) inBoothAge(l *load, m *seam, end time.Time) float64 {
	zones := with(m.job.course.zones(s.now), []*air{s.airs[l.booth.zone]})
	law := m.bead.product.law
	var sum ages
	bs := m.job.course.breaks(s.now, end, m.heats) // heat that ends within a step is most of it
	for i := 1; i < len(bs); i++ {
		sum = sum.plus(stepped(zones[0].step, bs[i-1], bs[i], func(at time.Time) ages {
			set := zones[0].edges(at)
			for _, z := range zones[1:] {
				set = set.hull(z.edges(at))
			}
			set = warmed(set, m.heats, at)
			return ages{0, law.hot(set.hi)}
		}))
	}
	return sum.hot
}

// staysOpen reports whether the windows of a load stay open for a while
// longer than its first coat, without doubt.
func (s *sim) staysOpen(l *load, longer time.Duration) bool {
	for _, m := range l.covers() {
		if m.coated || m.bead == nil {
			continue
		}
		a, within, ok := m.bead.age(floorv1.Clock_CLOCK_COAT_CLOSES, s.coatOf(l), s.now)
		if !ok || a.hot+s.inBoothAge(l, m, s.now.Add(l.first+longer)) > within*(1-m.bead.product.tol)*(1-2*doubt) {
			return false
		}
	}
	return true
}

// listens is the terminal that must have been heard for a job: the one that
// it was last worked at, else that of the bay it was last in.
func (s *sim) listens(j *job) string {
	if j.tablet != "" {
		return j.tablet
	}
	for i := len(j.course.moves) - 1; i >= 0; i-- {
		if t := s.techs[j.course.moves[i].zone.zone]; t != nil {
			return t.terminal
		}
	}
	return ""
}

// unsure notes that a value lies too near to its limit to say.
func (v *verdict) unsure(x, limit float64) {
	if x > limit*(1-doubt) && x < limit*(1+doubt) {
		v.sure = false
	}
}
