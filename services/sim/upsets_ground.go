package sim

import (
	"google.golang.org/protobuf/proto"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/fault"
)

// groundKinds are mishaps that take the ground away from a running permit,
// dealt where there is a machine: a shop that runs for years.
var groundKinds = []string{"removed-after-permit", "recall-after-permit", "moved-after-permit", "mended-at-once", "process-in-trouble"}

// groundUpset lets the ground of a running permit fall away; did says that
// something was planted, held that the load is not sprayed now.
func (s *sim) groundUpset(p *proc, l *load) (did, held bool) {
	j := l.job
	switch {
	case s.opt.Machine == nil:
		return false, false
	case j.has("removed-after-permit"):
		return s.removed(p, l)
	case s.recallable(l) != nil && j.has("recall-after-permit"):
		s.planted("recall-after-permit", l.id)
		m := s.recallable(l)
		s.recall(m.bead.cartridge.lot)
		s.mustRevoke(l.booth, "open-stop "+m.subject())
		s.probe(l)
		return true, true
	case j.has("moved-after-permit"):
		s.movedAway(p, l)
	case j.has("mended-at-once"):
		s.mendedAtOnce(l)
	case s.permits() == 1 && s.troubler() != nil && j.has("process-in-trouble"):
		s.inTrouble(p, l)
	default:
		return false, false
	}
	s.decidesAgain(p, l.booth)
	return true, s.leave(p, l) == nil
}

// removed: a bead of the load is taken off while its permit runs, and laid
// anew in the bay.
func (s *sim) removed(p *proc, l *load) (did, held bool) {
	for _, m := range l.covers() {
		if m.bead == nil || m.coated {
			continue
		}
		s.planted("removed-after-permit", m.id)
		s.removeBead(painter, boothScreen, m, "a hair in it")
		s.mustRevoke(l.booth, "not-laid "+m.subject())
		s.probe(l)
		l.job.hands++
		s.spawn("lay again "+m.id, s.now, func(p *proc) {
			defer func() { l.job.hands-- }()
			s.layAgain(p, m)
		})
		return true, true
	}
	return false, false
}

// recallable is a seam of a load whose lot may be recalled now; nil: none.
func (s *sim) recallable(l *load) *seam {
	for _, m := range l.covers() {
		if m.bead != nil && !m.coated && !m.bead.cartridge.lot.recalled && !s.inUse(m.bead.cartridge.lot) {
			return m
		}
	}
	return nil
}

// nowhere is a zone that nobody has ever read.
const nowhere = "z-nowhere"

// movedAway: somebody taps the car of a load into a place that nobody reads,
// and takes the tap back.
func (s *sim) movedAway(p *proc, l *load) {
	if s.airs[nowhere] == nil {
		s.dead[nowhere] = true // it has no probe
		zone := proto.CloneOf(s.zoneDefs["outdoors"])
		zone.ZoneId, zone.Terminals = nowhere, nil
		s.tell(foreman, desk, live, zone)
		s.learnZone(zone)
	}
	s.planted("moved-after-permit", l.id)
	was := l.job.course
	seq := s.tell(foreman, desk, live, &jobsv1.CarMoved{Ro: l.job.ro, ZoneId: nowhere})
	l.job.course.to(s.now, s.airs[nowhere])
	s.mustRevoke(l.booth, "no-reading zone/"+nowhere)
	s.probe(l)
	p.wait(s.minutes(0.2, 0.5))
	s.tell(foreman, desk, live, &jobsv1.FactWithdrawn{Sequence: seq, Why: "the wrong car"})
	l.job.course = was
	s.settle()
	s.catchUp()
}

// mendedAtOnce: the booth fails and is mended before anybody looks: the permit
// that ran meanwhile is taken back all the same.
func (s *sim) mendedAtOnce(l *load) {
	s.planted("mended-at-once", l.id)
	s.tell(painter, boothScreen, live, &boothv1.BoothFaulted{BoothId: l.booth.id, What: "a contact"})
	s.tell(painter, boothScreen, live, &boothv1.BoothReset{BoothId: l.booth.id, What: "it came back"})
	s.mustRevoke(l.booth, "booth-faulted booth/"+l.booth.id)
}

// Troubler is an Inspector that can make the program tell of a trouble of its
// own, as its monitors do on a machine that runs by the wall clock; nil ends
// it.
type Troubler interface {
	Trouble(err error)
}

func (s *sim) troubler() Troubler {
	t, _ := s.opt.Inspect.(Troubler)
	return t
}

// troubles are what monitors tell of, with what each is about.
var troubles = [][2]string{
	{"journal-gap", "journal"},
	{"record-changed", "journal"},
	{"records-lost", "journal"},
	{"records-unread", "journal"},
	{"journal-silent", "journal"},
	{"journal-unwritable", "journal"},
	{"journal-closed", "journal"},
	{"bad-record", "journal"},
	{"proof-not-kept", "journal"},
	{"disk-full", "disk"},
	{"unknown-event-type", "floor"},
	{"fold-stopped", "floor"},
	{"follower-ended", "floor"},
	{"follower-behind", "floor"},
	{"keeper-stopped", "keeper"},
	{"clock-in-doubt", "clock"},
	{"clock-jumped", "clock"},
	{"gate-failed", "gate"},
	{"gate-paused", "gate"},
	{"bus-silent", "bus"},
}

// inTrouble: the program finds something wrong with itself, its journal or
// its clock while a permit runs, and later no more.
func (s *sim) inTrouble(p *proc, l *load) {
	w := troubles[s.stumble.IntN(len(troubles))]
	s.planted("trouble-"+w[0], l.id)
	s.trouble = &hold{w[0], w[1]}
	s.troubler().Trouble(fault.New(fault.Unavailable, w[0], "a monitor says so", "look at it"))
	s.mustRevoke(l.booth, s.trouble.String())
	s.probe(l)
	p.wait(s.minutes(1, 3))
	s.troubler().Trouble(nil)
	s.trouble = nil
}
