package rpc_test

import (
	"math"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/anypb"
	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/fault"
	"seamwright/services/rpc"
)

func stamp() *floorv1.Stamp {
	return &floorv1.Stamp{
		CommandId: "c-00000001", Actor: "Tamsin Orrable", Role: floorv1.Role_ROLE_TECHNICIAN, Terminal: "bay-1-tablet",
		Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
	}
}

func laid(b *jobsv1.BeadLaid) *jobsv1.RecordRequest {
	if b.SeamId == "" {
		b.SeamId = "2207/rd-l"
	}
	if b.Layer == 0 {
		b.Layer = floorv1.Layer_LAYER_BEAD
	}
	return &jobsv1.RecordRequest{Stamp: stamp(), Fact: &jobsv1.RecordRequest_BeadLaid{BeadLaid: b}}
}

func opened(promised *timestamppb.Timestamp) *jobsv1.RecordRequest {
	return &jobsv1.RecordRequest{Stamp: stamp(), Fact: &jobsv1.RecordRequest_JobOpened{
		JobOpened: &jobsv1.JobOpened{Ro: "2207", Vehicle: "blue hatchback", Promised: promised},
	}}
}

func corrected(t *testing.T, body proto.Message) *jobsv1.RecordRequest {
	t.Helper()
	a, err := anypb.New(body)
	if err != nil {
		t.Fatal(err)
	}
	return &jobsv1.RecordRequest{Stamp: stamp(), Fact: &jobsv1.RecordRequest_FactCorrected{
		FactCorrected: &jobsv1.FactCorrected{Sequence: 3, Why: "mistyped", Body: a},
	}}
}

func TestGoodFactsPass(t *testing.T) {
	for _, m := range []proto.Message{
		laid(&jobsv1.BeadLaid{VolumeMl: proto.Float64(0)}),
		corrected(t, &jobsv1.BeadTooled{SeamId: "2207/rd-l"}),
		&jobsv1.ListJobsRequest{},
	} {
		if err := rpc.Check(m); err != nil {
			t.Errorf("%v: %v", m, err)
		}
	}
}

func TestWhatIsWrongIsNamedWithPathValueAndLimit(t *testing.T) {
	noStamp := laid(&jobsv1.BeadLaid{})
	noStamp.Stamp = nil
	assessed := laid(&jobsv1.BeadLaid{Assessment: &floorv1.Assessment{}})
	badRole := laid(&jobsv1.BeadLaid{})
	badRole.Stamp.Role = 77
	roleless := laid(&jobsv1.BeadLaid{})
	roleless.Stamp.Role = 0
	farClock := laid(&jobsv1.BeadLaid{})
	farClock.Stamp.Age = &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_MEASURED, OffsetAfterMs: 18446744073709}
	forged := laid(&jobsv1.BeadLaid{})
	forged.Stamp.Actor = "Tamsin Orrable\n08:00 permit"
	run := &jobsv1.RecordRequest{Stamp: stamp(), Fact: &jobsv1.RecordRequest_RunLaid{RunLaid: &jobsv1.RunLaid{
		Passes: []*jobsv1.RunLaid_Pass{
			{SeamId: "2207/rd-l", Layer: floorv1.Layer_LAYER_BEAD},
			{SeamId: "2207/rd-r", Layer: floorv1.Layer_LAYER_BEAD, PlannedMl: 4},
		},
	}}}
	unknown := corrected(t, &jobsv1.BeadTooled{SeamId: "2207/rd-l"})
	unknown.GetFactCorrected().Body.TypeUrl = "type.googleapis.com/seamwright.jobs.v1.NoSuch"
	for name, c := range map[string]struct {
		m    proto.Message
		path string
		in   string // stands in the message
	}{
		"negative volume":       {laid(&jobsv1.BeadLaid{VolumeMl: proto.Float64(-1)}), "bead_laid.volume_ml", "-1"},
		"volume not a number":   {laid(&jobsv1.BeadLaid{VolumeMl: proto.Float64(math.NaN())}), "bead_laid.volume_ml", "NaN"},
		"endless temperature":   {laid(&jobsv1.BeadLaid{SurfaceTempC: proto.Float64(math.Inf(1))}), "bead_laid.surface_temp_c", "Inf"},
		"ill-formed seam":       {laid(&jobsv1.BeadLaid{SeamId: "roof ditch"}), "bead_laid.seam_id", `"roof ditch"`},
		"no fact":               {&jobsv1.RecordRequest{Stamp: stamp()}, "fact", "nothing"},
		"no stamp":              {noStamp, "stamp", "nothing"},
		"unknown role":          {badRole, "stamp.role", "77: must be one of ROLE_TECHNICIAN, "},
		"role not told":         {roleless, "stamp.role", "ROLE_UNSPECIFIED: must be one of ROLE_TECHNICIAN, "},
		"offset beyond 90 days": {farClock, "stamp.age.offset_after_ms", "18446744073709"},
		"name of two lines":     {forged, "stamp.actor", "permit"},
		"assessment":            {assessed, "bead_laid.assessment", "leave it empty"},
		"planned volume":        {laid(&jobsv1.BeadLaid{PlannedMl: 3}), "bead_laid.planned_ml", "leave it empty"},
		"nested planned":        {run, "run_laid.passes[1].planned_ml", "leave it empty"},
		"moment long past":      {opened(&timestamppb.Timestamp{Seconds: -62135596900}), "job_opened.promised", "1970 to 2199"},
		"moment of no clock":    {opened(&timestamppb.Timestamp{Nanos: -1}), "job_opened.promised", "1970 to 2199"},
		"packed assessment":     {corrected(t, &jobsv1.BeadTooled{SeamId: "2207/rd-l", Assessment: &floorv1.Assessment{}}), "fact_corrected.body.assessment", "leave it empty"},
		"packed breaks a rule":  {corrected(t, &jobsv1.BeadTooled{SeamId: "x"}), "fact_corrected.body.seam_id", `"x"`},
		"packed unknown type":   {unknown, "fact_corrected.body", "NoSuch"},
	} {
		err := rpc.Check(c.m)
		f, ok := err.(*fault.Error)
		if !ok || f.Kind != fault.Invalid {
			t.Errorf("%s: %v, want an invalid fault", name, err)
			continue
		}
		if f.Fields[0].Path != c.path || !strings.Contains(f.Message, c.in) {
			t.Errorf("%s: path %q, message %q; want %q with %q", name, f.Fields[0].Path, f.Message, c.path, c.in)
		}
	}
}

func TestAPINIsNeverShown(t *testing.T) {
	err := rpc.Check(&boothv1.OverrideRequest{Stamp: stamp(), BoothId: "booth-1", LoadId: "2207-A", Pin: "12345x", Reason: "late", Minutes: 5})
	if err == nil || strings.Contains(err.Error(), "12345x") || !strings.Contains(err.Error(), "pin: (not shown)") {
		t.Errorf("got %v", err)
	}
}
