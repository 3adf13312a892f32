package cure

import (
	"fmt"
	"time"

	"seamwright/services/fault"
)

// Kind says what a clock is for.
type Kind uint8

// The kinds of clock. The zero Kind is not valid.
const (
	Ready  Kind = iota + 1 // must be reached: flow-out, handling, full cure, a coat window opening
	Expiry                 // must not be passed: nozzle gel, tooling, a coat window closing
)

// String returns ready or expiry.
func (k Kind) String() string {
	switch k {
	case Ready:
		return "ready"
	case Expiry:
		return "expiry"
	}
	return fmt.Sprintf("kind-%d", uint8(k))
}

// Reached is the three-valued answer. The zero value is Maybe, which holds a
// seam for either kind of clock.
type Reached uint8

// The answers.
const (
	Maybe Reached = iota
	No
	Yes
)

var reachedNames = [...]string{"maybe", "no", "yes"}

// String returns no, maybe or yes.
func (r Reached) String() string {
	if int(r) < len(reachedNames) {
		return reachedNames[r]
	}
	return fmt.Sprintf("reached-%d", uint8(r))
}

// Clock is one stage under way.
type Clock struct {
	Kind      Kind
	Law       Law
	From      time.Time     // end of laying for Ready; last flow or begin of laying for Expiry
	Needed    time.Duration // at the reference temperature, before the tolerance; 0: due when it begins
	Tolerance float64       // fraction, 0 to under 1
}

// Validate names the first field that is out of range.
func (c Clock) Validate() error {
	switch {
	case c.Kind != Ready && c.Kind != Expiry:
		return fault.Bad("kind", c.Kind, "must be ready or expiry; correct the clock")
	case c.Law.IsZero():
		return fault.Bad("law", "none", "a rate law is needed; correct the product")
	case c.Needed < 0:
		return fault.Bad("needed", c.Needed, "must be 0 or more; correct the product")
	case !(c.Tolerance >= 0 && c.Tolerance < 1):
		return fault.Bad("tolerance_percent", c.Tolerance*100, "must be 0 to under 100; correct the product")
	case c.From.Before(minTime) || !c.From.Before(maxTime):
		return fault.Bad("from", c.From.Format(time.RFC3339Nano), "must lie in the years 1970 to 2200; correct the time")
	}
	return nil
}

// Target is the age in seconds that a side must reach: more than needed for
// the cold side, less for the hot one.
func (c Clock) Target(side Side) float64 {
	needed := c.Needed.Seconds()
	switch side {
	case Cold:
		return needed * (1 + c.Tolerance)
	case Hot:
		return needed * (1 - c.Tolerance)
	default:
		return needed
	}
}

// Why an answer is not a plain yes or no.
const (
	WhyNoReading = "no-reading"      // nothing is known but the zone's limits
	WhyStale     = "stale-reading"   // the newest reading is not fresh
	WhyTooCold   = "may-be-too-cold" // below the least temperature nothing is surely reached
	WhyUnsettled = "not-settled"     // passed along the growing cone only
	WhyTolerance = "within-bounds"   // between the hot and the cold bound
	WhyBadClock  = "bad-clock"       // the clock itself is not valid; nothing was reckoned
)

// Verdict is the answer about a clock at a moment, with its grounds. Ages are
// seconds at the reference temperature.
type Verdict struct {
	Kind      Kind
	At        time.Time
	NeededS   float64 // before the tolerance
	Tolerance float64

	AgeColdS, AgeHotS float64
	AgeNominalS       float64
	NominalKnown      bool // AgeNominalS means something

	// When each age passes its target: the instant if that is past, else the
	// forecast. Zero: never.
	DueCold, DueHot, DueNominal time.Time

	Reached Reached
	Why     []string // grounds of the Why constants, none when all is plain
}

// Judge answers about a clock at a moment with what was known then. About a
// clock that is not valid (see [Clock.Validate]) the answer is Maybe.
func Judge(s Surroundings, c Clock, at time.Time) Verdict { return c.judge(s.AsOf(at), at, nil) }

// Answer is the three-valued answer of [Judge] alone, without due times and
// grounds: for those that ask very often.
func Answer(s Surroundings, c Clock, at time.Time) Reached {
	if c.Validate() != nil {
		return Maybe
	}
	seen := s.AsOf(at)
	v := Verdict{At: at}
	v.AgeHotS, _ = seen.Age(c.Law, Hot, c.From, at)
	if c.Kind == Ready && enough(v.AgeHotS, c.Target(Hot)) {
		v.AgeColdS, _ = seen.Age(c.Law, Cold, c.From, at)
	}
	return c.reached(seen, &v)
}

// JudgeHindsight answers about a clock at a moment with all readings, also
// those that came later.
func JudgeHindsight(s Surroundings, c Clock, at time.Time) Verdict {
	return c.judge(s.Hindsight(), at, nil)
}

// JudgeAhead is Judge with due times told by a forecast of the caller's, such
// as the planned bake of a booth.
func JudgeAhead(s Surroundings, c Clock, at time.Time, ahead Forecast) Verdict {
	return c.judge(s.AsOf(at), at, ahead)
}

// SurelyOpenUntil reports whether an expiry clock, as known at a moment, is
// surely not passed up to `until`, the temperature going as far as the
// growing cone lets it. The gate asks this up to the end of the first coat.
func SurelyOpenUntil(s Surroundings, c Clock, at, until time.Time) bool {
	if c.Kind != Expiry || c.Validate() != nil {
		return false
	}
	age, _ := s.AsOf(at).Age(c.Law, Hot, c.From, until)
	return !enough(age, c.Target(Hot))
}

func (c Clock) judge(s Seen, at time.Time, ahead Forecast) Verdict {
	v := Verdict{Kind: c.Kind, At: at, NeededS: c.Needed.Seconds(), Tolerance: c.Tolerance}
	if c.Validate() != nil {
		v.Why = []string{WhyBadClock}
		return v
	}
	if ahead == nil {
		ahead = s.Ahead(at)
	}
	side := func(side Side) (age float64, known bool, due time.Time) {
		age, known = s.Age(c.Law, side, c.From, at)
		due, _ = dueAfter(s, c.Law, side, c.From, c.Target(side), at, ahead, age, known)
		return age, known, due
	}
	v.AgeColdS, _, v.DueCold = side(Cold)
	v.AgeHotS, _, v.DueHot = side(Hot)
	v.AgeNominalS, v.NominalKnown, v.DueNominal = side(Nominal)
	v.Reached = c.reached(s, &v)
	v.Why = c.why(s, &v)
	return v
}

func (c Clock) reached(s Seen, v *Verdict) Reached {
	if v.At.Before(c.From) || !enough(v.AgeHotS, c.Target(Hot)) {
		return No
	}
	sure := enough(v.AgeColdS, c.Target(Cold))
	if c.Kind == Expiry {
		sure = enough(s.Settled(c.Law, c.From, v.At), c.Target(Hot))
	}
	if sure {
		return Yes
	}
	return Maybe
}

func (c Clock) why(s Seen, v *Verdict) []string {
	if v.Reached == Yes || c.Kind == Expiry && v.Reached == No {
		return nil
	}
	var why []string
	_, known := s.Nominal(v.At)
	switch {
	case !known:
		why = append(why, WhyNoReading)
	case !s.Fresh(v.At):
		why = append(why, WhyStale)
	}
	if c.Kind == Expiry {
		return append(why, WhyUnsettled)
	}
	if c.Law.Rate(s.Edges(v.At).Lo, Cold) == 0 {
		why = append(why, WhyTooCold)
	}
	if v.Reached == Maybe {
		why = append(why, WhyTolerance)
	}
	return why
}

// Progress is how far the cold age has got towards its target, 0 to 1: the
// share that is surely done.
func (v Verdict) Progress() float64 {
	target := v.NeededS * (1 + v.Tolerance)
	if target <= 0 {
		if v.Reached == No {
			return 0
		}
		return 1
	}
	return min(1, v.AgeColdS/target)
}

// Milli rounds the due times to milliseconds, each to its safe side: cold to
// the later, hot to the earlier, so that a time once printed still holds.
func (v Verdict) Milli() Verdict {
	v.DueHot = v.DueHot.Truncate(time.Millisecond)
	v.DueNominal = v.DueNominal.Round(time.Millisecond)
	if cold := v.DueCold.Truncate(time.Millisecond); cold.Before(v.DueCold) {
		v.DueCold = cold.Add(time.Millisecond)
	}
	return v
}
