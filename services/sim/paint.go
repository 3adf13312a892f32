package sim

import (
	"slices"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

// How long a load is in the booth after its first coat.
const (
	flashOff = 10 * time.Minute
	secondly = 12 * time.Minute
	baking   = 30 * time.Minute
	cooling  = 8 * time.Minute
	longest  = 2 * time.Hour // a load with its setup
)

// paint is a painter at one booth: loads in the order of their promises, each
// as soon as the account says that it is clear.
func (s *sim) paint(p *proc, b *booth) {
	if s.opt.Policy != "" {
		s.paintBy(p, b)
		return
	}
	for {
		p.until(s.hours.next(s.now.Add(s.opt.Habits.round(4*time.Minute)), longest, b.opens, b.closes))
		if b.fault != "" || b.loaded != nil {
			continue
		}
		s.breathe()
		var pick *load
		for _, l := range s.waiting(b) {
			v := s.expect(l, false)
			if v.clear() && l.job.sealed && l.job.hands == 0 && !l.missed() {
				pick = l
				break
			}
			s.early(l, v)
		}
		if pick != nil {
			s.spray(p, pick)
		}
	}
}

// waiting are a booth's loads that are not sprayed, earliest promised first.
func (s *sim) waiting(b *booth) []*load {
	var out []*load
	for _, j := range s.inShop {
		for _, l := range j.loads {
			if l.booth == b && !l.sprayed && l.job.bay != "" && l.job.at == s.airs[l.job.bay] && (l.after == nil || l.after.done) {
				out = append(out, l)
			}
		}
	}
	slices.SortStableFunc(out, s.before)
	return out
}

// early asks for leave now and then while a load is held, sends for a scuff
// when its window has closed, and gives a silent bay the painter's word.
func (s *sim) early(l *load, v verdict) {
	switch {
	case !v.sure:
	case v.lists("coat-closed") || v.lists("coat-may-close"):
		if l.job.late {
			l.job.late = false
			s.planted("window-missed", l.id)
		}
		if l.asked < 40 {
			s.probe(l)
		}
		s.toScuff(l)
	case l.asked < 3 || s.chance.Float64() < 0.08:
		s.probe(l)
	}
}

// scuff opens closed windows again, by the technician if the bay is at work,
// else by the painter.
func (s *sim) scuff(l *load) {
	t := s.techs[l.job.bay]
	if l.job.at != s.airs[t.zone] {
		return
	}
	for _, m := range l.covers() {
		if m.bead == nil || m.coated || !m.bead.complete() {
			continue
		}
		a, within, ok := m.bead.age(floorv1.Clock_CLOCK_COAT_CLOSES, s.coatOf(l), s.now.Add(l.first))
		if !ok || a.hot < within*(1-m.bead.product.tol)*s.worthScuffing() {
			continue
		}
		seq := s.tell(t.person, t.terminal, live, &jobsv1.SeamScuffed{SeamId: m.id})
		s.scuffedOne()
		m.bead.scuff(seq, s.now)
		s.beads[beadKey{m.id, seq}] = m.bead
		s.changes[m]++
		l.job.tablet = t.terminal
	}
}

// missed reports whether a load is left standing until its window has closed.
func (l *load) missed() bool { return l.job.late && l == l.job.loads[0] }

// sprayedHere are the coats that a load gets in its booth.
func (s *sim) sprayedHere(l *load) []floorv1.Coat {
	all := l.job.def.GetCoats()
	switch {
	case !l.booth.bakes():
		return []floorv1.Coat{s.coatOf(l)}
	case l.after != nil && len(all) > 1:
		return all[1:]
	}
	return all
}

func (s *sim) coatOf(l *load) floorv1.Coat {
	if l.coat != floorv1.Coat_COAT_UNSPECIFIED {
		return l.coat
	}
	return l.job.coat()
}

// spray takes a load through the booth.
func (s *sim) spray(p *proc, l *load) {
	b, j := l.booth, l.job
	s.throw("spray ", l.id)
	s.phase(b, boothv1.Phase_PHASE_PREPARING, 5*time.Minute)
	s.moveCar(j, b.zone, boothScreen)
	p.wait(s.minutes(2, 4))
	if j.has("silent-terminal") {
		s.silence(p, l)
	}
	without := j.has("no-permit")
	var perm *permit
	if !without {
		if perm = s.leave(p, l); perm == nil {
			s.rollOut(p, l)
			return
		}
		if s.upset(p, l) {
			s.rollOut(p, l)
			return
		}
		perm = b.permit // another one, if the first was not used
		p.until(earlier(s.now.Add(s.minutes(0.2, 0.8)), later(s.now, perm.startBy)))
		if s.sharp() {
			s.catchUp()
		}
		if perm.ended {
			s.rollOut(p, l) // nobody sprays on a permit that was taken back
			return
		}
	}
	s.start(p, l, perm)
	s.coats(p, l)
	s.phase(b, boothv1.Phase_PHASE_COOLING, cooling)
	delete(s.weather.goal, b.zone)
	p.wait(cooling)
	s.tell(painter, boothScreen, live, &boothv1.LoadFinished{BoothId: b.id, LoadId: l.id})
	b.loaded, b.phase = nil, boothv1.Phase_PHASE_IDLE
	l.done, l.out = true, s.now
	s.moveCar(j, j.bay, boothScreen)
}

func earlier(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// leave asks until there is a permit, as long as time alone is in the way.
func (s *sim) leave(p *proc, l *load) *permit {
	for range 12 {
		s.breathe()
		s.settle()
		v := s.expect(l, false)
		silent := v.lists("terminal-silent") && len(v.holds) == 1 // nothing else is in the way of a painter who looks himself
		if !v.sure || !s.steady(l) || s.sharp() && (silent || v.clear()) && !s.staysOpen(l, 3*time.Minute) {
			p.wait(time.Minute)
			continue
		}
		perm := s.ask(l, false)
		switch {
		case perm != nil:
			return perm
		case silent:
			s.planted("silent-terminal", l.id)
			return s.ask(l, true)
		case v.lists("coat-may-close"):
			s.scuffNow(p, l)
		}
		p.wait(2 * time.Minute)
	}
	return nil
}

// steady reports whether no ground is about to fall away by itself: no probe
// that counts is silent and yet fresh, no terminal muted and yet heard.
func (s *sim) steady(l *load) bool {
	zones := append([]*air{s.airs[l.booth.zone]}, l.job.course.zones(s.now)...)
	for _, z := range zones {
		if s.dead[z.zone] && z.fresh(s.now) {
			return false
		}
	}
	t := s.listens(l.job)
	silent := s.now.Sub(s.heard[t])
	return t == "" || silent < 150*time.Second || silent > hearFor+15*time.Second
}

// scuffInBooth is the same with the car rolled in: the painter scuffs.
func (s *sim) scuffInBooth(l *load) {
	if !l.booth.bakes() {
		return // no terminal stands at the prep station
	}
	for _, m := range l.covers() {
		if m.bead != nil && !m.coated && m.bead.complete() {
			seq := s.tell(painter, boothScreen, live, &jobsv1.SeamScuffed{SeamId: m.id})
			s.scuffedOne()
			m.bead.scuff(seq, s.now)
			s.beads[beadKey{m.id, seq}] = m.bead
			s.changes[m]++
			l.job.tablet = boothScreen
		}
	}
}

// rollOut takes a car back to its bay unsprayed.
func (s *sim) rollOut(p *proc, l *load) {
	s.rolledOut()
	s.giveBack(l.booth)
	s.phase(l.booth, boothv1.Phase_PHASE_IDLE, 0)
	p.wait(time.Minute)
	s.moveCar(l.job, l.job.bay, boothScreen)
}

func (s *sim) phase(b *booth, ph boothv1.Phase, expected time.Duration) {
	s.tell(painter, boothScreen, live, &boothv1.BoothPhaseChanged{BoothId: b.id, Phase: ph, Expected: durationpb.New(expected)})
	b.phase = ph
}

// start tells that the first coat has begun. Without a permit it stops.
func (s *sim) start(p *proc, l *load, perm *permit) {
	body := &boothv1.SprayStarted{BoothId: l.booth.id, LoadId: l.id}
	var found []due
	if perm == nil {
		s.planted("no-permit", l.id)
		found = append(found, due{rule: "sprayed-without-permit", subject: "load/" + l.id, severity: stop})
	} else {
		body.PermitId = perm.id
	}
	s.tell(painter, boothScreen, live, body, found...)
	l.sprayed, l.booth.loaded, l.booth.phase, l.booth.colour = true, l, boothv1.Phase_PHASE_SPRAYING, l.colour
	s.rep.Sprayed++
	if l.booth.bakes() {
		s.heat(l.booth.zone, sprayC)
	}
	s.catchUp()
	p.wait(l.first)
}

// coats sprays the coats that belong to the booth and bakes.
func (s *sim) coats(p *proc, l *load) {
	for i, c := range s.sprayedHere(l) {
		if i == 0 {
			s.coat(l, c, l.first)
			s.phase(l.booth, boothv1.Phase_PHASE_FLASH_OFF, flashOff)
			p.wait(flashOff)
			continue
		}
		p.wait(secondly)
		s.coat(l, c, secondly)
	}
	if !l.booth.bakes() {
		return
	}
	s.heat(l.booth.zone, bakeC)
	s.phase(l.booth, boothv1.Phase_PHASE_BAKING, baking)
	p.wait(baking)
}

// coat tells a coat over the seams of a load. The first one over a bead must
// have begun inside its window.
func (s *sim) coat(l *load, c floorv1.Coat, lasted time.Duration) {
	b := &jobsv1.CoatApplied{Layer: &jobsv1.CoatApplied_Over{Over: c}, Product: word(c), Lasted: durationpb.New(lasted), LoadId: l.id}
	var found []due
	for _, m := range l.covers() {
		b.SeamIds = append(b.SeamIds, m.id)
		if !m.coated {
			found = append(found, s.coatDue(m, c, s.now.Add(-lasted))...)
		}
		m.coated = true
	}
	s.tell(painter, boothScreen, live, b, found...)
}

func (s *sim) coatDue(m *seam, c floorv1.Coat, began time.Time) []due {
	if m.bead == nil {
		return []due{{rule: "stage-misfit", subject: m.subject(), severity: query}}
	}
	var out []due
	tol := m.bead.product.tol
	if a, needed, ok := m.bead.age(floorv1.Clock_CLOCK_COAT_OPENS, c, began); ok && needed > 0 && a.cold < needed*(1+tol) {
		out = append(out, due{rule: "coat-before-open", subject: m.subject(), severity: stop})
	}
	if a, within, ok := m.bead.age(floorv1.Clock_CLOCK_COAT_CLOSES, c, began); ok && a.hot >= within*(1-tol) {
		out = append(out, due{rule: "coat-after-close", subject: m.subject(), severity: stop})
	}
	return out
}
