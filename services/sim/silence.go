package sim

import (
	"slices"
	"time"
)

// gap is a time in which a terminal was missed: between two signs of life that
// lay further apart than they may.
type gap struct{ from, to time.Time }

// hears notes a sign of life of a terminal.
func (s *sim) hears(terminal string) {
	if was := s.heard[terminal]; s.now.Sub(was) > hearFor {
		s.gaps[terminal] = gap{was, s.now}
	}
	s.heard[terminal] = s.now
}

// silentAt reports whether a terminal was missed at a moment. The past reaches
// back over the last time that it was.
func (s *sim) silentAt(terminal string, at time.Time) bool {
	last := s.heard[terminal]
	if g := s.gaps[terminal]; at.Before(g.to) {
		last = g.from
	}
	return at.Sub(last) > hearFor
}

// missed reports whether a permit was taken back at a moment, for the bay that
// its job was worked in was not heard then. That happens by itself while a
// permit is left unused: somebody works there without Wi-Fi.
func (s *sim) missed(p *permit, reasons []string, at time.Time) bool {
	l := s.loads[p.load]
	if l == nil {
		return false
	}
	t := s.listens(l.job)
	return t != "" && slices.Contains(reasons, "terminal-silent terminal/"+t) && s.silentAt(t, at)
}

// unread reports whether a permit was taken back at a moment for air that
// counts for its load and was not read for too long by then. That happens by
// itself too: who asks has all air read, and then leaves the permit unused.
func (s *sim) unread(p *permit, reasons []string, at time.Time) bool {
	l := s.loads[p.load]
	if l == nil {
		return false
	}
	zones := l.job.course.zones(at)
	if l.booth != nil {
		zones = with(zones, []*air{s.airs[l.booth.zone]})
	}
	return slices.ContainsFunc(zones, func(z *air) bool {
		return slices.Contains(reasons, "reading-stale zone/"+z.zone) && !z.freshAt(at)
	})
}
