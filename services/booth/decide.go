package booth

import (
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// Decide makes the event of a fact of this service.
func Decide(f *floor.Floor, c floor.Command, at time.Time) (floor.Event, error) {
	switch c.Body.(type) {
	case *boothv1.BoothDefined, *boothv1.LoadPlanned, *boothv1.SprayStarted, *boothv1.BoothPhaseChanged,
		*boothv1.LoadFinished, *boothv1.BoothFaulted, *boothv1.BoothReset:
		return f.Decide(c, at)
	}
	return floor.Event{}, fault.Bad("fact", c.Body.ProtoReflect().Descriptor().FullName(), "a fact of a booth; tell others to the service that they belong to")
}
