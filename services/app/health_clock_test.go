package app

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"seamwright/services/floor"
)

// However often a clock is set, no more is kept than there is room for, and a
// bead is never judged by less than what was set since it was laid.
func TestJumpsThatAreAddedUpDoubtNoLess(t *testing.T) {
	at := time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)
	rapid.Check(t, func(t *rapid.T) {
		c := &clockWatch{}
		var all []floor.Jump
		now := at
		for range rapid.IntRange(0, 3*maxJumps).Draw(t, "jumps") {
			by := time.Duration(rapid.IntRange(3, 9000).Draw(t, "by")) * time.Second
			if rapid.Bool().Draw(t, "back") {
				by = -by
			}
			now = now.Add(time.Duration(rapid.IntRange(1, 600).Draw(t, "later")) * time.Second)
			j := floor.Jump{Was: now, By: by}
			now = now.Add(by)
			all = append(all, j)
			c.note(j)
		}
		if len(c.all()) > maxJumps {
			t.Fatalf("%d jumps are kept", len(c.all()))
		}
		laid := at.Add(time.Duration(rapid.IntRange(-3600, 36000).Draw(t, "laid")) * time.Second)
		forward, back := sums(all, laid)
		if f, b := sums(c.all(), laid); f < forward || b < back {
			t.Fatalf("kept %s forward and %s back, were %s and %s", f, b, forward, back)
		}
	})
}

func sums(js []floor.Jump, from time.Time) (forward, back time.Duration) {
	for _, j := range js {
		if from.After(j.Was) {
			continue
		}
		forward += max(j.By, 0)
		back -= min(j.By, 0)
	}
	return forward, back
}
