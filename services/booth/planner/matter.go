package planner

import (
	"google.golang.org/protobuf/proto"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
)

// Matters reports whether a fact may change the plan at once. Readings do so
// by and by, and what the planner itself has told not at all.
func Matters(body proto.Message) bool {
	switch b := body.(type) {
	case *boothv1.LoadPlanned:
		return !b.GetMoved()
	case *curesv1.ReadingTaken, *curesv1.StageObserved,
		*jobsv1.PhotoAttached, *jobsv1.WaxApplied, *jobsv1.WaterTested, *jobsv1.SeamInspected, *jobsv1.BeadDeaired,
		*materialsv1.LotReceived, *materialsv1.CartridgeOpened, *materialsv1.CartridgeEqualised, *materialsv1.NozzleFitted,
		*materialsv1.CartridgePurged, *materialsv1.NozzleRemoved, *materialsv1.CartridgeStored, *materialsv1.CartridgeWeighed,
		*materialsv1.CartridgeEmptied, *materialsv1.StockCounted:
		return false
	}
	return body != nil
}
