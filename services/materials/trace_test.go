package materials_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/fault"
	"seamwright/services/record/recordtest"
)

// laid lays a bead on a new seam of a job; ml nil: as planned, 20 ml.
func laid(t *testing.T, s *recordtest.Shop, seam string, ml *float64) {
	t.Helper()
	ro, _, _ := strings.Cut(seam, "/")
	s.Tell(t, &jobsv1.JobOpened{Ro: ro, Vehicle: "van", Coats: []floorv1.Coat{floorv1.Coat_COAT_WATERBORNE}})
	s.Tell(t, &jobsv1.SeamSurveyed{SeamId: seam, Panel: "roof", Place: "roof ditch", Finish: floorv1.Finish_FINISH_COATED, Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER})
	s.Tell(t, &jobsv1.SeamPlanned{SeamId: seam, ProductId: "sl", Profile: floorv1.Profile_PROFILE_LEVELLED, Technique: floorv1.Technique_TECHNIQUE_DIRECT_BEAD, VolumeMl: 20})
	s.Tell(t, &jobsv1.BeadLaid{SeamId: seam, CartridgeId: "C1", Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: ml})
	if err := s.Time.Advance(time.Minute); err != nil {
		t.Fatal(err)
	}
}

func TestALotIsTracedToEverySeam(t *testing.T) {
	s, c := shop(t)
	for _, seam := range []string{"1/planned", "1/answered", "2/delivered", "3/cancelled", "4/removed"} {
		laid(t, s, seam, nil)
	}
	laid(t, s, "5/told", proto.Float64(30))
	// 200 - 5 x 20 - 30 = 70 ml by the book, 60 by the mark: each planned bead took 22 ml.
	tell(t, s, c, func(r *materialsv1.RecordRequest) {
		r.Fact = &materialsv1.RecordRequest_CartridgeWeighed{CartridgeWeighed: &materialsv1.CartridgeWeighed{CartridgeId: "C1", RemainingMl: 60, Marked: true}}
	})
	s.Tell(t, &jobsv1.JobDelivered{Ro: "2"})
	s.Tell(t, &jobsv1.JobCancelled{Ro: "3", Why: "written off"})
	s.Tell(t, &jobsv1.SeamReworked{SeamId: "4/removed", Why: "torn"})
	told := tell(t, s, c, func(r *materialsv1.RecordRequest) {
		r.Fact = &materialsv1.RecordRequest_LotRecalled{LotRecalled: &materialsv1.LotRecalled{LotId: "L1", Why: "lumps"}}
	})
	var finding string
	got := trace(t, c, "L1")
	for _, u := range got.GetUses() {
		if u.GetSeamId() == "1/answered" {
			finding = u.GetFindingId()
		}
	}
	s.Tell(t, &jobsv1.FindingDisposed{FindingId: finding, Disposition: floorv1.Disposition_DISPOSITION_ACCEPT, Reason: "the batch was tested"})
	got = trace(t, c, "L1")
	if got.GetRecallWhy() != "lumps" || got.GetRecalled() == nil || !got.GetLot().GetRecalled() || got.GetCartridges() != 6 ||
		!got.GetReceived().AsTime().Equal(recordtest.Monday) || got.GetLot().GetProductId() != "sl" || len(got.GetUses()) != 6 {
		t.Fatalf("%v", got)
	}
	sum := got.Lot.ShelfMl + got.Lot.OpenedMl + got.Lot.LaidMl + got.Lot.PurgedMl + got.Lot.DiscardedMl + got.Lot.UnexplainedMl
	if got.Lot.LaidMl != 140 || got.Lot.UnexplainedMl != 0 || math.Abs(sum-got.Lot.ReceivedMl) > 1e-9 {
		t.Errorf("lot %v", got.Lot)
	}
	for i, want := range []struct {
		seam, state, answered string
		ml                    float64
		basis                 materialsv1.VolumeBasis
		hold, removed, stop   bool
	}{
		{"1/planned", "open", "", 22, materialsv1.VolumeBasis_VOLUME_BASIS_CORRECTED, true, false, true},
		{"1/answered", "open", "Tamsin Orrable", 22, materialsv1.VolumeBasis_VOLUME_BASIS_CORRECTED, false, false, true},
		{"2/delivered", "delivered", "", 22, materialsv1.VolumeBasis_VOLUME_BASIS_CORRECTED, false, false, true},
		{"3/cancelled", "cancelled", "", 22, materialsv1.VolumeBasis_VOLUME_BASIS_CORRECTED, false, false, true},
		{"4/removed", "open", "", 22, materialsv1.VolumeBasis_VOLUME_BASIS_CORRECTED, false, true, false},
		{"5/told", "open", "", 30, materialsv1.VolumeBasis_VOLUME_BASIS_TOLD, true, false, true},
	} {
		u := got.Uses[i]
		at := recordtest.Monday.Add(time.Duration(i) * time.Minute)
		if u.SeamId != want.seam || u.Ro != want.seam[:1] || u.JobState != want.state || u.GetVolumeMl() != want.ml || u.Basis != want.basis || u.OnHold != want.hold ||
			(u.Removed != nil) != want.removed || (u.FindingId != "") != want.stop || u.AnsweredBy != want.answered || u.CartridgeId != "C1" ||
			u.Layer != floorv1.Layer_LAYER_BEAD || !u.Laid.AsTime().Equal(at) || (u.PlannedMl != nil) != (want.ml == 22) {
			t.Errorf("use %v, want %+v", u, want)
		}
	}
	if n := len(told.GetFindings()); n != 5 { // all that lies on a car, wherever that is
		t.Errorf("the recall raised %d findings, want 5", n)
	}
}

func trace(t *testing.T, c materialsv1.MaterialsServiceClient, lot string) *materialsv1.TraceLotResponse {
	t.Helper()
	r, err := c.TraceLot(t.Context(), &materialsv1.TraceLotRequest{LotId: lot})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// A lot that was never received is known by its cartridges and its recall.
func TestALotThatWasNeverReceivedIsTraced(t *testing.T) {
	s, c := shop(t)
	s.Tell(t, &materialsv1.CartridgeOpened{CartridgeId: "C7", LotId: "stray"})
	laid(t, s, "1/a", nil)
	s.Tell(t, &jobsv1.BeadLaid{SeamId: "1/a", CartridgeId: "C7", Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(5)})
	s.Tell(t, &materialsv1.LotRecalled{LotId: "stray", Why: "lumps"})
	got := trace(t, c, "stray")
	if got.Received != nil || got.Lot.ReceivedMl != 0 || !got.Lot.Recalled || len(got.Uses) != 1 || !got.Uses[0].OnHold || got.Uses[0].GetVolumeMl() != 5 {
		t.Errorf("%v", got)
	}
	if _, err := c.TraceLot(t.Context(), &materialsv1.TraceLotRequest{LotId: "none"}); fault.KindOf(err) != fault.NotFound || !strings.Contains(err.Error(), `lot "none" is not known; receive it first`) {
		t.Errorf("got %v", err)
	}
	if _, err := c.TraceLot(t.Context(), &materialsv1.TraceLotRequest{LotId: "a lot"}); fault.KindOf(err) != fault.Invalid {
		t.Errorf("got %v", err)
	}
}
