package planner

import "time"

// House is what a shop takes for granted where nothing was told.
type House struct {
	Lay     time.Duration // one technician, one seam
	Prep    time.Duration // more for a seam that is not prepped
	Scuff   time.Duration // of one bead
	Opens   time.Duration // from laying to an open window, where the product is not known
	Held    time.Duration // until what a person must answer for is answered
	Process time.Duration // of a load in a booth that does not say
	MissMin float64       // what a missed window costs, in minutes of lateness
	Wait    float64       // what a minute by which a load begins later costs those who come after, in minutes of lateness
	Horizon time.Duration // of a booth that is open round the clock
	Step    time.Duration // a start that moves by less is no other place
}

// DefaultHouse is common practice, no source.
func DefaultHouse() House {
	return House{
		Lay: 10 * time.Minute, Prep: 5 * time.Minute, Scuff: 5 * time.Minute, Opens: time.Hour, Held: 30 * time.Minute,
		Process: time.Hour, MissMin: 1440, Wait: 0.05, Horizon: 60 * 24 * time.Hour, Step: 10 * time.Minute,
	}
}

// upTo is the first whole minute not before t, downTo the last not after it.
func upTo(t time.Time) time.Time {
	if t.IsZero() {
		return t
	}
	if m := t.Truncate(time.Minute); m.Before(t) {
		return m.Add(time.Minute)
	}
	return t
}

func downTo(t time.Time) time.Time { return t.Truncate(time.Minute) }

func upMinutes(d time.Duration) time.Duration {
	return (d + time.Minute - 1).Truncate(time.Minute)
}

func latest(ts ...time.Time) (out time.Time) {
	for _, t := range ts {
		if t.After(out) {
			out = t
		}
	}
	return out
}
