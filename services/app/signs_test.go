package app

import (
	"testing"
	"testing/synctest"
	"time"

	"seamwright/services/booth"
	"seamwright/services/bus"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/health"
)

// A reader holds in two seconds with the time between its looks, and a beat
// that waited for the connection is not sent when it would only prolong that.
func TestTheTimesOfReadersAndBeatsAgree(t *testing.T) {
	if most := bus.Window + lookAgain; most >= 2*time.Second {
		t.Errorf("a reader may take %s to hold, it must be less than two seconds", most)
	}
	if beatStale >= bus.Window {
		t.Errorf("a beat goes out after %s of waiting, readers hold after %s", beatStale, bus.Window)
	}
}

// Readers begin to hold when a service was cut off from the bus for long
// enough. It holds then too, though nobody looked at it before the bus came
// back and its own signs with it.
func TestASignThatEndsASilenceDoesNotUndoIt(t *testing.T) {
	for _, c := range []struct {
		cut   time.Duration
		holds bool
	}{{booth.Silence - time.Millisecond, false}, {booth.Silence, false}, {booth.Silence + time.Millisecond, true}, {2 * booth.Silence, true}} {
		synctest.Test(t, func(t *testing.T) {
			s := &signs{table: bus.NewPeers(), sent: map[sentSign]time.Time{}, echoes: map[string]time.Time{}, gaps: map[string]time.Time{}}
			stand := booth.NewStand("gate-a", time.Now(), true)
			send := func() bus.Life {
				l := bus.Life{Service: "booth", Instance: "gate-a", Now: time.Now().UTC()}
				s.sent[sentSign{l.Instance, l.Now}] = time.Now()
				return l
			}
			look := func() booth.Standing {
				others, echo := s.others("gate-a")
				return stand.Look(time.Now(), others, echo)
			}
			s.back(send())
			if got := look(); !got.Active || got.Hold != nil {
				t.Fatalf("on the bus: %+v", got)
			}
			var held []bus.Life
			time.Sleep(bus.LifeEvery) // bubble time, as all below
			held = append(held, send())
			time.Sleep(c.cut - 2*bus.LifeEvery)
			held = append(held, send())
			time.Sleep(bus.LifeEvery)
			for _, l := range held { // the bus is back and lets go of them
				s.back(l)
			}
			if got := look(); got.Active == c.holds || fault.Is(got.Hold, floor.HoldBusSilent) != c.holds {
				t.Errorf("after a cut of %s: %+v, want it to hold: %t", c.cut, got, c.holds)
			}
			s.back(send())
			if got := look(); got.Active == c.holds {
				t.Errorf("and a moment later: %+v", got)
			}
		})
	}
}

// The gate holds soon after the last sign of a service without which it must
// not go on: that keeps the cure clocks, that keeps the proof.
func TestAServiceThatIsMissedHoldsTheGateWithinTwoSeconds(t *testing.T) {
	if most := missed + health.Often + lookAgain; most >= 2*time.Second {
		t.Errorf("the gate may go by a dead service for %s", most)
	}
	synctest.Test(t, func(t *testing.T) {
		s := &signs{table: bus.NewPeers()}
		s.table.Hear(bus.Life{Service: "cures", Instance: "c-1", Now: time.Now(), Proof: true}, time.Now(), time.Now())
		checks := map[string]health.Check{floor.HoldKeeper: s.keptElsewhere(), floor.HoldProof: s.provedElsewhere()}
		look := func(when string, wrong func(err error, name string) bool) {
			for name, c := range checks {
				if err := c.Look(t.Context()); wrong(err, name) {
					t.Errorf("%s %s: %v", when, name, err)
				}
			}
		}
		sound := func(err error, _ string) bool { return err != nil }
		look("just heard", sound)
		time.Sleep(missed)
		look("heard not longer ago than it may be", sound)
		time.Sleep(time.Millisecond)
		look("silent for longer", func(err error, name string) bool { return !fault.Is(err, name) })
	})
}
