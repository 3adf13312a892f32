package sim

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

// machineKinds are mishaps of a machine, dealt where there is one.
var machineKinds = []string{"restart-with-permit", "two-programs", "clock-back", "clock-forward", "unwritable-with-permit", "wrong-clock", "tablet-offline-for-days"}

func itoa(n uint64) string { return strconv.FormatUint(n, 10) }

// machineUpset lets something happen to the machine between a permit and its
// spraying; did says that something was planted, held that the load is not
// sprayed now.
func (s *sim) machineUpset(p *proc, l *load) (did, held bool) {
	j := l.job
	switch {
	case s.opt.Machine == nil:
		return false, false
	case s.readable() && j.has("restart-with-permit"):
		s.planted("restart-with-permit", l.id)
		s.restart()
		s.mustRevoke(l.booth, "new-holder")
	case s.readable() && j.has("two-programs"):
		s.twoPrograms(l)
	case s.permits() == 1 && j.has("clock-back"):
		s.clockBack(l)
	case j.has("clock-forward"):
		s.clockForward(l)
		return true, false
	case s.permits() == 1 && j.has("unwritable-with-permit"):
		s.unwritable(l)
	default:
		return false, false
	}
	s.decidesAgain(p, l.booth)
	return true, s.leave(p, l) == nil
}

// twoPrograms: a second program is started on the same journal while a permit
// runs. It does not know what was touched meanwhile: the permit is taken back.
// Then both take facts in turn, and one booth has one permit.
func (s *sim) twoPrograms(l *load) {
	s.planted("two-programs", l.id)
	s.opt.Machine.Fail(Sound)
	if err := s.opt.Machine.Beside(s.ctx, true); err != nil {
		s.fail(err)
		return
	}
	s.mustRevoke(l.booth, "new-holder")
	for range 6 { // facts to one and the other: each is decided on the newest event
		s.tell(technicians[0], desk, live, &jobsv1.PhotoAttached{
			SeamId: l.job.seams[0].id, Sha256: sumOf(s.watch.mark()), MediaType: "image/jpeg", Caption: "from two tablets",
		})
	}
	s.breathe()
	if v := s.expect(l, false); v.clear() && s.ask(l, false) != nil {
		s.askOther(l)
		s.giveBack(l.booth)
	}
	if err := s.opt.Machine.Beside(s.ctx, false); err != nil {
		s.fail(err)
	}
	s.settle()
}

// askOther asks the second program for leave while the first one's permit
// runs: it must hold.
func (s *sim) askOther(l *load) {
	if s.err != nil {
		return
	}
	resp, err := s.opt.Machine.Other().Booth.RequestPermit(s.ctx, &boothv1.RequestPermitRequest{
		Stamp: s.stamp(painter, boothScreen, live), BoothId: l.booth.id, LoadId: l.id,
	})
	s.checks.count("I5")
	switch {
	case err != nil:
		s.fail(fmt.Errorf("leave to spray %s from the second program: %w", l.id, err))
	case resp.GetPermit() != nil || !names(resp.GetReasons(), "permit-running"):
		s.broken("I5", "a second program gives leave for %s while a permit runs: %v", l.id, resp)
	}
}

func names(rs []*boothv1.Reason, name string) bool {
	return slices.ContainsFunc(rs, func(r *boothv1.Reason) bool { return r.GetName() == name })
}

// heldFor asks for leave at a moment at which only one reason is certain.
func (s *sim) heldFor(l *load, inv, name string) {
	if s.err != nil {
		return
	}
	resp, err := s.opt.Booth.RequestPermit(s.ctx, &boothv1.RequestPermitRequest{
		Stamp: s.stamp(painter, boothScreen, live), BoothId: l.booth.id, LoadId: l.id,
	})
	s.checks.count(inv)
	switch {
	case err != nil:
		s.fail(fmt.Errorf("leave to spray %s: %w", l.id, err))
	case resp.GetPermit() != nil || !names(resp.GetReasons(), name):
		var got []string
		for _, r := range resp.GetReasons() {
			got = append(got, r.GetName())
		}
		s.broken(inv, "load %s is not held by %s but by %q", l.id, name, strings.Join(got, ", "))
	}
}

// clockBack: somebody sets the machine's clock back. Until it is right again
// there is no leave.
func (s *sim) clockBack(l *load) {
	s.planted("clock-back", l.id)
	by := s.minutes(1, 90)
	s.opt.Machine.Turn(-by)
	s.mustRevoke(l.booth, "clock-in-doubt")
	s.heldFor(l, "I4", "clock-in-doubt")
	s.opt.Machine.Turn(by)
	s.settle()
}

// clockForward: somebody sets it on, so far that no reading is fresh, and
// back before anything was told.
func (s *sim) clockForward(l *load) {
	s.planted("clock-forward", l.id)
	by := s.airs[l.booth.zone].stale + s.minutes(10, 60)
	s.opt.Machine.Turn(by)
	s.heldFor(l, "I3", "reading-stale")
	s.opt.Machine.Turn(-by)
}

// unwritable: nothing can be written while a permit's bead is touched by
// nobody; the permit holds from the moment that its ground falls away, though
// that cannot be told.
func (s *sim) unwritable(l *load) {
	s.planted("unwritable-with-permit", l.id)
	b := l.booth
	s.opt.Machine.Unwritable(true)
	if d := s.doubter(); d != nil {
		d.Doubt(true)
		s.settle()
		s.checks.count("I4")
		resp, err := s.opt.Booth.GetGate(s.ctx, &boothv1.GetGateRequest{BoothId: b.id})
		if err != nil {
			s.fail(fmt.Errorf("the gate of %s: %w", b.id, err))
		} else if resp.GetGate().GetSign() != boothv1.Sign_SIGN_HOLD {
			s.broken("I4", "the gate of %s shows %s while the store is in doubt and cannot be written to", b.id, word(resp.GetGate().GetSign()))
		}
		d.Doubt(false)
	}
	s.opt.Machine.Unwritable(false)
	s.mustRevoke(b, "journal-unhealthy")
}

// overrides lets the foreman give leave over what holds a load, by PIN. It is
// shown as an override, never as clear, and given back.
func (s *sim) overrides(p *proc) {
	for s.opt.Machine != nil && s.opt.PIN != "" {
		p.wait(s.days(40, 120))
		var l *load
		p.poll(11*time.Minute, func() bool {
			l = s.overridable()
			return l != nil
		})
		s.override(p, l)
	}
}

// overridable is a load that waits and is held by nothing that is beyond an
// override.
func (s *sim) overridable() *load {
	if !s.hours.in(s.now, time.Hour, shiftBegins, shiftEnds) || s.permitRuns() {
		return nil
	}
	s.breathe()
	for _, b := range s.boothList() {
		for _, l := range s.waiting(b) {
			v := s.expect(l, false)
			beyond := slices.ContainsFunc(v.holds, func(h hold) bool {
				return strings.HasPrefix(h.name, "booth-") || h.name == "journal-unhealthy" || h.name == "job-ended"
			})
			if v.sure && len(v.holds) > 0 && !beyond {
				return l
			}
		}
	}
	return nil
}

func (s *sim) override(p *proc, l *load) {
	if s.err != nil {
		return
	}
	s.settle()
	s.planted("override", l.id)
	ask := func(pin string) (*boothv1.OverrideResponse, error) {
		st := s.stamp(foreman, boothScreen, live)
		s.asks[st.GetCommandId()], s.granted[st.GetCommandId()] = l, true
		return s.opt.Booth.Override(s.ctx, &boothv1.OverrideRequest{
			Stamp: st, BoothId: l.booth.id, LoadId: l.id, Pin: pin, Reason: "answers for it", Minutes: 5,
		})
	}
	s.checks.count("I4")
	if s.rep.Planted["override"]%4 == 1 { // a hash is made to be dear
		if _, err := ask("0" + s.opt.PIN); err == nil {
			s.broken("I4", "load %s is given leave over what holds it by a wrong PIN", l.id)
		}
	}
	if _, err := ask(s.opt.PIN); err != nil {
		s.fail(fmt.Errorf("override for %s: %w", l.id, err))
		return
	}
	s.hears(boothScreen)
	s.worked[boothScreen] = s.now
	s.catchUp()
	resp, err := s.opt.Booth.GetGate(s.ctx, &boothv1.GetGateRequest{BoothId: l.booth.id})
	if err != nil {
		s.fail(fmt.Errorf("the gate of %s: %w", l.booth.id, err))
		return
	}
	if sign := resp.GetGate().GetSign(); sign != boothv1.Sign_SIGN_OVERRIDE {
		s.broken("I4", "an override for %s is shown as %s", l.id, word(sign))
	}
	switch s.stumble.IntN(3) {
	case 0:
		s.planted("override-run-out", l.id)
		s.runOut(p, l.booth.permit)
	case 1: // he answered for what he was shown, not for this
		s.touched(p, l)
	}
	s.giveBack(l.booth)
	for _, id := range slices.Collect(maps.Keys(s.asks)) {
		if s.asks[id] == l {
			delete(s.asks, id)
		}
	}
}
