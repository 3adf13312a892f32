package floor_test

import (
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

func stamp(role floorv1.Role, kind floorv1.AgeKind, age, before, after time.Duration) *floorv1.Stamp {
	return &floorv1.Stamp{
		CommandId: "command-0001", Actor: "Robin", Role: role, Terminal: "tab-1",
		Age: &floorv1.Age{Kind: kind, Length: durationpb.New(age), OffsetBeforeMs: before.Milliseconds(), OffsetAfterMs: after.Milliseconds()},
	}
}

// TestPlaceInTime: the moment of a fact, and the ends that each side of a
// clock counts from.
func TestPlaceInTime(t *testing.T) {
	const (
		tech     = floorv1.Role_ROLE_TECHNICIAN
		foreman  = floorv1.Role_ROLE_FOREMAN
		live     = floorv1.AgeKind_AGE_KIND_LIVE
		measured = floorv1.AgeKind_AGE_KIND_MEASURED
		claimed  = floorv1.AgeKind_AGE_KIND_CLAIMED
		signed   = floorv1.AgeKind_AGE_KIND_SIGNED
	)
	ago := func(min float64) time.Time { return noon.Add(-time.Duration(min * float64(time.Minute))) }
	for _, c := range []struct {
		name            string
		stamp           *floorv1.Stamp
		kind            floor.AgeKind
		at, early, late time.Time
	}{
		{"as it happened", stamp(tech, live, 0, 0, 0), floor.AgeLive, noon, noon, noon},
		{"by a clock that ran true", stamp(tech, measured, 20*time.Minute, 0, 2*time.Second), floor.AgeMeasured, ago(20), ago(20), ago(20)},
		{"by a clock that jumped", stamp(tech, measured, 20*time.Minute, -time.Second, 119*time.Second), floor.AgeUncertain, ago(20), ago(22), ago(18)},
		{"by a clock that jumped back", stamp(tech, measured, 20*time.Minute, 0, -2*time.Minute), floor.AgeUncertain, ago(20), ago(22), ago(18)},
		{"never after it was heard", stamp(tech, measured, time.Minute, 0, 3*time.Minute), floor.AgeUncertain, ago(1), ago(4), noon},
		{"by word of mouth", stamp(tech, claimed, 20*time.Minute, 0, 0), floor.AgeClaimed, ago(20), ago(20), noon},
		{"signed by a foreman", stamp(foreman, signed, 20*time.Minute, 0, 0), floor.AgeSigned, ago(20), ago(20), ago(20)},
	} {
		t.Run(c.name, func(t *testing.T) {
			h, err := floor.Place(c.stamp, noon)
			if err != nil {
				t.Fatal(err)
			}
			if h.AgeKind != c.kind || !h.Occurred.Equal(c.at) || !h.Earliest.Equal(c.early) || !h.Latest.Equal(c.late) {
				t.Errorf("%s at %s between %s and %s, want %s at %s between %s and %s",
					h.AgeKind, h.Occurred, h.Earliest, h.Latest, c.kind, c.at, c.early, c.late)
			}
		})
	}
	for _, c := range []struct {
		name  string
		stamp *floorv1.Stamp
		kind  fault.Kind
	}{
		{"from the future", stamp(tech, measured, -time.Second, 0, 0), fault.Invalid},
		{"older than 90 days", stamp(tech, measured, 91*24*time.Hour, 0, 0), fault.Invalid},
		{"live with an age", stamp(tech, live, time.Second, 0, 0), fault.Invalid},
		{"no kind of age", stamp(tech, 0, 0, 0, 0), fault.Invalid},
		{"signed by a technician", stamp(tech, signed, time.Minute, 0, 0), fault.Denied},
	} {
		t.Run(c.name, func(t *testing.T) {
			if _, err := floor.Place(c.stamp, noon); err == nil || fault.KindOf(err) != c.kind {
				t.Errorf("%v, want a fault of kind %s", err, c.kind)
			}
		})
	}
}

// TestSafeEnds: what must be reached counts from the latest end of laying,
// what must not be passed from the earliest moment that material moved.
func TestSafeEnds(t *testing.T) {
	for _, c := range []struct{ age, ready, spent string }{
		{"", "08:30:00", "08:28:00"},
		{"measured 10m", "08:20:00", "08:18:00"},
		{"measured 10m clock-jumped 5m", "08:25:00", "08:13:00"},
		{"claimed 10m", "08:30:00", "08:18:00"},
		{"terminal tab-1 measured 10m clock-jumped 1s", "08:20:00", "08:18:00"},
	} {
		p := shop(t)
		p.do(seams + "\nat 08:30 lay 2207/hem 10ml over 2m " + c.age)
		b := p.floor().Seam("2207/hem").Bead
		if r, s := b.ReadyFrom.Format(time.TimeOnly), b.SpentFrom.Format(time.TimeOnly); r != c.ready || s != c.spent {
			t.Errorf("%q: ready from %s, spent from %s, want %s and %s", c.age, r, s, c.ready, c.spent)
		}
	}
}

// What must not be passed counts from the nozzle's flow before, when that is
// earlier than the begin of laying.
func TestSpentFromThePreviousFlow(t *testing.T) {
	p := shop(t)
	p.do(seams + "\n" + ready("L-mb") + layHem + "\nwait 3m lay 2207/rip cartridge C1 nozzle N1 5ml over 1m")
	for id, want := range map[floor.SeamID]string{"2207/hem": "08:05:00", "2207/rip": "08:07:00"} {
		if got := p.floor().Seam(id).Bead.SpentFrom.Format(time.TimeOnly); got != want {
			t.Errorf("%s is spent from %s, want %s", id, got, want)
		}
	}
}
