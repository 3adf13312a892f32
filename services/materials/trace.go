package materials

import (
	"context"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// TraceLot shows where a lot went. A lot that nobody ever named is a not
// found fault.
func (s *Server) TraceLot(ctx context.Context, req *materialsv1.TraceLotRequest) (*materialsv1.TraceLotResponse, error) {
	var resp *materialsv1.TraceLotResponse
	err := s.desk.View(ctx, req.GetMinSequence(), func(f *floor.Floor, now time.Time) {
		if t, ok := f.Trace(floor.LotID(req.GetLotId())); ok {
			resp = traced(f, t)
			resp.Sequence, resp.Now = f.Seq(), timestamppb.New(now)
		}
	})
	if err != nil {
		return nil, err
	}
	if resp == nil {
		return nil, fault.Missing("lot", req.GetLotId(), "receive it first, or correct the number")
	}
	return resp, nil
}

func traced(f *floor.Floor, t floor.Trace) *materialsv1.TraceLotResponse {
	out := &materialsv1.TraceLotResponse{
		Lot:      &materialsv1.Lot{LotId: string(t.ID), Recalled: !t.Recalled.IsZero()},
		Received: moment(t.Received), Recalled: moment(t.Recalled), RecallWhy: t.Why,
	}
	if l := f.Lot(t.ID); l != nil {
		out.Lot, out.Cartridges = lot(f, l), int32(l.Received)
	}
	for _, u := range t.Uses {
		out.Uses = append(out.Uses, lotUse(u))
	}
	return out
}

func lotUse(u floor.Traced) *materialsv1.LotUse {
	out := &materialsv1.LotUse{
		Sequence: u.Seq, Ro: string(u.Seam.RO()), SeamId: string(u.Seam), Layer: floor.Enum[floorv1.Layer](string(u.Layer)),
		CartridgeId: string(u.Cartridge), Laid: moment(u.At), Basis: floor.Enum[materialsv1.VolumeBasis](string(u.Basis)),
		JobState: string(u.Job), OnHold: u.OnHold, Removed: moment(u.Removed),
	}
	switch u.Basis {
	case floor.VolumeWithBead, floor.VolumeUnknown:
	default:
		ml := u.Volume.ML()
		out.VolumeMl = &ml
	}
	if u.Basis == floor.VolumeCorrected {
		ml := u.Booked.ML()
		out.PlannedMl = &ml
	}
	if u.Finding != nil {
		out.FindingId, out.Disposition, out.AnsweredBy = string(u.Finding.ID), u.Finding.Answer, u.Finding.AnsweredBy
	}
	return out
}
