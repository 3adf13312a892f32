package sim

import (
	"fmt"
	"slices"
	"strings"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
)

// longestLease is the longest time that a permit may run: fifteen minutes for
// an override, less for any other.
const longestLease = 15 * time.Minute

// ask asks for leave to spray a load and compares the answer with the
// account. It answers the permit, or nil.
func (s *sim) ask(l *load, untouched bool) *permit {
	if s.err != nil {
		return nil
	}
	s.breathe()
	s.settle()
	s.catchUp() // a bead that was just disturbed ends an override
	want := s.expect(l, untouched)
	if !want.sure || s.err != nil {
		return nil
	}
	st := s.stamp(painter, boothScreen, live)
	s.asks[st.GetCommandId()] = l
	req := &boothv1.RequestPermitRequest{Stamp: st, BoothId: l.booth.id, LoadId: l.id, Untouched: untouched}
	if want.clear() {
		if how := s.stumbles(); how != Sound {
			s.failing(how, "leave for "+l.id, func() error {
				_, err := s.opt.Booth.RequestPermit(s.ctx, req)
				return err
			})
		}
	}
	resp, err := s.opt.Booth.RequestPermit(s.ctx, req)
	if err != nil {
		s.fail(fmt.Errorf("leave to spray %s: %w", l.id, err))
		return nil
	}
	l.asked++
	s.rep.Asked++
	var got []hold
	for _, r := range resp.GetReasons() {
		got = append(got, hold{r.GetName(), r.GetSubject()})
		s.rep.Holds[r.GetName()]++
	}
	for _, id := range []string{"I1", "I2", "I3", "I4", "I5", "account"} {
		s.checks.count(id)
	}
	if resp.GetPermit() == nil && len(got) == 0 {
		s.broken("I1", "load %s got neither a permit nor a reason", l.id)
	}
	s.acc.asked(s, l, want.holds, got)
	if resp.GetPermit() == nil {
		return nil
	}
	s.granted[st.GetCommandId()] = true
	s.hears(boothScreen)
	s.worked[boothScreen] = s.now
	s.catchUp()
	return l.booth.permit
}

// issued takes in a permit as watchers see it.
func (s *sim) issued(e *floorv1.Entry, b *boothv1.PermitIssued) {
	s.rep.Permits++
	t := s.booths[b.GetBoothId()]
	s.checks.count("I5")
	s.checks.count("I6")
	lease := b.GetStartBy().AsTime().Sub(e.GetReceived().AsTime())
	switch {
	case t == nil:
		s.broken("I5", "permit %s is for booth %q, which there is none of", b.GetPermitId(), b.GetBoothId())
		return
	case t.permit != nil && !t.permit.ended:
		s.broken("I5", "permit %s for %s while permit %s for the same booth runs", b.GetPermitId(), b.GetLoadId(), t.permit.id)
	case b.GetPermitId() == "" || b.GetHolder() == "":
		s.broken("I5", "permit %q for %s is held by %q: it has no name", b.GetPermitId(), b.GetLoadId(), b.GetHolder())
	case lease <= 0 || lease > longestLease:
		s.broken("I5", "permit %s runs for %s, 15 min are the most", b.GetPermitId(), lease)
	}
	if l, asked := s.asks[e.GetCommandId()]; !asked || l.id != b.GetLoadId() {
		s.broken("I6", "permit %s for %s, which nobody asked for", b.GetPermitId(), b.GetLoadId())
	}
	delete(s.asks, e.GetCommandId())
	t.permit = &permit{id: b.GetPermitId(), load: b.GetLoadId(), issued: e.GetReceived().AsTime(), startBy: b.GetStartBy().AsTime(), override: b.GetOverride(), over: b.GetOverReasons()}
	s.breathing(t.permit)
}

// revoked takes in a permit that was taken back.
func (s *sim) revoked(e *floorv1.Entry, b *boothv1.PermitRevoked) {
	t := s.booths[b.GetBoothId()]
	s.checks.count("I6")
	if t == nil || t.permit == nil || t.permit.id != b.GetPermitId() || t.permit.ended {
		s.broken("I6", "event %d takes back permit %s, which does not run", e.GetSequence(), b.GetPermitId())
		return
	}
	p := t.permit
	p.ended = true
	names := strings.Join(b.GetReasons(), ", ")
	at := e.GetReceived().AsTime()
	if p.lapsing != "returned" && (s.missed(p, b.GetReasons(), at) || s.unread(p, b.GetReasons(), at) || s.cameUp(p, b.GetReasons())) {
		s.rep.Revocations++
		return
	}
	if p.lapsing == "" {
		s.broken("account", "extra revocation of permit %s for %s: %s", p.id, p.load, names)
		return
	}
	if !slices.ContainsFunc(b.GetReasons(), func(r string) bool { return strings.HasPrefix(r, p.lapsing) }) {
		s.broken("account", "permit %s for %s is taken back for %s, due was %s", p.id, p.load, names, p.lapsing)
	}
	if p.lapsing != "returned" {
		s.rep.Revocations++
	}
}

// cameUp reports whether an override ended for a fact about a seam that was not
// known when it was given: told late, or of a recall.
func (s *sim) cameUp(p *permit, reasons []string) bool {
	l := s.loads[p.load]
	if l == nil || !p.override {
		return false
	}
	return slices.ContainsFunc(s.expect(l, false).holds, func(h hold) bool {
		return (h.name == "open-stop" || h.name == "not-laid" || h.name == "layer-missing") && slices.Contains(reasons, h.String())
	})
}

// mustRevoke checks that a running permit is taken back now, for a reason.
func (s *sim) mustRevoke(b *booth, reason string) {
	p := b.permit
	if s.err != nil || p == nil || p.ended {
		return
	}
	p.lapsing = reason
	s.settle()
	s.catchUp()
	s.checks.count("I6")
	if !p.ended {
		s.broken("I6", "permit %s for %s is not taken back at once, its ground fell away: %s", p.id, p.load, reason)
	}
}

// giveBack returns a permit unused.
func (s *sim) giveBack(b *booth) {
	if s.err != nil || b.permit == nil || b.permit.ended {
		return
	}
	b.permit.lapsing = "returned"
	st := s.stamp(painter, boothScreen, live)
	s.granted[st.GetCommandId()] = true
	if _, err := s.opt.Booth.ReturnPermit(s.ctx, &boothv1.ReturnPermitRequest{Stamp: st, PermitId: b.permit.id}); err != nil {
		s.fail(fmt.Errorf("permit %s given back: %w", b.permit.id, err))
		return
	}
	s.worked[boothScreen] = s.now
	s.catchUp()
	if s.err == nil && !b.permit.ended {
		s.broken("I6", "permit %s was given back and runs on", b.permit.id)
	}
}

// clockKey names one clock of a bead.
func clockKey(seam string, k floorv1.Clock, coat floorv1.Coat, began uint64) string {
	return fmt.Sprintf("%s %s %s %d", seam, word(k), word(coat), began)
}

// ended is a clock that was said to have ended.
type ended struct {
	seam  string
	clock floorv1.Clock
	coat  floorv1.Coat
	began uint64
	due   time.Time
	ready bool // reached; else passed
}

// announced checks that a clock ends once, and not before the account says
// that it can.
func (s *sim) announced(e *floorv1.Entry, c ended) {
	s.rep.Announced++
	s.checks.count("I9")
	key := clockKey(c.seam, c.clock, c.coat, c.began)
	if was, twice := s.watch.said[key]; twice {
		s.broken("I9", "clock %s ended at event %d and again at event %d", key, was, e.GetSequence())
	}
	s.watch.said[key], s.watch.names[e.GetSequence()] = e.GetSequence(), key
	b := s.beads[beadKey{c.seam, c.began}]
	if b == nil {
		s.broken("I9", "clock %s ended at event %d: no such bead was laid", key, e.GetSequence())
		return
	}
	at := e.GetReceived().AsTime()
	a, needed, ok := b.ageOf(c.clock, c.coat, b.scuffs[c.began], at)
	tol := b.product.tol
	switch {
	case !ok:
		s.broken("I9", "clock %s ended at event %d: the product has no such stage", key, e.GetSequence())
	case c.ready && a.cold < needed*(1+tol)*(1-doubt):
		s.broken("I9", "clock %s was said to be ready at %s: %.0f s of %.0f s at the cold end", key, clock(at), a.cold, needed*(1+tol))
	case !c.ready && a.hot < needed*(1-tol)*(1-doubt):
		s.broken("I9", "clock %s was said to be passed at %s: %.0f s of %.0f s at the hot end", key, clock(at), a.hot, needed*(1-tol))
	case !c.ready:
		s.passedAt(key, b, c, needed*(1-tol), at)
	}
}

// passedAt checks the moment at which a clock was said at another one to have
// passed: it is not later than it was. Neither is it earlier, if all the air
// that counts was read between the two: no later reading moves it then.
func (s *sim) passedAt(key string, b *bead, c ended, limit float64, at time.Time) {
	a, _, _ := b.ageOf(c.clock, c.coat, b.scuffs[c.began], c.due)
	if s.now.After(at) {
		at = at.Add(-1) // heard of late: of the air read in that very moment some may have been read behind it
	}
	settled := !slices.ContainsFunc(b.seam.job.course.between(b.spent, c.due), func(z *air) bool { return !z.readBetween(c.due, at) })
	if off := 2*doubt*limit + s.opt.Habits.step().Seconds(); settled && a.hot < limit-off || a.hot > limit+off {
		s.broken("I9", "clock %s was said to have passed at %s: it was %.0f s of %.0f s at the hot end then", key, clock(c.due), a.hot, limit)
	}
}

// retracted checks that only what the account does not bear out is taken
// back.
func (s *sim) retracted(b *curesv1.WindowRetracted) {
	s.checks.count("I9")
	key, ok := s.watch.names[b.GetAnnounced()]
	if !ok {
		return // a nozzle's
	}
	delete(s.watch.said, key)
	if m := s.seamOf("seam/" + b.GetSeamId()); m != nil {
		s.changes[m]++ // its stage may go back
	}
}

// lostClocks checks that every clock that has surely ended was announced.
func (s *sim) lostClocks() {
	if s.silent {
		return // they wait to be told
	}
	for _, j := range s.inShop {
		for _, m := range j.seams {
			if m.bead != nil && m.bead.complete() {
				s.lostOf(m)
			}
		}
	}
}

func (s *sim) lostOf(m *seam) {
	kinds := []floorv1.Clock{floorv1.Clock_CLOCK_FLOW_OUT, floorv1.Clock_CLOCK_HANDLING, floorv1.Clock_CLOCK_FULL_CURE}
	if !m.coated && !m.exposed() {
		kinds = append(kinds, floorv1.Clock_CLOCK_COAT_OPENS)
	}
	for _, k := range kinds {
		coat := floorv1.Coat_COAT_UNSPECIFIED
		if k == floorv1.Clock_CLOCK_COAT_OPENS {
			coat = m.job.coat()
		}
		a, needed, ok := m.bead.age(k, coat, s.now)
		if !ok {
			continue
		}
		s.checks.count("I9")
		key := clockKey(m.id, k, coat, m.bead.began)
		switch _, said := s.watch.said[key]; {
		case !said && a.cold > needed*(1+m.bead.product.tol)*(1+doubt):
			s.broken("I9", "clock %s is lost: %.0f s of %.0f s at the cold end and nobody said so", key, a.cold, needed*(1+m.bead.product.tol))
		case said && a.cold < needed*(1+m.bead.product.tol)*(1-doubt):
			s.broken("I9", "clock %s stands as ended: by what is known now it is at %.0f s of %.0f s at the cold end", key, a.cold, needed*(1+m.bead.product.tol))
		}
	}
}
