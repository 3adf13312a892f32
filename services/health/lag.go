package health

import "time"

// Lag judges how long something that follows a growing number has been
// behind it. The zero value is up to date.
type Lag struct {
	target uint64        // the number that was first seen ahead
	since  time.Duration // when
}

// See takes in that at a moment of a running clock the number stood at to and
// the follower at has, and returns for how long the follower has now been
// behind a number that it has not come to; 0: it is up to date. A follower
// that keeps coming to where the number stood is not behind, however fast the
// number grows.
func (l *Lag) See(now time.Duration, has, to uint64) time.Duration {
	if has >= l.target {
		if l.target = 0; to > has {
			l.target, l.since = to, now
		}
	}
	if l.target == 0 {
		return 0
	}
	return max(now-l.since, 1) // behind, if only since now
}
