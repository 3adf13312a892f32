package main

import (
	"context"
	"fmt"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/record/recordtest"
)

// furnish gives the shop a bay, a booth, a product whose clocks end within
// seconds, and a load that is soon ready.
func (c *crash) furnish() {
	c.t.Helper()
	s := clientsOf(c.conn)
	desk := func() *floorv1.Stamp { return c.stamp("import", floorv1.Role_ROLE_MACHINE, "desk") }
	bay := func() *floorv1.Stamp {
		return c.stamp("Tamsin Orrable", floorv1.Role_ROLE_TECHNICIAN, "bay-1-tablet")
	}
	for _, z := range []string{"bay-1", "room"} {
		tell(c, s.cures.Record, &curesv1.RecordRequest{Stamp: desk(), Fact: &curesv1.RecordRequest_ZoneDefined{ZoneDefined: &curesv1.ZoneDefined{
			ZoneId: z, LimitLowC: 5, LimitHighC: 35, ProbeErrorC: 0.5, DriftCPerMin: 0.2, Works: z == "bay-1", Terminals: tablets(z),
			StaleAfter: durationpb.New(15 * time.Minute), Settling: durationpb.New(2 * time.Second), // so that beads settle while the test runs
		}}})
		tell(c, s.cures.Record, &curesv1.RecordRequest{Stamp: desk(), Fact: &curesv1.RecordRequest_ReadingTaken{ReadingTaken: &curesv1.ReadingTaken{ZoneId: z, ProbeId: z + "-probe", TempC: 21, RhPercent: proto.Float64(45)}}})
	}
	quick := recordtest.Levelling()
	quick.Cure.NozzleGelMin, quick.Cure.ToolingMin, quick.Cure.FlowOutMin = proto.Float64(0.01), proto.Float64(0.005), proto.Float64(0.004)
	quick.Cure.HandlingMin, quick.Cure.FullCureMin, quick.Cure.Over[0].OpensMin = proto.Float64(0.006), proto.Float64(0.01), 0.005
	tell(c, s.materials.Record, &materialsv1.RecordRequest{Stamp: desk(), Fact: &materialsv1.RecordRequest_ProductDefined{ProductDefined: quick}})
	tell(c, s.materials.Record, &materialsv1.RecordRequest{Stamp: desk(), Fact: &materialsv1.RecordRequest_LotReceived{LotReceived: &materialsv1.LotReceived{LotId: "L1", ProductId: "sl", Cartridges: 9000}}})
	tell(c, s.materials.Record, &materialsv1.RecordRequest{Stamp: desk(), Fact: &materialsv1.RecordRequest_CartridgeOpened{CartridgeOpened: &materialsv1.CartridgeOpened{CartridgeId: "C0", LotId: "L1"}}})
	tell(c, s.materials.Record, &materialsv1.RecordRequest{Stamp: desk(), Fact: &materialsv1.RecordRequest_CartridgeEqualised{CartridgeEqualised: &materialsv1.CartridgeEqualised{CartridgeId: "C0", VolumeMl: proto.Float64(1)}}})
	tell(c, s.booth.Record, &boothv1.RecordRequest{Stamp: desk(), Fact: &boothv1.RecordRequest_BoothDefined{BoothDefined: &boothv1.BoothDefined{BoothId: "booth-1", ZoneId: "room", FirstCoatMin: 20, ProcessMin: 60}}})
	tell(c, s.jobs.Record, jobOpened(desk(), "ready"))
	tell(c, s.jobs.Record, surveyed(desk(), "ready/rd-l"))
	tell(c, s.booth.Record, &boothv1.RecordRequest{Stamp: desk(), Fact: &boothv1.RecordRequest_LoadPlanned{LoadPlanned: &boothv1.LoadPlanned{LoadId: "ready-A", BoothId: "booth-1", Ro: "ready", Colour: "blue", SeamIds: []string{"ready/rd-l"}}}})
	tell(c, s.jobs.Record, &jobsv1.RecordRequest{Stamp: desk(), Fact: &jobsv1.RecordRequest_SeamPlanned{SeamPlanned: &jobsv1.SeamPlanned{
		SeamId: "ready/rd-l", ProductId: "sl", Profile: floorv1.Profile_PROFILE_LEVELLED, WidthMm: 12, HeightMm: 4,
		Technique: floorv1.Technique_TECHNIQUE_DIRECT_BEAD, VolumeMl: 60,
	}}})
	tell(c, s.jobs.Record, &jobsv1.RecordRequest{Stamp: bay(), Fact: &jobsv1.RecordRequest_SurfacePrepped{SurfacePrepped: &jobsv1.SurfacePrepped{SeamId: "ready/rd-l", Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER}}})
	tell(c, s.materials.Record, &materialsv1.RecordRequest{Stamp: bay(), Fact: &materialsv1.RecordRequest_NozzleFitted{NozzleFitted: &materialsv1.NozzleFitted{CartridgeId: "C0", NozzleId: "N0", Kind: "round"}}})
	tell(c, s.materials.Record, &materialsv1.RecordRequest{Stamp: bay(), Fact: &materialsv1.RecordRequest_CartridgePurged{CartridgePurged: &materialsv1.CartridgePurged{CartridgeId: "C0", VolumeMl: proto.Float64(1)}}})
	laid := beadLaid(bay(), "ready/rd-l", "C0", "N0")
	laid.GetBeadLaid().Technique, laid.GetBeadLaid().Profile = floorv1.Technique_TECHNIQUE_DIRECT_BEAD, floorv1.Profile_PROFILE_LEVELLED
	tell(c, s.jobs.Record, laid)
}

// tablets are the terminals of a zone; in a bay everybody has one, since one
// terminal may not ask for as much as a crowd does.
func tablets(zone string) []string {
	all := []string{zone + "-tablet"}
	for i := range crowdSize {
		all = append(all, fmt.Sprintf("%s-p%d", zone, i+1))
	}
	return all
}

// tell records a fact of the furnishing.
func tell[Req, Resp any](c *crash, record func(context.Context, Req, ...grpc.CallOption) (Resp, error), req Req) {
	c.t.Helper()
	if _, err := record(c.t.Context(), req); err != nil {
		c.t.Fatalf("%v: %v", req, err)
	}
}

type clients struct {
	jobs      jobsv1.JobsServiceClient
	materials materialsv1.MaterialsServiceClient
	cures     curesv1.CuresServiceClient
	booth     boothv1.BoothServiceClient
}

func clientsOf(conn *grpc.ClientConn) clients {
	return clients{
		jobsv1.NewJobsServiceClient(conn), materialsv1.NewMaterialsServiceClient(conn),
		curesv1.NewCuresServiceClient(conn), boothv1.NewBoothServiceClient(conn),
	}
}

func jobOpened(st *floorv1.Stamp, ro string) *jobsv1.RecordRequest {
	return &jobsv1.RecordRequest{Stamp: st, Fact: &jobsv1.RecordRequest_JobOpened{JobOpened: &jobsv1.JobOpened{
		Ro: ro, Vehicle: "blue hatchback", PaintColour: "blue", Coats: []floorv1.Coat{floorv1.Coat_COAT_WATERBORNE},
		Promised: timestamppb.New(time.Date(2030, 1, 1, 0, 0, 0, 0, time.UTC)),
	}}}
}

func surveyed(st *floorv1.Stamp, seam string) *jobsv1.RecordRequest {
	return &jobsv1.RecordRequest{Stamp: st, Fact: &jobsv1.RecordRequest_SeamSurveyed{SeamSurveyed: &jobsv1.SeamSurveyed{
		SeamId: seam, Panel: "roof", Place: "roof ditch", Side: "L", LengthMm: 1400,
		Orientation: floorv1.Orientation_ORIENTATION_LEVEL, Finish: floorv1.Finish_FINISH_COATED, Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER,
		Reference: &floorv1.Reference{Source: floorv1.ReferenceSource_REFERENCE_SOURCE_BEFORE_TEAR_DOWN, WidthMm: 12, HeightMm: 4},
	}}}
}

func beadLaid(st *floorv1.Stamp, seam, cartridge, nozzle string) *jobsv1.RecordRequest {
	return &jobsv1.RecordRequest{Stamp: st, Fact: &jobsv1.RecordRequest_BeadLaid{BeadLaid: &jobsv1.BeadLaid{
		SeamId: seam, CartridgeId: cartridge, NozzleId: nozzle, Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(1), SurfaceTempC: proto.Float64(21),
	}}}
}
