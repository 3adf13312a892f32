package sim

import "time"

// Limits are asked for on the dot: at the very moment that is still inside,
// and a second later. What is due there follows from the shop's contract, no
// sums are near. A shop that is looked at all the time leaves it out.

// sharp reports whether limits are asked for on the dot.
func (s *sim) sharp() bool { return s.opt.Habits.Ease > 0 }

// either asks for leave whatever the answer will be, and gives a permit back.
func (s *sim) either(l *load) {
	s.breathe()
	if s.expect(l, false).sure && s.ask(l, false) != nil {
		s.giveBack(l.booth)
	}
}

// lastCall asks for leave to spray a load whose first coat ends with the
// booth's hours, and a second later.
func (s *sim) lastCall(p *proc, b *booth) {
	for s.sharp() {
		at := s.hours.on(s.hours.next(s.now.Add(time.Minute), 0, b.opens, b.closes), 0, b.closes).Add(-b.firstCoat)
		if !at.After(s.now) {
			at = s.hours.on(s.hours.next(s.hours.on(s.now, 1, 0), 0, b.opens, b.closes), 0, b.closes).Add(-b.firstCoat)
		}
		p.until(at)
		if len(s.waiting(b)) == 0 || b.permit != nil && !b.permit.ended {
			continue
		}
		l := s.waiting(b)[0]
		s.either(l)
		p.wait(time.Second)
		s.either(l)
	}
}

// justStale asks for leave when the newest reading of a zone whose probe is
// silent is as old as it may be, and a second later.
func (s *sim) justStale(p *proc, z *air) {
	r, ok := z.last()
	if !s.sharp() || !ok || s.now.After(r.at.Add(z.stale)) {
		return
	}
	p.until(r.at.Add(z.stale))
	for range 2 {
		if last, _ := z.last(); last.at.Equal(r.at) && !s.permitRuns() {
			for _, l := range s.loadsIn(z.zone) {
				s.either(l)
			}
		}
		p.wait(time.Second)
	}
}
