package health_test

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"seamwright/services/health"
)

// A follower that always comes, before long, to where the number stood when
// it was looked at is never behind for longer than that, however far the
// number has gone on by then.
func TestAFollowerThatKeepsUpIsNotBehind(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var l health.Lag
		var has, to uint64
		var now time.Duration
		const late = 400 * time.Millisecond
		history := []struct {
			at time.Duration
			to uint64
		}{}
		for range rapid.IntRange(1, 60).Draw(t, "looks") {
			now += time.Duration(rapid.IntRange(1, 300).Draw(t, "ms")) * time.Millisecond
			to += rapid.Uint64Range(0, 1000).Draw(t, "grew")
			history = append(history, struct {
				at time.Duration
				to uint64
			}{now, to})
			for _, h := range history { // it has come to all that is older than that
				if now-h.at >= late {
					has = max(has, h.to)
				}
			}
			if d := l.See(now, has, to); d > late+300*time.Millisecond {
				t.Fatalf("behind for %s at %s", d, now)
			}
		}
	})
}

// One that stands still is behind from the first look that sees it.
func TestAFollowerThatStandsStillIsBehind(t *testing.T) {
	var l health.Lag
	for i, want := range []time.Duration{0, 1, 500 * time.Millisecond, 1500 * time.Millisecond} {
		at := []time.Duration{0, time.Second, 1500 * time.Millisecond, 2500 * time.Millisecond}[i]
		to := []uint64{7, 8, 9, 20}[i]
		if d := l.See(at, 7, to); d != want {
			t.Errorf("at %s: behind for %s, want %s", at, d, want)
		}
	}
	if d := l.See(3*time.Second, 20, 20); d != 0 {
		t.Errorf("when it has come: behind for %s", d)
	}
}
