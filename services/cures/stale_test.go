package cures_test

import (
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/cures"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/record/recordtest"
)

// A zone must not count readings as stale sooner than thinning keeps the next
// one of a steady probe; what was told so before still folds.
func TestAZoneOutlivesThinning(t *testing.T) {
	zone := func(stale time.Duration) floor.Command {
		return floor.Command{
			Stamp: &floorv1.Stamp{
				CommandId: "z-1", Actor: "Ansa Vellacorn", Role: floorv1.Role_ROLE_FOREMAN, Terminal: "desk",
				Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
			},
			Body: &curesv1.ZoneDefined{
				ZoneId: "room", LimitLowC: 5, LimitHighC: 35, ProbeErrorC: 0.5, DriftCPerMin: 0.2,
				StaleAfter: durationpb.New(stale), Settling: durationpb.New(30 * time.Minute),
			},
		}
	}
	for _, short := range []time.Duration{time.Second, time.Minute, 2 * time.Minute, 3*time.Minute - 1} {
		_, err := cures.Decide(floor.New(), zone(short), recordtest.Monday)
		if fault.KindOf(err) != fault.Invalid || !strings.Contains(err.Error(), short.String()) || !strings.Contains(err.Error(), "at least 3m0s") {
			t.Errorf("stale after %s: %v", short, err)
		}
	}
	if _, err := cures.Decide(floor.New(), zone(3*time.Minute), recordtest.Monday); err != nil {
		t.Errorf("stale after 3 minutes: %v", err)
	}
	fl := floor.New()
	e, err := fl.Decide(zone(time.Minute), recordtest.Monday) // as it was once decided
	if err != nil {
		t.Fatal(err)
	}
	if e.Seq = 1; fl.Apply(e) != nil {
		t.Errorf("an old definition does not fold")
	}
}
