package health_test

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"seamwright/services/health"
)

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

// A clock that is drawn to another time, never faster than an NTP client
// slews it (0.5 ms a second, adjtime's usual limit, from memory), was not
// set. One that was set by more than the limit was, with its sign, and is in
// doubt for a minute.
func TestASetClockIsToldFromADrawnOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var e health.Even
		var running, off time.Duration
		look := func() (bool, time.Duration) { return e.See(running, noon.Add(running+off)) }
		look()
		slew := time.Duration(rapid.IntRange(-500, 500).Draw(t, "slew")) * time.Microsecond
		for range rapid.IntRange(1, 4000).Draw(t, "seconds") {
			running += time.Second
			off += slew
			if jumped, by := look(); jumped {
				t.Fatalf("a clock drawn by %s a second was set by %s", slew, by)
			}
		}
		by := time.Duration(rapid.Int64Range(int64(health.JumpAtLeast)+int64(50*time.Millisecond), int64(40*24*time.Hour)).Draw(t, "by"))
		if rapid.Bool().Draw(t, "back") {
			by = -by
		}
		off += by
		running += 250 * time.Millisecond
		jumped, told := look()
		if diff := told - by; !jumped || diff.Abs() > 50*time.Millisecond {
			t.Fatalf("set by %s: %t, %s", by, jumped, told)
		}
		if _, doubt := e.Doubt(running + health.SteadyFor - time.Millisecond); !doubt {
			t.Fatal("no doubt before the minute is over")
		}
		if _, doubt := e.Doubt(running + health.SteadyFor); doubt {
			t.Fatal("doubt after an even minute")
		}
	})
}

// A clock set by little steps is found out when they have come to more than
// what a clock may be drawn by.
func TestLittleStepsAddUp(t *testing.T) {
	var e health.Even
	var running, off time.Duration
	e.See(0, noon)
	for n := range 10 {
		running += 250 * time.Millisecond
		off += 900 * time.Millisecond
		if jumped, _ := e.See(running, noon.Add(running+off)); jumped {
			if n > 2 {
				t.Errorf("found after %d steps of 0.9 s", n+1)
			}
			return
		}
	}
	t.Error("steps of 0.9 s, four a second, were never noticed")
}
