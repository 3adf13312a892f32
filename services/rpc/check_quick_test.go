package rpc

import (
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/anypb"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/fault"
)

// The quick look and the thorough one agree: what the first lets pass, the
// second finds nothing in.
func TestFaultlessMessagesNeedNoWalk(t *testing.T) {
	packed, err := anypb.New(&jobsv1.BeadLaid{Assessment: &floorv1.Assessment{}})
	if err != nil {
		t.Fatal(err)
	}
	good := &jobsv1.JobOpened{Ro: "2207", Promised: timestamppb.New(time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC))}
	run := func(p ...*jobsv1.RunLaid_Pass) *jobsv1.RunLaid { return &jobsv1.RunLaid{Passes: p} }
	for name, c := range map[string]struct {
		m     proto.Message
		found bool
	}{
		"nothing in it":      {&jobsv1.JobOpened{}, false},
		"a moment":           {good, false},
		"no moment":          {&jobsv1.JobOpened{Promised: &timestamppb.Timestamp{Seconds: 1 << 60}}, true},
		"server-written":     {&jobsv1.BeadLaid{Assessment: &floorv1.Assessment{}}, true},
		"in a request":       {&jobsv1.RecordRequest{Fact: &jobsv1.RecordRequest_BeadLaid{BeadLaid: &jobsv1.BeadLaid{Assessment: &floorv1.Assessment{}}}}, true},
		"in a list":          {run(&jobsv1.RunLaid_Pass{}, &jobsv1.RunLaid_Pass{Lasted: &durationpb.Duration{Seconds: 1, Nanos: -1}}), true},
		"a good list":        {run(&jobsv1.RunLaid_Pass{Lasted: durationpb.New(time.Second)}), false},
		"packed":             {&jobsv1.FactCorrected{Body: packed}, true},
		"by the field's own": {run(&jobsv1.RunLaid_Pass{PlannedMl: 3}), true},
	} {
		var all []*fault.Error
		walk(c.m.ProtoReflect(), "", &all)
		if (len(all) > 0) != c.found {
			t.Errorf("%s: the walk finds %v", name, all)
		}
		if faultless(c.m.ProtoReflect()) && len(all) > 0 {
			t.Errorf("%s: passes the quick look", name)
		}
		if !faultless(c.m.ProtoReflect()) && !c.found && name != "packed" {
			t.Errorf("%s: a faultless message is walked", name)
		}
	}
}
