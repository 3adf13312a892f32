package cures

import (
	"fmt"
	"time"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// Decide makes the event of a fact of this service.
func Decide(f *floor.Floor, c floor.Command, at time.Time) (floor.Event, error) {
	switch b := c.Body.(type) {
	case *curesv1.ZoneDefined:
		if d := b.GetStaleAfter(); d != nil && d.AsDuration() < leastStale {
			return floor.Event{}, fault.Bad("zone_defined.stale_after", d.AsDuration(), fmt.Sprintf(
				"at least %s, for readings of steady air are thinned to one in %s and would count as stale though the probe is well; tell %s or more",
				leastStale, keepAfter, leastStale))
		}
		return f.Decide(c, at)
	case *curesv1.StageObserved:
		return f.Decide(c, at)
	case *curesv1.ReadingTaken:
		if b.GetProbeId() == "" && !b.GetByHand() {
			return floor.Event{}, fault.Bad("reading_taken.probe_id", "nothing", "name the probe, or say that it was read by hand")
		}
		return f.Decide(c, at)
	}
	return floor.Event{}, fault.Bad("fact", c.Body.ProtoReflect().Descriptor().FullName(), "a zone, a reading or an observed stage; tell others to the service that they belong to")
}
