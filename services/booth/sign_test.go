package booth

import (
	"testing"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/clock"
	"seamwright/services/floor"
	"seamwright/services/journal"
	"seamwright/services/journal/memory"
	"seamwright/services/record"
)

// Only a permit of one's own that lacks nothing is shown as anything but HOLD.
func TestSignIsHoldUnlessAllIsSure(t *testing.T) {
	own := floor.Permit{ID: "P1", Holder: "gate-a"}
	over := own
	over.Override = true
	for name, c := range map[string]struct {
		p      floor.Permit
		holder string
		sound  bool
		want   boothv1.Sign
	}{
		"nothing":           {want: boothv1.Sign_SIGN_HOLD},
		"the zero permit":   {floor.Permit{}, "", true, boothv1.Sign_SIGN_HOLD},
		"one's own":         {own, "gate-a", true, boothv1.Sign_SIGN_CLEAR},
		"lacking something": {own, "gate-a", false, boothv1.Sign_SIGN_HOLD},
		"another's":         {own, "gate-b", true, boothv1.Sign_SIGN_HOLD},
		"an override":       {over, "gate-a", true, boothv1.Sign_SIGN_OVERRIDE},
		"overdone":          {over, "gate-a", false, boothv1.Sign_SIGN_HOLD},
	} {
		if got := sign(c.p, c.holder, c.sound); got != c.want {
			t.Errorf("%s: %s, want %s", name, got, c.want)
		}
	}
}

// A floor that cannot be evaluated (the gate's panic is one of its reasons)
// and a booth that it does not know hold.
func TestStateIsHoldWhereNothingIsKnown(t *testing.T) {
	f, at := floor.New(), time.Date(2026, 3, 2, 7, 30, 0, 0, time.UTC)
	g := NewGate(&record.Desk{Writer: journal.NewWriter(memory.New(memory.Options{}), f), Floor: f, Clock: clock.NewDriven(at)}, Options{Holder: "gate-a"})
	if s := g.state(f, "booth-9", floor.Live{}, at); s.GetSign() != boothv1.Sign_SIGN_HOLD {
		t.Errorf("unknown booth: %v", s)
	}
	lost := floor.Permit{ID: "P1", Booth: "booth-9", Load: "2207-A", Holder: "gate-a", StartBy: at.Add(time.Hour)}
	if rs := g.lacks(f, lost, floor.Live{}, at); len(rs) == 0 {
		t.Error("a permit for an unknown load at an unknown booth lacks nothing")
	}
	var broken *floor.Floor // any use of it panics
	if r := broken.Gate("2207-A", at, floor.Live{}); r.Clear() || len(r.Reasons) != 1 || r.Reasons[0].Name != floor.HoldPanic {
		t.Errorf("a floor that panics: %v", r)
	}
	if !beyondOverride(floor.HoldPanic) {
		t.Error("a foreman may override a gate that could not be evaluated")
	}
}
