package health

import "time"

// How a clock is judged.
const (
	// JumpAtLeast is how far the time of day may part from the running clock
	// between two looks. The same limit is set to the clocks of terminals.
	JumpAtLeast = 2 * time.Second

	// SteadyFor is how long a clock must have run evenly again before its
	// time is taken.
	SteadyFor = time.Minute

	// slewPerSecond is how fast the time of day may be drawn to another time
	// without being set: a clock that is disciplined is drawn by 0.5 ms a
	// second at most (adjtime's limit on the machines in use, from memory);
	// twenty times that is allowed.
	slewPerSecond = 10 * time.Millisecond
)

// Even judges whether a time of day runs as a running clock does. The zero
// value has seen nothing.
type Even struct {
	seen   bool
	offset time.Duration // of the time of day to the running clock, as it ought to be
	origin time.Time
	last   time.Duration // running clock at the last look

	jumped bool          // and is not steady again
	by     time.Duration // how far it jumped, with its sign
	at     time.Duration // running clock when that was noticed
}

// See takes in both clocks at one moment and reports whether the time of day
// was set since the last look, and by how much.
func (e *Even) See(running time.Duration, wall time.Time) (jumped bool, by time.Duration) {
	if !e.seen {
		e.seen, e.origin, e.offset, e.last = true, wall.Add(-running), 0, running
		return false, 0
	}
	apart := wall.Sub(e.origin.Add(running)) - e.offset
	slew := time.Duration(float64(slewPerSecond) * (running - e.last).Seconds())
	e.last = running
	switch {
	case apart > JumpAtLeast || apart < -JumpAtLeast:
		e.offset += apart
		e.jumped, e.by, e.at = true, apart, running
		return true, apart
	default:
		e.offset += min(max(apart, -slew), slew)
	}
	return false, 0
}

// Doubt is how far the clock jumped last, while that is less than SteadyFor
// ago; ok false: the clock has run evenly since.
func (e *Even) Doubt(running time.Duration) (by time.Duration, ok bool) {
	if !e.jumped {
		return 0, false
	}
	if running-e.at >= SteadyFor {
		e.jumped = false
		return 0, false
	}
	return e.by, true
}
