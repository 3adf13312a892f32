package sim

import (
	"fmt"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

// upset lets something happen between a permit and its spraying; true: the
// load is not sprayed now.
func (s *sim) upset(p *proc, l *load) bool {
	j, b := l.job, l.booth
	switch {
	case j.has("second-permit"):
		s.planted("second-permit", l.id)
		for _, o := range s.waiting(b) {
			if o != l {
				s.probe(o)
				break
			}
		}
		s.probe(l)
		return false
	case j.has("unused-permit"):
		s.planted("unused-permit", l.id)
		p.wait(s.minutes(0.3, 0.6))
		s.giveBack(b)
		return s.leave(p, l) == nil
	case s.staysOpen(l, 12*time.Minute) && j.has("expired-permit"):
		if s.sharp() && s.chance.IntN(2) == 0 {
			s.planted("last-moment-permit", l.id)
			p.until(b.permit.startBy)
			return false
		}
		s.planted("expired-permit", l.id)
		return s.outlast(p, l)
	case j.has("rework-after-permit"):
		return s.touched(p, l)
	case j.has("booth-fault"):
		return s.breakdown(p, l)
	case s.doubter() != nil && s.permits() == 1 && j.has("store-doubt"):
		return s.inDoubt(p, l)
	}
	did, held := s.groundUpset(p, l)
	if !did {
		_, held = s.machineUpset(p, l)
	}
	return held
}

// doubter is the inspector if it can put the store in doubt, else nil.
func (s *sim) doubter() Doubter {
	d, _ := s.opt.Inspect.(Doubter)
	return d
}

// inDoubt: the store can no longer be trusted while a permit runs, and is
// mended.
func (s *sim) inDoubt(p *proc, l *load) bool {
	s.planted("store-doubt", l.id)
	s.doubted = true
	s.doubter().Doubt(true)
	s.mustRevoke(l.booth, "journal-unhealthy journal")
	s.probe(l)
	p.wait(s.minutes(2, 5))
	s.doubter().Doubt(false)
	s.doubted = false
	s.decidesAgain(p, l.booth)
	return s.leave(p, l) == nil
}

// outlast lets a permit run out: it is taken back, and nobody renews it but
// who asks again.
func (s *sim) outlast(p *proc, l *load) bool {
	s.runOut(p, l.booth.permit)
	p.wait(2 * time.Minute)
	s.catchUp()
	return s.leave(p, l) == nil
}

// runOut waits until a permit has run out.
func (s *sim) runOut(p *proc, perm *permit) {
	perm.lapsing = "permit-expired"
	for !perm.ended && s.err == nil && s.now.Sub(perm.issued) <= longestLease+time.Minute {
		p.wait(30 * time.Second)
		s.catchUp()
	}
	s.checks.count("I5")
	if !perm.ended {
		s.broken("I5", "permit %s still runs %s after it was issued", perm.id, s.now.Sub(perm.issued))
	}
}

// touched: a bead of the load is damaged while its permit runs. The permit is
// taken back at once and the gate holds until the foreman has decided.
func (s *sim) touched(p *proc, l *load) bool {
	for _, m := range l.covers() {
		if m.bead == nil || m.coated {
			continue
		}
		p.wait(s.minutes(0.2, 0.5))
		s.planted("rework-after-permit", m.id)
		s.tell(painter, boothScreen, live, &jobsv1.BeadDisturbed{SeamId: m.id, How: "the hose was dragged over it"},
			due{rule: "bead-disturbed", subject: m.subject(), severity: stop})
		s.mustRevoke(l.booth, "open-stop seam/"+m.id)
		s.probe(l)
		return true
	}
	return false
}

// breakdown: the booth fails while a permit runs. Once it is mended the gate
// must decide again within half a minute.
func (s *sim) breakdown(p *proc, l *load) bool {
	b := l.booth
	p.wait(s.minutes(0.2, 0.5))
	s.planted("booth-fault", b.id)
	s.tell(painter, boothScreen, live, &boothv1.BoothFaulted{BoothId: b.id, What: "the fan belt slipped"})
	b.fault = "the fan belt slipped"
	s.mustRevoke(b, "booth-faulted booth/"+b.id)
	s.probe(l)
	p.wait(s.minutes(20, 40))
	s.tell(painter, boothScreen, live, &boothv1.BoothReset{BoothId: b.id, What: "belt changed"})
	b.fault = ""
	s.decidesAgain(p, b)
	return s.leave(p, l) == nil
}

// decidesAgain checks that the gate speaks of the present within 30 s after a
// fault has gone.
func (s *sim) decidesAgain(p *proc, b *booth) {
	seq := s.led.last.seq
	p.wait(25 * time.Second)
	if s.err != nil {
		return
	}
	s.checks.count("I16")
	resp, err := s.opt.Booth.GetGate(s.ctx, &boothv1.GetGateRequest{BoothId: b.id})
	if err != nil {
		s.fail(fmt.Errorf("the gate of %s: %w", b.id, err))
		return
	}
	g := resp.GetGate()
	if g.GetSequence() < seq || s.now.Sub(g.GetNow().AsTime()) > 30*time.Second {
		s.broken("I16", "the gate of %s speaks of event %d at %s; the fault had gone at event %d, now is %s",
			b.id, g.GetSequence(), clock(g.GetNow().AsTime()), seq, clock(s.now))
	}
	for _, r := range g.GetReasons() {
		if r.GetName() == "booth-faulted" && b.fault == "" {
			s.broken("I16", "the gate of %s still holds for a fault that has gone", b.id)
		}
	}
}

// silence keeps the terminal of a job's bay quiet until the gate misses it.
func (s *sim) silence(p *proc, l *load) {
	t := s.listens(l.job)
	s.mute[t] = true
	if s.sharp() && !s.heard[t].Add(hearFor).Before(s.now) {
		p.until(s.heard[t].Add(hearFor)) // as silent as it may be, and a second more
		s.either(l)
		p.wait(time.Second)
		s.either(l)
	}
	for range 20 {
		if s.now.Sub(s.heard[t]) > hearFor+20*time.Second {
			break
		}
		p.wait(45 * time.Second)
	}
	s.spawn("terminal "+t, s.now.Add(6*time.Minute), func(*proc) { s.mute[t] = false })
}
