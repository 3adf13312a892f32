package sim

import (
	"math"
	"slices"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
)

const (
	looking   = 2 * time.Minute // how often a painter with nothing to spray looks at the list
	rollingIn = 4 * time.Minute // about how long it takes to roll a car in and to ask for leave
)

// paintBy is a painter who follows a policy.
func (s *sim) paintBy(p *proc, b *booth) {
	for {
		p.until(s.hours.next(s.now, 0, b.opens, b.closes))
		if b.fault != "" || b.loaded != nil {
			p.wait(looking)
			continue
		}
		s.throw("painter of ", b.id, s.now.Unix())
		s.breathe()
		pick, clear := s.pick(b)
		from := s.now
		switch {
		case pick != nil:
			s.recolour(p, pick)
			s.spray(p, pick)
			s.use(b, from)
		case s.ahead(p, b):
			s.use(b, from)
		default:
			p.wait(looking)
			if clear {
				s.stood(b, from)
			}
		}
	}
}

// pick is the load that a painter sprays now, nil if there is none: the first
// on the list that is clear and that is out again before the booth closes.
// What is passed over is looked after. Clear says that some load could be
// sprayed as far as the gate goes.
func (s *sim) pick(b *booth) (pick *load, clear bool) {
	if slices.ContainsFunc(s.waiting(b), func(l *load) bool { return l.job.sealed }) {
		s.readPlan(true)
	}
	for _, l := range s.waiting(b) {
		if !l.job.sealed {
			continue
		}
		v := s.expect(l, false)
		switch ready := v.clear() && l.job.hands == 0; {
		case !ready:
			s.early(l, v)
		case s.fits(l):
			if !s.keptFree(b, l) {
				pick = l
			}
			return pick, true
		default:
			clear = true
		}
	}
	return nil, clear
}

// fits reports whether a load that is begun now leaves the booth before it
// closes.
func (s *sim) fits(l *load) bool {
	return s.hours.in(s.now, s.change(l)+s.occupies(l), l.booth.opens, l.booth.closes)
}

// change is how long the booth is set up for a load.
func (s *sim) change(l *load) time.Duration {
	if l.booth.setFor == l && l.booth.gun == l.colour {
		return 0
	}
	return l.booth.setup(l.booth.gun, l.colour)
}

// setup is the time from one colour to another, none where nothing is known.
func (b *booth) setup(from, to string) time.Duration {
	for _, u := range b.def.GetSetups() {
		if u.GetFrom() == from && u.GetTo() == to {
			return ofMinutes(u.GetMinutes())
		}
	}
	return 0
}

// occupies is about how long a load is in its booth.
func (s *sim) occupies(l *load) time.Duration {
	return booked(l.first, len(s.sprayedHere(l)), l.booth.bakes())
}

// booked is how long a car is in a booth, from rolling it in to the end of
// cooling.
func booked(first time.Duration, coats int, bakes bool) time.Duration {
	d := rollingIn + first + flashOff + time.Duration(max(coats-1, 0))*secondly + cooling
	if bakes {
		d += baking
	}
	return d
}

// book says in a load how long it takes, so that whoever plans reckons with
// what the painter does.
func (s *sim) book(l *boothv1.LoadPlanned, b *booth, j *job) {
	if s.opt.Policy == "" {
		return
	}
	first, coats := b.firstCoat, len(j.def.GetCoats())
	if l.GetFirstCoatMin() > 0 {
		first = ofMinutes(l.GetFirstCoatMin())
	}
	switch {
	case !b.bakes():
		coats = 1
	case len(j.loads) > 0:
		coats--
	}
	l.ProcessMin = math.Ceil(booked(first, coats, b.bakes()).Minutes())
}

// recolour sets the booth up for a load.
func (s *sim) recolour(p *proc, l *load) {
	b, from := l.booth, s.now
	d := s.change(l)
	if s.score != nil && b.bakes() && b.gun != l.colour && b.gun != "" {
		s.score.Changes++
	}
	b.gun, b.setFor = l.colour, l
	if d > 0 {
		s.tell(painter, boothScreen, live, &boothv1.BoothPhaseChanged{
			BoothId: b.id, Phase: boothv1.Phase_PHASE_PREPARING, Colour: l.colour, Expected: durationpb.New(d),
		})
		b.phase = boothv1.Phase_PHASE_PREPARING
	}
	p.wait(d)
	if s.score != nil && b.bakes() {
		s.score.SetupsMin += s.now.Sub(from).Minutes()
	}
}

// ahead lets a painter who can spray nothing now change the colour for what
// comes next on the list, so that the booth waits for the car and not the car
// for the booth.
func (s *sim) ahead(p *proc, b *booth) bool {
	for _, l := range s.waiting(b) {
		if !l.job.sealed && s.opt.Policy != Planned {
			continue // it is not on the board yet
		}
		if b.gun == l.colour || !s.setUpNow(b, l) {
			return false
		}
		s.recolour(p, l)
		return true
	}
	return false
}

// scuffing is how long it takes to scuff the beads of a load (common practice,
// no source).
func scuffing(l *load) time.Duration {
	return 5*time.Minute + time.Duration(len(l.covers()))*3*time.Minute
}

// toScuff sends for somebody who scuffs the beads of a load whose window has
// closed: a job for the bay's technician, like any other.
func (s *sim) toScuff(l *load) {
	switch {
	case s.opt.Policy == "":
		s.scuff(l)
		return
	case l.scuffs:
		return
	}
	l.scuffs = true
	l.job.hands++
	s.missedWindow()
	s.spawn("scuff "+l.id, s.now, func(p *proc) {
		p.job = l.job
		t := s.techs[l.job.bay]
		s.take(p, t, scuffing(l))
		p.wait(scuffing(l))
		s.scuff(l)
		t.busy, l.scuffs = false, false
		l.job.hands--
	})
}

// worthScuffing is the part of its window that a bead must have behind it to be
// scuffed with the others. Who scuffs one bead of a car scuffs all those whose
// window has less left than scuffing gives, or they will be next.
func (s *sim) worthScuffing() float64 {
	if s.opt.Policy == "" {
		return 0.9
	}
	return 0.55
}

// scuffNow is the same with the car in the booth.
func (s *sim) scuffNow(p *proc, l *load) {
	if s.opt.Policy != "" && l.booth.bakes() {
		s.missedWindow()
		p.wait(scuffing(l))
	}
	s.scuffInBooth(l)
}
