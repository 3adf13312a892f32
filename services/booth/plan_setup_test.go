package booth_test

import (
	"strings"
	"testing"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/booth"
	"seamwright/services/floor"
)

// changing is a shop whose booth takes 40 min to change to blue, with a load
// in blue that is ready to be sprayed.
func changing(t *testing.T) *planned {
	h := furnished(t)
	h.Tell(t, &boothv1.BoothDefined{
		BoothId: "booth-1", ZoneId: "room", FirstCoatMin: 20, ProcessMin: 60, Coats: []floorv1.Coat{floorv1.Coat_COAT_WATERBORNE},
		Setups: []*boothv1.BoothDefined_Setup{{From: "", To: "blue", Minutes: 40}, {From: "blue", To: "blue", Minutes: 5}},
	})
	h.lay()
	h.wait(3 * time.Hour) // its beads are open
	return h
}

func (h *planned) prepares(colour string) (at time.Time) {
	h.t.Helper()
	h.Tell(h.t, &boothv1.BoothPhaseChanged{BoothId: "booth-1", Phase: boothv1.Phase_PHASE_PREPARING, Colour: colour})
	h.Writer.View(func(uint64) { at = h.Floor.Booth("booth-1").PhaseFrom })
	return at
}

// A setup that was told of runs from when it began: the start that follows it
// stays, where one that nobody has begun moves on minute by minute.
func TestASetupThatWasToldOfRuns(t *testing.T) {
	h := changing(t)
	start := func() time.Time { return h.of(h.think(), "2207-A").GetStart().AsTime() }
	first := start()
	h.wait(10 * time.Minute)
	if moved := start().Sub(first); moved < 10*time.Minute {
		t.Errorf("nobody has begun the setup, and its load starts %s later after 11 min", moved)
	}
	begun := h.prepares("blue")
	want := upToMinute(begun.Add(40 * time.Minute))
	for range 3 {
		if got := start(); !got.Equal(want) {
			t.Fatalf("the setup began at %s, its load starts at %s, want %s", begun, got, want)
		}
		h.wait(10 * time.Minute)
	}
	if why := h.of(h.think(), "2207-A").GetWhy(); !strings.HasPrefix(why, "waits until the gun of booth-1 is set up to blue at ") {
		t.Errorf("why: %q", why)
	}
	h.prepares("blue") // pressed again: it goes on
	if got := start(); !got.Equal(want) {
		t.Errorf("told again, its load starts at %s, want %s", got, want)
	}
	h.wait(time.Hour)
	l := h.of(h.think(), "2207-A")
	if d := l.GetStart().AsTime().Sub(h.Time.Now()); d > time.Minute {
		t.Errorf("the gun is set up, and its load starts %s from now: %s", d, l.GetWhy())
	}
	h.Tell(t, &boothv1.BoothPhaseChanged{BoothId: "booth-1", Phase: boothv1.Phase_PHASE_IDLE})
	if d := start().Sub(h.Time.Now()); d > 6*time.Minute { // blue to blue
		t.Errorf("what was set up is in the gun no more: its load starts %s from now", d)
	}
}

// One that is broken off leaves what was in the gun.
func TestASetupThatIsBrokenOff(t *testing.T) {
	h := changing(t)
	h.prepares("blue")
	h.wait(30 * time.Minute)
	h.Tell(t, &boothv1.BoothPhaseChanged{BoothId: "booth-1", Phase: boothv1.Phase_PHASE_IDLE})
	if d := h.of(h.think(), "2207-A").GetStart().AsTime().Sub(h.Time.Now()); d < 39*time.Minute {
		t.Errorf("broken off after 30 of 40 min, its load starts %s from now", d)
	}
}

// Of two things that end minutes apart the later one is named, also where all
// lengths of the plan are multiples of five minutes.
func TestWhatEndsLastIsNamed(t *testing.T) {
	h := changing(t)
	h.prepares("blue")
	for range 20 { // readings grow stale, and what holds a load is reckoned to last half an hour from now
		h.pass(time.Minute)
		l := h.of(h.think(), "2207-A")
		if at := " at " + l.GetStart().AsTime().Format("15:04"); !strings.Contains(l.GetWhy(), at) {
			t.Fatalf("it starts%s: %q", at, l.GetWhy())
		}
	}
}

// A colour is told with the setup only, and only one that the booth knows.
func TestASetupIsToAColourThatTheBoothKnows(t *testing.T) {
	h := changing(t)
	before := h.seq()
	for want, e := range map[string]*boothv1.BoothPhaseChanged{
		"left out: the gun is set up while the booth is preparing, not while it is baking": {BoothId: "booth-1", Phase: boothv1.Phase_PHASE_BAKING, Colour: "blue"},
		"knows how to change to: blue": {BoothId: "booth-1", Phase: boothv1.Phase_PHASE_PREPARING, Colour: "pink"},
		"booth-9":                      {BoothId: "booth-9", Phase: boothv1.Phase_PHASE_PREPARING, Colour: "blue"},
	} {
		c := floor.Command{Stamp: h.Stamp(floorv1.Role_ROLE_PAINTER), Body: e}
		if _, err := h.Desk.Record(t.Context(), c, booth.Decide); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v: %v, want it to say %q", e, err, want)
		}
	}
	if h.seq() != before {
		t.Errorf("the journal went from %d to %d", before, h.seq())
	}
}

func upToMinute(t time.Time) time.Time {
	return t.Add(time.Minute - time.Nanosecond).Truncate(time.Minute)
}
