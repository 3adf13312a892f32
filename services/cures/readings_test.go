package cures_test

import (
	"slices"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/cures"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/record/recordtest"
)

// shop is a furnished shop with the service in front of it.
func shop(t *testing.T) (*recordtest.Shop, curesv1.CuresServiceClient) {
	t.Helper()
	s := recordtest.New()
	c := s.Serve(t, cures.NewServer(s.Desk).Register)
	s.Furnish(t)
	return s, curesv1.NewCuresServiceClient(c)
}

func reading(s *recordtest.Shop, c float64) *curesv1.RecordRequest {
	return &curesv1.RecordRequest{
		Stamp: s.Stamp(floorv1.Role_ROLE_MACHINE),
		Fact:  &curesv1.RecordRequest_ReadingTaken{ReadingTaken: &curesv1.ReadingTaken{ZoneId: "bay-1", ProbeId: "p1", TempC: c}},
	}
}

func send(t *testing.T, c curesv1.CuresServiceClient, req *curesv1.RecordRequest) *curesv1.RecordResponse {
	t.Helper()
	r, err := c.Record(t.Context(), req)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// Kept: more than 0.2 K from the last one kept, or 2 minutes after it; never
// within 10 s, unless it leaps beyond what the last one covers.
func TestReadingsAreThinnedWhereTheyEnter(t *testing.T) {
	s, c := shop(t)
	var kept uint64
	for _, step := range []struct {
		after time.Duration
		tempC float64
		keep  bool
	}{
		{0, 21, true}, // the first
		{9999 * time.Millisecond, 22.3, false},
		{time.Millisecond, 21.2, false}, // 10 s: inside the dead band
		{time.Millisecond, 21.21, true},
		{10 * time.Second, 21.42, true},
		{2*time.Minute - time.Millisecond, 21.42, false},
		{time.Millisecond, 21.42, true},
		{9 * time.Second, 20.1, false},
		{time.Second, 20.1, true},
		// A leap: 2 x (0.5 + 0.2) K and the drift do not reach so far.
		{999 * time.Millisecond, 45, false},
		{time.Millisecond, 45, true},
		{2 * time.Second, 44, false},
		{time.Second, 20, true},
	} {
		if err := s.Time.Advance(step.after); err != nil {
			t.Fatal(err)
		}
		before := s.Writer.Seq()
		r := send(t, c, reading(s, step.tempC))
		if r.GetThinned() == step.keep || (s.Writer.Seq() > before) != step.keep {
			t.Errorf("%s, %g °C: thinned %v, want %v", step.after, step.tempC, r.GetThinned(), !step.keep)
		}
		if !step.keep && r.GetReceipt().GetSequence() != kept {
			t.Errorf("%s, %g °C: the receipt names %d, reading %d stands for it", step.after, step.tempC, r.GetReceipt().GetSequence(), kept)
		}
		if step.keep {
			kept = r.GetReceipt().GetSequence()
		}
	}
}

func TestWhatIsNotThinned(t *testing.T) {
	s, c := shop(t)
	first := reading(s, 21)
	stored := send(t, c, first).GetReceipt().GetSequence()
	if err := s.Time.Advance(time.Minute); err != nil {
		t.Fatal(err)
	}
	again := send(t, c, first)
	if again.GetThinned() || !again.GetReceipt().GetRepeated() || again.GetReceipt().GetSequence() != stored {
		t.Errorf("told again: %v, want its own receipt %d", again, stored)
	}
	other := reading(s, 21)
	other.GetReadingTaken().ProbeId = "p2"
	hand := reading(s, 21)
	hand.GetReadingTaken().ProbeId, hand.GetReadingTaken().ByHand = "", true
	late := reading(s, 21)
	late.Stamp.Age = &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_MEASURED, Length: durationpb.New(90 * time.Second)}
	for name, req := range map[string]*curesv1.RecordRequest{"another probe": other, "by hand": hand, "late": late} {
		if r := send(t, c, req); r.GetThinned() {
			t.Errorf("%s was thinned", name)
		}
	}
	next := recordtest.Shop{Desk: s.Desk, Time: s.Time, Journal: s.Journal}
	restarted := curesv1.NewCuresServiceClient(next.Serve(t, cures.NewServer(s.Desk).Register))
	req := reading(s, 21)
	req.Stamp.CommandId = "after-the-restart"
	if r := send(t, restarted, req); r.GetThinned() {
		t.Error("the first reading after a start was thinned")
	}
}

func trace(s *recordtest.Shop, temps ...float64) *curesv1.TakeReadingsRequest {
	req := &curesv1.TakeReadingsRequest{Stamp: s.Stamp(floorv1.Role_ROLE_MACHINE), ZoneId: "bay-1", ProbeId: "logger"}
	for i, c := range temps {
		at := recordtest.Monday.Add(-time.Hour + time.Duration(i)*time.Minute + 123456*time.Nanosecond)
		req.Samples = append(req.Samples, &curesv1.Sample{Time: timestamppb.New(at), TempC: c})
	}
	return req
}

func TestATraceIsStoredOnceAtItsOwnMoments(t *testing.T) {
	s, c := shop(t)
	if err := s.Time.Advance(777 * time.Microsecond); err != nil { // no whole millisecond
		t.Fatal(err)
	}
	req := trace(s, 20, 20.1, 20.1, 23, 23, 20)
	first, err := c.TakeReadings(t.Context(), req)
	if err != nil || first.GetStored() != 4 || first.GetThinned() != 2 {
		t.Fatalf("%v, %v; want 4 stored, 2 thinned", first, err)
	}
	var at []time.Time
	for seq := first.GetSequence() - 3; seq <= first.GetSequence(); seq++ {
		ev, _, _ := s.Floor.Event(seq)
		at = append(at, ev.Occurred)
	}
	for i, n := range []int{0, 2, 3, 5} {
		if want := req.Samples[n].GetTime().AsTime(); !at[i].Equal(want) {
			t.Errorf("sample %d stands at %s, want %s", n, at[i], want)
		}
	}
	last := s.Writer.Seq()
	again, err := c.TakeReadings(t.Context(), req)
	if err != nil || again.GetStored() != 0 || again.GetThinned() != 2 || again.GetSequence() != first.GetSequence() || s.Writer.Seq() != last {
		t.Errorf("sent again: %v, %v; the journal grew from %d to %d", again, err, last, s.Writer.Seq())
	}
}

func TestABadTraceIsRefusedWhole(t *testing.T) {
	s, c := shop(t)
	for name, spoil := range map[string]func(*curesv1.TakeReadingsRequest){
		"out of order":     func(r *curesv1.TakeReadingsRequest) { slices.Reverse(r.Samples) },
		"twice one moment": func(r *curesv1.TakeReadingsRequest) { r.Samples[2].Time = r.Samples[1].Time },
		"from the future": func(r *curesv1.TakeReadingsRequest) {
			r.Samples[3].Time = timestamppb.New(s.Time.Now().Add(time.Millisecond))
		},
		"no probe":     func(r *curesv1.TakeReadingsRequest) { r.ProbeId = "" },
		"unknown zone": func(r *curesv1.TakeReadingsRequest) { r.ZoneId = "bay-9" },
		"too hot":      func(r *curesv1.TakeReadingsRequest) { r.Samples[3].TempC = 400 },
		"not a number": func(r *curesv1.TakeReadingsRequest) { r.Samples[3].TempC = nan() },
		"too old":      func(r *curesv1.TakeReadingsRequest) { r.Samples[0].Time.Seconds -= 91 * 86400 },
		"no time":      func(r *curesv1.TakeReadingsRequest) { r.Samples[3].Time = nil },
		"no samples":   func(r *curesv1.TakeReadingsRequest) { r.Samples = nil },
	} {
		req := trace(s, 20, 21, 22, 23)
		spoil(req)
		before := s.Writer.Seq()
		if _, err := c.TakeReadings(t.Context(), req); fault.KindOf(err) != fault.Invalid && fault.KindOf(err) != fault.NotFound {
			t.Errorf("%s: %v, want it refused", name, err)
		}
		if after := s.Writer.Seq(); after != before {
			t.Errorf("%s: %d readings of it were stored", name, after-before)
		}
	}
}

func nan() float64 {
	var zero float64
	return zero / zero
}

func TestZonesAreShownWithTheirAir(t *testing.T) {
	s, c := shop(t)
	before, err := c.ListZones(t.Context(), &curesv1.ListZonesRequest{})
	if err != nil || len(before.GetZones()) != 1 {
		t.Fatal(before, err)
	}
	if z := before.GetZones()[0]; z.TempC != nil || z.GetFresh() || z.GetLowC() != 5 || z.GetHighC() != 35 {
		t.Errorf("without a reading: %v, want the limits and nothing read", z)
	}
	s.Read(t, 21)
	if err := s.Time.Advance(5 * time.Minute); err != nil {
		t.Fatal(err)
	}
	after, err := c.ListZones(t.Context(), &curesv1.ListZonesRequest{MinSequence: s.Writer.Seq()})
	if err != nil {
		t.Fatal(err)
	}
	// 0.5 K of the probe, 0.2 K of the dead band, five minutes of 0.2 K.
	z := after.GetZones()[0]
	if d := z.GetLowC() - 19.3; d > 1e-9 || d < -1e-9 || !z.GetFresh() || z.GetTempC() != 21 || z.GetRhPercent() != 45 {
		t.Errorf("five minutes after 21 °C: %v", z)
	}
	// Dew point of 21 °C at 45 %: 8.6 °C by the Magnus formula, from memory.
	if d := z.GetDewPointC(); d < 8.4 || d > 8.8 {
		t.Errorf("dew point %g °C", d)
	}
}

func TestOtherServicesFactsAreRefused(t *testing.T) {
	s, c := shop(t)
	if _, err := c.Record(t.Context(), &curesv1.RecordRequest{Stamp: s.Stamp(floorv1.Role_ROLE_MACHINE), Fact: &curesv1.RecordRequest_ReadingTaken{
		ReadingTaken: &curesv1.ReadingTaken{ZoneId: "bay-1", TempC: 21},
	}}); fault.KindOf(err) != fault.Invalid {
		t.Errorf("a reading of no probe and no hand: %v", err)
	}
	for _, body := range []proto.Message{&jobsv1.JobOpened{Ro: "2207", Vehicle: "x"}, &curesv1.WindowOpened{SeamId: "2207/rd-l"}} {
		_, err := cures.Decide(floor.New(), floor.Command{Stamp: s.Stamp(floorv1.Role_ROLE_MACHINE), Body: body}, s.Time.Now())
		if fault.KindOf(err) != fault.Invalid {
			t.Errorf("%T: %v, want it refused", body, err)
		}
	}
}
