package floortest

import (
	"time"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/floor"
)

// Shop is a shop that a scenario happens in. Its time stands still between
// calls of Advance. Facts told get the shop's present moment as receipt.
type Shop interface {
	// Now is the shop's present moment.
	Now() time.Time
	// Advance lets time pass. On return the shop has come to rest: what
	// fell due on the way was announced, and permits that lost a ground on
	// the way were revoked.
	Advance(to time.Time) error
	// Tell records a fact and returns when the shop has come to rest.
	Tell(c floor.Command) (*floorv1.Receipt, error)
	// Hear is a terminal's sign of life. It is no event.
	Hear(terminal string) error
	// Gate rules about a load at the present moment. Untouched is a
	// painter's word that no bead was touched.
	Gate(load floor.LoadID, untouched bool) (floor.Ruling, error)
	// Permit asks for leave to spray a load; when the gate holds, the
	// ruling says why and nothing is recorded.
	Permit(s *floorv1.Stamp, load floor.LoadID, untouched bool) (floor.Ruling, error)
	// Override gives leave over the reasons to hold, for minutes.
	Override(s *floorv1.Stamp, load floor.LoadID, reason string, minutes float64) (floor.Ruling, error)
	// Return gives the running permit of a load back.
	Return(s *floorv1.Stamp, load floor.LoadID) error
	// Look shows the floor while it stands still.
	Look(fn func(f *floor.Floor))
}
