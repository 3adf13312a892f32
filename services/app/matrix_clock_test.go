package app_test

import (
	"time"

	"seamwright/services/floor"
)

// clockRows are the faults of the machine's clock.
func clockRows() []row {
	known := "the next look at both clocks (each quarter of a second)"
	lived := func(l *lane) { l.pass(70 * time.Second) }
	return []row{
		{
			fault: "clock stepped forward", name: floor.HoldClockJumped, known: known, words: "clock was set while the shop was open",
			broken: func(l *lane) { l.clock.by.Add(int64(2 * time.Minute)) },
			mend:   lived,
		},
		{
			fault: "clock stepped back", name: floor.HoldClockJumped, known: known, words: "clock was set while the shop was open",
			broken: func(l *lane) { l.clock.by.Add(int64(-2 * time.Minute)) },
			mend:   func(l *lane) { l.pass(200 * time.Second) },
			cause:  floor.HoldClock + "|" + floor.HoldClockJumped, // whichever the gate meets first
		},
	}
}
