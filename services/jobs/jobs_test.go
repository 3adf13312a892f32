package jobs_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"go.uber.org/goleak"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/jobs"
	"seamwright/services/record/recordtest"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

const seam = "2207/rd-l"

// shop is a furnished shop with the service in front of it.
func shop(t *testing.T) (*recordtest.Shop, jobsv1.JobsServiceClient) {
	t.Helper()
	s := recordtest.New()
	c := s.Serve(t, jobs.NewServer(s.Desk, s.Journal).Register)
	s.Furnish(t)
	return s, jobsv1.NewJobsServiceClient(c)
}

// tell records a fact through the service.
func tell(t *testing.T, s *recordtest.Shop, c jobsv1.JobsServiceClient, req *jobsv1.RecordRequest) *floorv1.Receipt {
	t.Helper()
	if req.Stamp == nil {
		req.Stamp = s.Stamp(floorv1.Role_ROLE_TECHNICIAN)
	}
	r, err := c.Record(t.Context(), req)
	if err != nil {
		t.Fatalf("%v: %v", req, err)
	}
	return r.Receipt
}

func opened(ro string) *jobsv1.RecordRequest {
	return &jobsv1.RecordRequest{Fact: &jobsv1.RecordRequest_JobOpened{JobOpened: &jobsv1.JobOpened{
		Ro: ro, Vehicle: "blue hatchback", PaintColour: "blue", Coats: []floorv1.Coat{floorv1.Coat_COAT_WATERBORNE},
		Promised: timestamppb.New(recordtest.Monday.Add(8 * time.Hour)),
	}}}
}

func surveyed() *jobsv1.RecordRequest {
	return &jobsv1.RecordRequest{Fact: &jobsv1.RecordRequest_SeamSurveyed{SeamSurveyed: &jobsv1.SeamSurveyed{
		SeamId: seam, Panel: "roof", Place: "roof ditch", Side: "L", LengthMm: 1400,
		Orientation: floorv1.Orientation_ORIENTATION_LEVEL, Finish: floorv1.Finish_FINISH_COATED,
		Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER,
		Reference: &floorv1.Reference{Source: floorv1.ReferenceSource_REFERENCE_SOURCE_BEFORE_TEAR_DOWN, WidthMm: 12, HeightMm: 4},
	}}}
}

func plannedSeam() *jobsv1.RecordRequest {
	return &jobsv1.RecordRequest{Fact: &jobsv1.RecordRequest_SeamPlanned{SeamPlanned: &jobsv1.SeamPlanned{
		SeamId: seam, ProductId: "sl", Profile: floorv1.Profile_PROFILE_LEVELLED, WidthMm: 12, HeightMm: 4,
		Technique: floorv1.Technique_TECHNIQUE_DIRECT_BEAD, VolumeMl: 67.2,
	}}}
}

func prepped() *jobsv1.RecordRequest {
	return &jobsv1.RecordRequest{Fact: &jobsv1.RecordRequest_SurfacePrepped{SurfacePrepped: &jobsv1.SurfacePrepped{
		SeamId: seam, Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER, SurfaceTempC: proto.Float64(21),
	}}}
}

func laid() *jobsv1.RecordRequest {
	return &jobsv1.RecordRequest{Fact: &jobsv1.RecordRequest_BeadLaid{BeadLaid: &jobsv1.BeadLaid{
		SeamId: seam, CartridgeId: "C1", NozzleId: "N1", Layer: floorv1.Layer_LAYER_BEAD, Lasted: durationpb.New(2 * time.Minute),
	}}}
}

// laidSeam takes a seam up to the laid bead.
func laidSeam(t *testing.T, s *recordtest.Shop, c jobsv1.JobsServiceClient) {
	t.Helper()
	s.Read(t, 21)
	for _, req := range []*jobsv1.RecordRequest{
		opened("2207"), surveyed(), plannedSeam(),
		{Fact: &jobsv1.RecordRequest_CarMoved{CarMoved: &jobsv1.CarMoved{Ro: "2207", ZoneId: "bay-1"}}},
		prepped(),
	} {
		tell(t, s, c, req)
	}
	s.Tell(t, &materialsv1.CartridgeEqualised{CartridgeId: "C1"})
	s.Tell(t, &materialsv1.NozzleFitted{NozzleId: "N1", CartridgeId: "C1"})
	s.Tell(t, &materialsv1.CartridgePurged{CartridgeId: "C1", VolumeMl: proto.Float64(10)})
	tell(t, s, c, laid())
}

func TestASeamIsFollowedFromSurveyToBead(t *testing.T) {
	s, c := shop(t)
	laidSeam(t, s, c)
	if err := s.Time.Advance(10 * time.Minute); err != nil {
		t.Fatal(err)
	}
	s.Read(t, 21)
	got, err := c.GetJob(t.Context(), &jobsv1.GetJobRequest{Ro: "2207", MinSequence: s.Writer.Seq()})
	if err != nil {
		t.Fatal(err)
	}
	if !got.Now.AsTime().Equal(recordtest.Monday.Add(10*time.Minute)) || got.Sequence != s.Writer.Seq() {
		t.Errorf("answer for %s at %d", got.Now.AsTime(), got.Sequence)
	}
	j := got.Job
	if j.ZoneId != "bay-1" || j.State != "open" || len(j.Seams) != 1 || j.Coats[0] != floorv1.Coat_COAT_WATERBORNE {
		t.Fatalf("job %v", j)
	}
	m := j.Seams[0]
	if m.Stage != floorv1.Stage_STAGE_FLOWING || m.ProductId != "sl" || m.Reference.GetWidthMm() != 12 {
		t.Errorf("seam %v", m)
	}
	byClock := make(map[floorv1.Clock]*jobsv1.ClockState)
	for _, k := range m.Clocks {
		byClock[k.Clock] = k
	}
	flow := byClock[floorv1.Clock_CLOCK_FLOW_OUT]
	// 15 min at 21 °C, 10 % tolerance: at 21 °C the cold side is due 16.5 min
	// after laying at the soonest, the hot side 13.5 min at the latest.
	if flow == nil || flow.NeededS != 900 || flow.Reached != floorv1.Answer_ANSWER_NO ||
		flow.DueCold.AsTime().Before(recordtest.Monday.Add(990*time.Second)) || flow.DueHot.AsTime().After(recordtest.Monday.Add(810*time.Second)) {
		t.Errorf("flow-out %v", flow)
	}
	if opens := byClock[floorv1.Clock_CLOCK_COAT_OPENS]; opens == nil || opens.Coat != floorv1.Coat_COAT_WATERBORNE || opens.NeededS != 3600 {
		t.Errorf("coat opens %v", opens)
	}
}

// The volume told as planned is written into the event by the server.
func TestAPlannedVolumeIsResolved(t *testing.T) {
	s, c := shop(t)
	laidSeam(t, s, c)
	ev, _, ok := s.Floor.Event(s.Writer.Seq())
	b, isBead := ev.Body.(*jobsv1.BeadLaid)
	if !ok || !isBead || b.PlannedMl != 67.2 || ev.Aggregate != "seam.2207.rd-l" {
		t.Errorf("event %v of %s", ev.Body, ev.Aggregate)
	}
	if c := s.Floor.Cartridge("C1"); c.Remaining.ML() != 200-10-67.2 {
		t.Errorf("%.1f ml left, want 122.8", c.Remaining.ML())
	}
}

func TestTheSameCommandTakesEffectOnce(t *testing.T) {
	s, c := shop(t)
	req := opened("2207")
	req.Stamp = s.Stamp(floorv1.Role_ROLE_TECHNICIAN)
	first := tell(t, s, c, req)
	if first.Repeated || first.Sequence == 0 {
		t.Fatalf("first %v", first)
	}
	if err := s.Time.Advance(time.Hour); err != nil {
		t.Fatal(err)
	}
	again := tell(t, s, c, req)
	want := proto.Clone(first).(*floorv1.Receipt)
	want.Repeated = true
	if diff := cmp.Diff(want, again, protocmp.Transform()); diff != "" {
		t.Errorf("second receipt (-want +got):\n%s", diff)
	}
	other := surveyed()
	other.Stamp = req.Stamp
	if _, err := c.Record(t.Context(), other); !fault.Is(err, "command-id-reused") || fault.KindOf(err) != fault.Exists {
		t.Errorf("another fact under the same id: %v", err)
	}
}

// A repeat is answered even when the fact would be refused by now.
func TestARepeatIsNotDecidedAgain(t *testing.T) {
	s, c := shop(t)
	first := tell(t, s, c, opened("2207"))
	gone := &jobsv1.RecordRequest{
		Stamp: s.Stamp(floorv1.Role_ROLE_TECHNICIAN),
		Fact:  &jobsv1.RecordRequest_FactWithdrawn{FactWithdrawn: &jobsv1.FactWithdrawn{Sequence: first.Sequence, Why: "wrong car"}},
	}
	tell(t, s, c, gone)
	if r := tell(t, s, c, gone); !r.Repeated {
		t.Errorf("second withdrawal %v", r)
	}
}

func TestManyTellersMakeOneLine(t *testing.T) {
	s, c := shop(t)
	before := s.Writer.Seq()
	stamps := make([]*floorv1.Stamp, 40)
	for i := range stamps {
		stamps[i] = s.Stamp(floorv1.Role_ROLE_TECHNICIAN)
		stamps[i].Terminal = fmt.Sprint("tablet-", i)
	}
	var tellers sync.WaitGroup
	var mu sync.Mutex
	seen := make(map[uint64]bool)
	for i, stamp := range stamps {
		tellers.Go(func() {
			req := opened(fmt.Sprint(3000 + i))
			req.Stamp = stamp
			r, err := c.Record(t.Context(), req)
			if err != nil {
				t.Error(err)
				return
			}
			mu.Lock()
			defer mu.Unlock()
			seen[r.Receipt.Sequence] = true
		})
	}
	tellers.Wait()
	if len(seen) != 40 || s.Writer.Seq() != before+40 {
		t.Errorf("%d numbers for 40 facts, the floor stands at %d", len(seen), s.Writer.Seq())
	}
}

func TestWhatNoFactCanBeIsRefused(t *testing.T) {
	s, c := shop(t)
	tell(t, s, c, opened("2207"))
	tell(t, s, c, surveyed())
	pass := func(ended, lasted time.Duration) *jobsv1.RunLaid_Pass {
		return &jobsv1.RunLaid_Pass{
			SeamId: seam, Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(5),
			EndedBefore: durationpb.New(ended), Lasted: durationpb.New(lasted),
		}
	}
	run := func(ps ...*jobsv1.RunLaid_Pass) *jobsv1.RecordRequest {
		return &jobsv1.RecordRequest{Fact: &jobsv1.RecordRequest_RunLaid{RunLaid: &jobsv1.RunLaid{Passes: ps}}}
	}
	coat := func(b *jobsv1.CoatApplied) *jobsv1.RecordRequest {
		b.SeamIds = []string{seam}
		return &jobsv1.RecordRequest{Fact: &jobsv1.RecordRequest_CoatApplied{CoatApplied: b}}
	}
	epoxy := &jobsv1.CoatApplied_Under{Under: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER}
	for name, tt := range map[string]struct {
		req  *jobsv1.RecordRequest
		kind fault.Kind
		in   string
	}{
		"unknown job":         {&jobsv1.RecordRequest{Fact: &jobsv1.RecordRequest_JobDelivered{JobDelivered: &jobsv1.JobDelivered{Ro: "9999"}}}, fault.NotFound, "9999"},
		"coat neither way":    {coat(&jobsv1.CoatApplied{}), fault.Invalid, "coat_applied.layer"},
		"recoat before dry":   {coat(&jobsv1.CoatApplied{Layer: epoxy, DryMin: 60, RecoatMin: 30}), fault.Invalid, "coat_applied.recoat_min: 30"},
		"topcoat with a dry":  {coat(&jobsv1.CoatApplied{Layer: &jobsv1.CoatApplied_Over{Over: floorv1.Coat_COAT_WATERBORNE}, DryMin: 60}), fault.Invalid, "coat_applied.dry_min"},
		"passes out of order": {run(pass(0, time.Minute), pass(0, time.Minute)), fault.Invalid, "run_laid.passes[0].ended_before: 0s"},
		"run without its end": {run(pass(time.Minute, time.Minute)), fault.Invalid, "run_laid.passes[0].ended_before: 1m0s"},
		"answer of no finding": {&jobsv1.RecordRequest{Fact: &jobsv1.RecordRequest_FindingDisposed{FindingDisposed: &jobsv1.FindingDisposed{
			FindingId: "1.1", Disposition: floorv1.Disposition_DISPOSITION_ACCEPT, Reason: "seen",
		}}}, fault.NotFound, "1.1"},
		"unknown fact": {&jobsv1.RecordRequest{Fact: &jobsv1.RecordRequest_FactWithdrawn{FactWithdrawn: &jobsv1.FactWithdrawn{Sequence: 999, Why: "x"}}}, fault.NotFound, "999"},
	} {
		before := s.Writer.Seq()
		tt.req.Stamp = s.Stamp(floorv1.Role_ROLE_TECHNICIAN)
		_, err := c.Record(t.Context(), tt.req)
		if err == nil || fault.KindOf(err) != tt.kind || !strings.Contains(err.Error(), tt.in) {
			t.Errorf("%s: %v, want %s with %q", name, err, tt.kind, tt.in)
		}
		if s.Writer.Seq() != before {
			t.Errorf("%s: something was recorded", name)
		}
	}
	ok := tell(t, s, c, run(pass(2*time.Minute, time.Minute), pass(0, 2*time.Minute)))
	if ok.Sequence == 0 {
		t.Error("a run in order was refused")
	}
}

func TestFactsOfOtherServicesAreRefused(t *testing.T) {
	s, _ := shop(t)
	_, err := jobs.Decide(s.Floor, floor.Command{Stamp: s.Stamp(floorv1.Role_ROLE_MATERIALS), Body: recordtest.Levelling()}, recordtest.Monday)
	if fault.KindOf(err) != fault.Invalid || !strings.Contains(err.Error(), "seamwright.materials.v1.ProductDefined") {
		t.Errorf("got %v", err)
	}
}

func TestEveryFactOfTheContractHasAnArm(t *testing.T) {
	fields := (&jobsv1.RecordRequest{}).ProtoReflect().Descriptor().Oneofs().ByName("fact").Fields()
	if fields.Len() < 20 {
		t.Fatalf("only %d facts", fields.Len())
	}
	for i := range fields.Len() {
		m := (&jobsv1.RecordRequest{}).ProtoReflect().NewField(fields.Get(i)).Message().Interface()
		err := jobs.CheckFact(floor.Command{Body: m})
		if err != nil && strings.Contains(err.Error(), "a fact of a repair") {
			t.Errorf("%s is refused by its own service", fields.Get(i).Message().FullName())
		}
	}
}

// A bead out of an unknown cartridge was laid all the same.
func TestABeadOutOfAnUnknownCartridgeIsRecorded(t *testing.T) {
	s, c := shop(t)
	for _, req := range []*jobsv1.RecordRequest{opened("2207"), surveyed(), plannedSeam(), prepped()} {
		tell(t, s, c, req)
	}
	for _, cartridge := range []string{"", "C99"} {
		req := laid()
		req.GetBeadLaid().CartridgeId, req.GetBeadLaid().NozzleId = cartridge, ""
		if r := tell(t, s, c, req); len(r.Findings) == 0 {
			t.Errorf("cartridge %q: no finding", cartridge)
		}
	}
}

func TestListsAreInOrder(t *testing.T) {
	s, c := shop(t)
	late, none := opened("2301"), opened("2100")
	late.GetJobOpened().Promised = timestamppb.New(recordtest.Monday.Add(20 * time.Hour))
	none.GetJobOpened().Promised = nil
	for _, req := range []*jobsv1.RecordRequest{none, late, opened("2302"), opened("2300")} {
		tell(t, s, c, req)
	}
	tell(t, s, c, &jobsv1.RecordRequest{Fact: &jobsv1.RecordRequest_JobCancelled{JobCancelled: &jobsv1.JobCancelled{Ro: "2302", Why: "went elsewhere"}}})
	for withEnded, want := range map[bool][]string{false: {"2300", "2301", "2100"}, true: {"2300", "2302", "2301", "2100"}} {
		r, err := c.ListJobs(t.Context(), &jobsv1.ListJobsRequest{WithEnded: withEnded})
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, j := range r.Jobs {
			got = append(got, j.Ro)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("with ended %v (-want +got):\n%s", withEnded, diff)
		}
	}
}

func TestFindingsOfAJob(t *testing.T) {
	s, c := shop(t)
	tell(t, s, c, opened("2207"))
	tell(t, s, c, surveyed())
	tell(t, s, c, plannedSeam())
	r := tell(t, s, c, laid()) // on a surface that nobody prepped
	if len(r.Findings) == 0 {
		t.Fatal("a bead on an unprepped surface has no finding")
	}
	all, err := c.ListFindings(t.Context(), &jobsv1.ListFindingsRequest{Ro: "2207"})
	if err != nil || len(all.Findings) < len(r.Findings) {
		t.Fatalf("%d findings, %v; want at least %d", len(all.GetFindings()), err, len(r.Findings))
	}
	none, err := c.ListFindings(t.Context(), &jobsv1.ListFindingsRequest{Ro: "2208"})
	if err != nil || len(none.Findings) != 0 {
		t.Errorf("findings of another job: %v, %v", none, err)
	}
	answer := &jobsv1.RecordRequest{
		Stamp: s.Stamp(floorv1.Role_ROLE_FOREMAN),
		Fact: &jobsv1.RecordRequest_FindingDisposed{FindingDisposed: &jobsv1.FindingDisposed{
			FindingId: all.Findings[0].FindingId, Disposition: floorv1.Disposition_DISPOSITION_ACCEPT, Reason: "was prepped, not told",
		}},
	}
	tell(t, s, c, answer)
	open, err := c.ListFindings(t.Context(), &jobsv1.ListFindingsRequest{Ro: "2207", OpenOnly: true})
	if err != nil || len(open.Findings) != len(all.Findings)-1 {
		t.Errorf("%d open findings, %v; want one less than %d", len(open.GetFindings()), err, len(all.Findings))
	}
}

func TestAQueryWaitsForItsSequenceAndSaysWhatIsMissing(t *testing.T) {
	s, c := shop(t)
	ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer cancel()
	if _, err := c.ListJobs(ctx, &jobsv1.ListJobsRequest{MinSequence: s.Writer.Seq() + 1}); fault.KindOf(err) != fault.Unavailable {
		t.Errorf("a floor that has not seen it answered: %v", err)
	}
	if _, err := c.GetJob(t.Context(), &jobsv1.GetJobRequest{Ro: "9999"}); fault.KindOf(err) != fault.NotFound {
		t.Errorf("got %v", err)
	}
}

func TestWatchersSeeTheWholeLine(t *testing.T) {
	s, c := shop(t)
	tell(t, s, c, opened("2207"))
	last := s.Writer.Seq()
	w, err := c.WatchFloor(t.Context(), &jobsv1.WatchFloorRequest{FromSequence: 2, StopAtEnd: true})
	if err != nil {
		t.Fatal(err)
	}
	var e *floorv1.Entry
	for want := uint64(2); ; want++ {
		r, err := w.Recv()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil || r.Entry.Sequence != want {
			t.Fatalf("%v, %v; want %d", r, err, want)
		}
		e = r.Entry
	}
	if e.GetSequence() != last {
		t.Fatalf("the stream ended at %d, the journal at %d", e.GetSequence(), last)
	}
	body, err := e.Body.UnmarshalNew()
	if err != nil || body.(*jobsv1.JobOpened).Ro != "2207" || e.Actor != "Tamsin Orrable" || e.AgeKind != "live" ||
		e.Aggregate != "job.2207" || e.Role != floorv1.Role_ROLE_TECHNICIAN || !e.Occurred.AsTime().Equal(recordtest.Monday) {
		t.Errorf("entry %v, %v", e, err)
	}
	live, err := c.WatchFloor(t.Context(), &jobsv1.WatchFloorRequest{FromSequence: last + 1})
	if err != nil {
		t.Fatal(err)
	}
	tell(t, s, c, surveyed())
	if r, err := live.Recv(); err != nil || r.Entry.Sequence != last+1 {
		t.Errorf("live: %v, %v", r, err)
	}
}
