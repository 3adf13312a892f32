package cures

import (
	"time"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// Decide makes the event of a fact of this service.
func Decide(f *floor.Floor, c floor.Command, at time.Time) (floor.Event, error) {
	switch b := c.Body.(type) {
	case *curesv1.ZoneDefined, *curesv1.StageObserved:
		return f.Decide(c, at)
	case *curesv1.ReadingTaken:
		if b.GetProbeId() == "" && !b.GetByHand() {
			return floor.Event{}, fault.Bad("reading_taken.probe_id", "nothing", "name the probe, or say that it was read by hand")
		}
		return f.Decide(c, at)
	}
	return floor.Event{}, fault.Bad("fact", c.Body.ProtoReflect().Descriptor().FullName(), "a zone, a reading or an observed stage; tell others to the service that they belong to")
}
