package cure

import (
	"fmt"
	"math"
	"time"

	"seamwright/services/fault"
)

// Set is a closed range of temperatures in °C.
type Set struct{ Lo, Hi float64 }

// Hull is the least set that holds both.
func (s Set) Hull(o Set) Set { return Set{math.Min(s.Lo, o.Lo), math.Max(s.Hi, o.Hi)} }

// Holds reports whether o lies inside s; touching the edge is inside.
func (s Set) Holds(o Set) bool { return o.Lo >= s.Lo-tempTol && o.Hi <= s.Hi+tempTol }

// grown widens s by k kelvin on both sides inside bounds that hold s.
func (s Set) grown(k float64, bounds Set) Set {
	return Set{math.Max(s.Lo-k, bounds.Lo), math.Min(s.Hi+k, bounds.Hi)}
}

// meet is the intersection; touching (to 1e-9 K) is meeting.
func (s Set) meet(o Set) (Set, bool) {
	lo, hi := math.Max(s.Lo, o.Lo), math.Min(s.Hi, o.Hi)
	if lo <= hi {
		return Set{lo, hi}, true
	}
	return Set{hi, lo}, lo-hi <= tempTol
}

// clamp brings c inside the set.
func (s Set) clamp(c float64) float64 { return math.Min(math.Max(c, s.Lo), s.Hi) }

// Zone is what is known of a room before any reading.
type Zone struct {
	Limits      Set           // °C; the widening stops here
	ProbeErrorC float64       // K, half-width right at a reading
	DriftPerMin float64       // K per minute, the fastest credible change
	StaleAfter  time.Duration // older readings are not fresh
	Settling    time.Duration // how long a panel takes to come to this room
}

// Temperatures that a probe of the trade can deliver; anything else is a
// broken probe or a wrong unit.
const minReadingC, maxReadingC = -60, 300

// Validate names the first field that is out of range.
func (z Zone) Validate() error {
	in := func(x, lo, hi float64) bool { return x >= lo && x <= hi }
	switch {
	case !in(z.Limits.Lo, minReadingC, maxReadingC) || !in(z.Limits.Hi, minReadingC, maxReadingC) || z.Limits.Lo >= z.Limits.Hi:
		return fault.Bad("limits_c", fmt.Sprintf("[%g, %g]", z.Limits.Lo, z.Limits.Hi),
			"two temperatures from -60 to 300 °C, the lower first; correct the zone")
	case !in(z.ProbeErrorC, 0, 50):
		return fault.Bad("probe_error_c", z.ProbeErrorC, "must be 0 to 50 K; correct the zone")
	case !in(z.DriftPerMin, 0, 100):
		return fault.Bad("drift_c_per_min", z.DriftPerMin, "must be 0 to 100 K per minute; correct the zone")
	case z.StaleAfter <= 0 || z.StaleAfter > 7*24*time.Hour:
		return fault.Bad("stale_after_min", z.StaleAfter.Minutes(), "must be above 0 to 10080 minutes; correct the zone")
	case z.Settling < 0 || z.Settling > 7*24*time.Hour:
		return fault.Bad("settling_min", z.Settling.Minutes(), "must be 0 to 10080 minutes; correct the zone")
	}
	return nil
}

// Reading is one temperature taken in a zone.
type Reading struct {
	At time.Time
	C  float64 // °C
	// ExtraErrorC (K) is added to the zone's probe error: the wider error of
	// a hand reading, or the dead band of a probe that was thinned.
	ExtraErrorC float64
	// Joins says that what was known before is no bound on this reading, as
	// when a further probe begins to speak at another place of the room: the
	// set becomes the hull of both, and nothing is wrong about it.
	Joins bool
}

// Validate names the first field that is out of range.
func (r Reading) Validate() error {
	switch {
	case !(r.C >= minReadingC && r.C <= maxReadingC):
		return fault.Bad("temp_c", r.C, "must be -60 to 300 °C; check the probe and its unit")
	case !(r.ExtraErrorC >= 0 && r.ExtraErrorC <= 50):
		return fault.Bad("extra_error_c", r.ExtraErrorC, "must be 0 to 50 K; correct the reading")
	case r.At.Before(minTime) || !r.At.Before(maxTime):
		return fault.Bad("time", r.At.Format(time.RFC3339Nano), "must lie in the years 1970 to 2200; set the clock of the probe")
	}
	return nil
}

var (
	minTime = time.Date(1970, 1, 1, 0, 0, 0, 0, time.UTC)
	maxTime = time.Date(2201, 1, 1, 0, 0, 0, 0, time.UTC)
)

// nanos is the moment in nanoseconds since 1970, held inside the years 1970
// to 2200 so that differences never overflow.
func nanos(t time.Time) int64 {
	switch {
	case t.Before(minTime):
		return minTime.UnixNano()
	case t.After(maxTime):
		return maxTime.UnixNano()
	}
	return t.UnixNano()
}

// moment is the inverse of nanos, in UTC.
func moment(ns int64) time.Time { return time.Unix(0, ns).UTC() }

// seconds between two moments in nanoseconds.
func seconds(from, to int64) float64 { return float64(to-from) / 1e9 }

// after is the moment s seconds after ns, or false past the year 2200.
func after(ns int64, s float64) (int64, bool) {
	if s >= seconds(ns, maxTime.UnixNano()) || math.IsNaN(s) {
		return 0, false
	}
	return ns + int64(math.Round(s*1e9)), true
}
