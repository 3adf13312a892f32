package booth_test

import (
	"testing"
	"time"

	"seamwright/services/booth"
	"seamwright/services/bus"
)

// The times of the gate, of those who read its beats and of the services
// beside it belong together: each of these must hold, whatever they are set to.
// "Two seconds" is within which whatever falls silent must show HOLD; the
// rest is common practice of heartbeats, no source.
func TestTheTimesOfAHeartbeatAgree(t *testing.T) {
	const two = 2 * time.Second
	for _, x := range []struct {
		why         string
		less, more  time.Duration
		orTheSameAs bool
	}{
		{"a reader that looks at its clock ten times a second holds within two seconds", bus.Window + 100*time.Millisecond, two, false},
		{"two beats may be lost, and the third be a little late", 3*bus.BeatEvery + 200*time.Millisecond, bus.Window, false},
		{"no leave comes back by itself to readers: who did not look for as long as they bear holds", booth.Silence, bus.Window, true},
		{"and no earlier than they do", bus.Window, booth.Silence, true},
		{"who is cut off from the bus holds when the readers do", booth.Deaf, bus.Window, true},
		{"two signs of life may be lost, and the third be a little late", 3*bus.LifeEvery + 200*time.Millisecond, booth.Deaf, false},
		{"who is cut off holds before another takes over", booth.Deaf + bus.LifeEvery, booth.Silent, false},
		{"who takes over has surely been on the bus: one sign may be lost", 2 * bus.LifeEvery, booth.Recent, false},
		{"and hears whether another speaks", booth.Recent, booth.Deaf, false},
		{"what counts as gone for those who look for it counts as gone for those who take over", bus.Silence, booth.Silent, true},
		{"and no earlier", booth.Silent, bus.Silence, true},
		{"a journal that does not answer does not silence the gate: two takings back follow each other", bus.BeatEvery + 2*booth.RevokeWithin, booth.Silence, false},
		{"a disk that is busy may take its time over a taking back", 600 * time.Millisecond, booth.RevokeWithin, true},
	} {
		if x.less > x.more || x.less == x.more && !x.orTheSameAs {
			t.Errorf("%s: %s must be less than %s", x.why, x.less, x.more)
		}
	}
}
