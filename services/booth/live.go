package booth

import (
	"errors"
	"fmt"
	"time"

	"seamwright/services/fault"
	"seamwright/services/floor"
)

// Silence is how long nobody may look after the permits. Whoever listens to
// the beats takes a silence of this length for HOLD, so a permit does not
// outlast it: a leave that came back by itself would be one that nobody asked
// for.
const Silence = 1800 * time.Millisecond

// live is what the ruling must know beside the journal. It must not be
// called while the floor is locked.
func (g *Gate) live() floor.Live {
	health := g.health()
	g.mu.Lock()
	defer g.mu.Unlock()
	heard := make(map[string]time.Time, len(g.heard))
	for t, at := range g.heard {
		heard[t] = at
	}
	return floor.Live{Health: health, Heard: heard, HearFor: g.opt.HearFor, Jumps: g.jumps()}
}

// jumps are the times that the shop's clock was set.
func (g *Gate) jumps() []floor.Jump {
	if g.opt.Jumps == nil {
		return nil
	}
	return g.opt.Jumps()
}

// health joins all that makes the process untrustworthy now.
func (g *Gate) health() (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = errors.Join(err, fault.New(fault.Internal, floor.HoldPanic,
				fmt.Sprintf("the health of the process could not be asked for: %v", p), "tell whoever looks after the program"))
		}
	}()
	err = errors.Join(g.standing().Hold, g.desk.Writer.Healthy(), g.attended())
	if g.opt.Health != nil {
		err = errors.Join(err, g.opt.Health())
	}
	return err
}

// attended reports whether somebody looks after the permits: whether the gate
// was called lately, by a clock that nobody sets.
func (g *Gate) attended() error {
	if g.opt.Running == nil {
		return nil
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	const hint = "ask again; look after the machine if it comes back"
	switch gap := g.time() - g.looked; {
	case g.looks == 0, g.spoke && !g.begun:
		return fault.New(fault.Unavailable, floor.HoldGatePaused, "the gate has not looked at the permits yet", hint)
	case gap > Silence:
		return fault.New(fault.Unavailable, floor.HoldGatePaused,
			fmt.Sprintf("nobody looked after the permits for %s, the limit is %s: the process was paused, or too slow", gap.Round(100*time.Millisecond), Silence), hint)
	}
	return nil
}

// time is the running clock.
func (g *Gate) time() time.Duration {
	if g.opt.Running == nil {
		return 0
	}
	return g.opt.Running()
}

// lostBy is what a permit lost, nil while it lost nothing.
func (g *Gate) lostBy(id string) []floor.Reason {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.lost[id]
}
