package booth

import (
	"slices"
	"time"

	"seamwright/services/floor"
)

// Skew is how far the clocks of a shop's processes may differ. Each stamps the
// events that it writes, so the journal's newest event may bear a moment that
// another process's clock has not come to.
const Skew = 2 * time.Second

// ruling is the floor's, at the clock's moment. While another process's clock
// is ahead by no more than Skew, leave is given only where both moments give
// it, the clock's and the newest event's: what must be reached is judged at
// the earlier one, what must not be passed at the later. A clock that is
// further behind is in doubt, and holds by that name.
func ruling(f *floor.Floor, load floor.LoadID, now time.Time, live floor.Live) floor.Ruling {
	if f == nil || !now.Before(f.Last()) || f.Last().Sub(now) > Skew {
		return f.Gate(load, now, live)
	}
	r, early := f.Gate(load, f.Last(), live), f.Gate(load, now, live)
	r.Asked = r.Asked && early.Asked
	for _, x := range early.Reasons {
		if x.Name == floor.HoldClock || slices.ContainsFunc(r.Reasons, func(y floor.Reason) bool { return y.Name == x.Name && y.Subject == x.Subject }) {
			continue
		}
		r.Reasons = append(r.Reasons, x)
		if x.Until.IsZero() {
			r.ClearAt, r.MaybeAt = time.Time{}, time.Time{}
		} else {
			r.ClearAt = latest(r.ClearAt, x.Until)
		}
	}
	return r
}
