package floor

import "time"

// Jump is a time at which the shop's clock was set while the program ran.
type Jump struct {
	Was time.Time     // what it showed just before
	By  time.Duration // how far it was set: forward above zero, back below
}

// setSince is how far the clock was set, in all, since a moment of its own:
// forward and back. A clock that began before it was set forward has run for
// less than its moments say, so what must be reached is judged that much
// earlier; one that began before it was set back has run for longer, so what
// must not be passed is judged that much later. A clock that was put wrong
// and right again is judged at the safe side both ways.
func (l Live) setSince(from time.Time) (forward, back time.Duration) {
	for _, j := range l.Jumps {
		switch {
		case from.After(j.Was):
		case j.By > 0:
			forward += j.By
		default:
			back -= j.By
		}
	}
	return forward, back
}

// clockWas tells that the clock was set while a bead's clock ran.
func clockWas(forward, back time.Duration) string {
	by, way := forward, "forward"
	if by == 0 {
		by, way = back, "back"
	}
	if by == 0 {
		return ""
	}
	return "; the shop's clock was set " + way + " by " + by.Round(time.Second).String() + " since it was laid"
}
