package sim

import (
	"fmt"
	"math/rand/v2"
	"time"
)

// fixedDice reports whether chance is drawn by what it is about. Where arrivals
// are fixed beforehand, so is luck: how long a bead takes to be laid does not
// hang on which car was taken before it, so that one order of loads has no
// better luck than another.
func (s *sim) fixedDice() bool { return s.opt.Load > 0 }

// throw gives whoever acts now a source of chance of its own for what comes
// next, by the name of what it is about.
func (s *sim) throw(about ...any) {
	if !s.fixedDice() || s.acting == nil {
		return
	}
	s.acting.chance = stream(s.opt.Seed, "throw "+fmt.Sprint(about...))
	s.chance = s.acting.chance
}

// act lets a process act, with its own chance where luck is fixed.
func (s *sim) act(p *proc) (time.Time, bool) {
	if !s.fixedDice() {
		return p.next()
	}
	if p.chance == nil {
		p.chance = stream(s.opt.Seed, "process "+p.name)
	}
	s.acting, s.chance = p, p.chance
	return p.next()
}

// noiseOf is the source of a probe's error at a moment.
func (w *weather) noiseOf(zone string, at time.Time) *rand.Rand {
	if !w.fixed {
		return w.noise
	}
	return stream(w.seed, fmt.Sprint("noise ", zone, at.Unix()))
}
