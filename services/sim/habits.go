package sim

import "time"

// Habits are how a shop is run. The zero value is the busy invented shop:
// probes that read each minute, day and night, and somebody who looks at
// everything all the time.
type Habits struct {
	// Zone is the wall clock that the hours of work follow, with its summer
	// time; nil: UTC.
	Zone *time.Location
	// Arrivals is how many cars come in on a working day at most; 0: 3. Where
	// there are idle days, it is one to that many on the others.
	Arrivals int
	// Idle is the chance that a working day brings no car.
	Idle float64
	// ByDay and ByNight are how often a probe reads in the hours of work and
	// outside them; 0: each minute.
	ByDay, ByNight time.Duration
	// Ease is how many times rarer the painter, the foreman and whoever
	// watches make their rounds; 0: 1.
	Ease float64
	// LookEase is the same for whoever looks at the whole floor and the gates;
	// 0: as Ease.
	LookEase float64
	// CheckDays is how many days lie between comparisons of the account with
	// the shop's lists, ProveDays between those of the floor with one that is
	// folded again, and looks through the journal; 0: 1. All of it is done in
	// the end as well.
	CheckDays, ProveDays int
	// Seasons let the yard's air, and a little of it the bays', follow the
	// year.
	Seasons bool
	// OnAsking lets terminals give their signs of life when it matters only:
	// while somebody asks for leave to spray, and while a permit runs.
	OnAsking bool
	// Step is how finely the account steps through time; 0: 10 s.
	Step time.Duration
	// Stumble is among how many facts one append fails, where there is a
	// machine that can; 0: 500.
	Stumble int
	// Unheard leaves out the watcher that keeps one stream open all the time.
	Unheard bool
}

func (h Habits) hours() hours {
	if h.Zone == nil {
		return hours{time.UTC}
	}
	return hours{h.Zone}
}

func (h Habits) arrivals() int { return max(h.Arrivals, 0) + 3*btoi(h.Arrivals == 0) }

func (h Habits) step() time.Duration {
	if h.Step > 0 {
		return h.Step
	}
	return step
}

func (h Habits) checkDays() int { return max(h.CheckDays, 1) }

func (h Habits) proveDays() int { return max(h.ProveDays, 1) }

func (h Habits) stumble() int {
	if h.Stumble > 0 {
		return h.Stumble
	}
	return 500
}

// round is how long a round of somebody's takes.
func (h Habits) round(d time.Duration) time.Duration {
	if h.Ease <= 0 {
		return d
	}
	return time.Duration(float64(d) * h.Ease).Truncate(time.Second)
}

// look is how long it takes until somebody looks at everything again.
func (h Habits) look() time.Duration {
	if h.LookEase > 0 {
		h.Ease = h.LookEase
	}
	return h.round(10 * time.Minute)
}

// blind is the longest time between two readings while somebody works.
func (h Habits) blind() time.Duration { return max(keepAfter, h.ByDay+time.Minute) }

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// hours are the hours of work, Monday to Friday, by a wall clock.
type hours struct{ loc *time.Location }

// on is the moment at which the wall clock shows that much since midnight,
// some days after the day of a moment. On the day that summer time begins or
// ends it is still what the clock on the wall shows.
func (h hours) on(at time.Time, days int, clock time.Duration) time.Time {
	y, m, d := at.In(h.loc).Date()
	return time.Date(y, m, d+days, 0, 0, int(clock/time.Second), int(clock%time.Second), h.loc).UTC()
}

// clock is what the clock on the wall shows, since midnight.
func (h hours) clock(at time.Time) time.Duration {
	at = at.In(h.loc)
	hour, minute, second := at.Clock()
	return time.Duration(hour)*time.Hour + time.Duration(minute)*time.Minute + time.Duration(second)*time.Second + time.Duration(at.Nanosecond())
}

func (h hours) workday(at time.Time) bool {
	d := at.In(h.loc).Weekday()
	return d != time.Saturday && d != time.Sunday
}

// in reports whether a length of time from a moment on lies inside a day's
// hours.
func (h hours) in(at time.Time, length, begins, ends time.Duration) bool {
	t := h.clock(at)
	return h.workday(at) && t >= begins && t+length <= ends
}

// next is the first moment from at on that leaves that much of the hours.
func (h hours) next(at time.Time, length, begins, ends time.Duration) time.Time {
	for !h.in(at, length, begins, ends) {
		if h.workday(at) && h.clock(at) < begins {
			at = h.on(at, 0, begins)
		} else {
			at = h.on(at, 1, begins)
		}
	}
	return at
}

// open reports whether anybody is in the shop.
func (h hours) open(at time.Time) bool { return h.in(at, 0, prepOpens-30*time.Minute, prepCloses) }
