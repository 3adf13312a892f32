package feed_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/app"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// The test's own car: one seam, one load, promised before all others.
const (
	ro    = "2190"
	ditch = "rd-l"
	load  = "2190-A"
	row   = "2190.rd-l"
)

// bring opens the test's car with one surveyed seam and its load.
func (s *shop) bring(coat floorv1.Coat) {
	s.t.Helper()
	jobs := jobsv1.NewJobsServiceClient(s.conn)
	for _, req := range []*jobsv1.RecordRequest{
		{Fact: &jobsv1.RecordRequest_JobOpened{JobOpened: &jobsv1.JobOpened{
			Ro: ro, Vehicle: "green coupé", PaintColour: "blue", Coats: []floorv1.Coat{coat}, Promised: timestamppb.New(at(12, 0)),
		}}},
		{Fact: &jobsv1.RecordRequest_SeamSurveyed{SeamSurveyed: &jobsv1.SeamSurveyed{
			SeamId: ro + "/" + ditch, Panel: "roof", Place: "Roof ditch", Side: "L", LengthMm: 1600, Orientation: floorv1.Orientation_ORIENTATION_LEVEL,
			Finish: floorv1.Finish_FINISH_COATED, Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER,
			Reference: &floorv1.Reference{
				Source: floorv1.ReferenceSource_REFERENCE_SOURCE_BEFORE_TEAR_DOWN, Class: floorv1.SealerClass_SEALER_CLASS_SELF_LEVELLING,
				Profile: floorv1.Profile_PROFILE_LEVELLED, Colour: "grey", WidthMm: 14, HeightMm: 2,
			},
		}}},
	} {
		req.Stamp = s.stamp(foreman, floorv1.Role_ROLE_FOREMAN, "desk")
		_, err := jobs.Record(s.t.Context(), req)
		must(s.t, err)
	}
	_, err := boothv1.NewBoothServiceClient(s.conn).Record(s.t.Context(), &boothv1.RecordRequest{
		Stamp: s.stamp(foreman, floorv1.Role_ROLE_FOREMAN, "desk"),
		Fact: &boothv1.RecordRequest_LoadPlanned{LoadPlanned: &boothv1.LoadPlanned{
			LoadId: load, BoothId: "booth-1", Ro: ro, Colour: "blue", SeamIds: []string{ro + "/" + ditch},
		}},
	})
	must(s.t, err)
}

// lay brings the test's seam to a laid, de-aired bead.
func (s *shop) lay() {
	s.t.Helper()
	for _, do := range []string{
		"take the plan", "prep", "open a cartridge of self-levelling grey", "bring both sides level",
		"fit a nozzle: round tip cut at 14 mm", "purge", "lay the bead", "take the trapped air out",
	} {
		s.big(ro, ditch, do, nil)
		s.wait(time.Minute)
	}
}

// ripen brings the test's car, with its seam laid, to where its window is surely
// open.
func (s *shop) ripen() {
	s.t.Helper()
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	s.lay()
	opens, _ := s.bounds()
	s.until(opens.DueCold.Add(time.Minute))
	s.bay(bay1, ro, ditch)
}

// bounds are the moments that the floor's own clocks tell of the seam.
func (s *shop) bounds() (opens, closes floor.ClockState) {
	s.t.Helper()
	s.look(func(f *floor.Floor) {
		for _, c := range f.Clocks(ro+"/"+ditch, s.time.Now()) {
			switch c.ClockID.Clock {
			case floorv1.Clock_CLOCK_COAT_OPENS:
				opens = c
			case floorv1.Clock_CLOCK_COAT_CLOSES:
				closes = c
			}
		}
	})
	if opens.DueCold.IsZero() || closes.DueHot.IsZero() {
		s.t.Fatal("the floor has no coat window for the seam")
	}
	return opens, closes
}

// TestASeamsWay brings a seam from the survey to its coat and on to the
// water test by nothing but what the screens offer.
func TestASeamsWay(t *testing.T) {
	s := open(t, app.Options{}, false)
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	s.until(at(8, 0))
	if r := s.row(row); r.LayBy == nil || r.LayBy.At.Before(s.time.Now()) || !strings.Contains(r.LayBy.Text, "or it misses") {
		t.Errorf("before it is laid the board shows %+v", r)
	}
	s.lay()

	seam := s.bay(bay1, ro, ditch).Seam
	if seam.Do != "wait for flow-out" || seam.Next != nil || seam.Clock == nil || seam.Clock.Doing != "flow-out" {
		t.Errorf("after laying: %q, button %v, clock %+v", seam.Do, seam.Next, seam.Clock)
	}
	opens, closes := s.bounds()
	want := []screens.Segment{
		{Kind: screens.SegNotReady, From: at(8, 6), To: opens.DueHot},
		{Kind: screens.SegOpening, From: opens.DueHot, To: opens.DueCold},
		{Kind: screens.SegOpen, From: opens.DueCold, To: closes.DueHot},
		{Kind: screens.SegClosing, From: closes.DueHot, To: closes.DueCold},
		{Kind: screens.SegClosed, From: closes.DueCold},
	}
	r := s.row(row)
	if diff := cmp.Diff(want, r.Strip); diff != "" {
		t.Errorf("the strip is not the floor's clocks (-clocks +strip):\n%s", diff)
	}
	if r.Mark != screens.MarkFlowing || !strings.HasPrefix(r.Text, "flow-out ") || !strings.Contains(r.Text, "opens "+opens.DueCold.Add(time.Minute-1).Format("15:04")) {
		t.Errorf("flowing: %q %q", r.Mark, r.Text)
	}
	if b := s.booth("booth-1"); b.Gate.State != screens.GateHold || b.Gate.Load != load || b.Request.Ready || len(b.Seams) != 1 || b.Seams[0].State != screens.SeamWaiting {
		t.Errorf("the booth while it flows: %+v, request %+v", b.Gate, b.Request)
	}

	s.until(opens.DueCold.Add(time.Minute))
	s.bay(bay1, ro, ditch) // the tablet is alive
	if r := s.row(row); r.Mark != screens.MarkOpen || !strings.HasPrefix(r.Text, "window open until") {
		t.Errorf("open: %q %q", r.Mark, r.Text)
	}
	s.throughTheBooth()
	s.afterTheBooth()
}

// throughTheBooth sprays the load: HOLD, CLEAR by a permit, HOLD while it is
// in the booth.
func (s *shop) throughTheBooth() {
	t := s.t
	t.Helper()
	b := s.booth("booth-1")
	if b.Gate.State != screens.GateHold || !b.Request.Ready || b.Seams[0].State != screens.SeamReady {
		t.Fatalf("all is ready and the booth shows %+v %+v, reasons %v", b.Gate, b.Request, b.Reasons)
	}
	r, err := s.atBooth(painter, "booth-1", b.Request, nil)
	must(t, err)
	if !strings.HasPrefix(r.Said, "Permit given for "+load+": start by ") {
		t.Errorf("the permit says %q", r.Said)
	}
	b = s.booth("booth-1")
	if b.Gate.State != screens.GateClear || b.Gate.Headline != "Spray "+load || b.Start == nil || !b.Start.Ready || b.Gate.Until.IsZero() {
		t.Fatalf("with a permit the booth shows %+v", b.Gate)
	}
	if g := s.board().Gates; g[0].State != screens.GateClear {
		t.Errorf("the board's sign is %q", g[0].State)
	}
	r, err = s.atBooth(painter, "booth-1", b.Start, nil)
	must(t, err)
	if len(r.Findings) != 0 || !strings.HasPrefix(r.Said, "Spraying of "+load+" began") {
		t.Errorf("spraying: %q %v", r.Said, r.Findings)
	}
	b = s.booth("booth-1")
	if b.Gate.State != screens.GateHold || !strings.Contains(b.Phase, "spraying "+load) || b.Finish.Ready {
		t.Errorf("while spraying: %+v, phase %q, finish %+v", b.Gate, b.Phase, b.Finish)
	}
	s.wait(18 * time.Minute)
	r, err = s.atBooth(painter, "booth-1", s.booth("booth-1").Request, nil)
	must(t, err)
	if !strings.HasPrefix(r.Said, "Topcoated over 1 seam") || len(r.Findings) != 0 {
		t.Errorf("the first coat: %q %v", r.Said, r.Findings)
	}
	if r := s.row(row); r.Mark != screens.MarkCoated || !strings.HasPrefix(r.Note, "topcoated ") || r.Stage != "coated" {
		t.Errorf("coated: %+v", r)
	}
}

// afterTheBooth: bake, out, wax, water test.
func (s *shop) afterTheBooth() {
	t := s.t
	t.Helper()
	if do := s.bay(bay1, ro, ditch).Seam.Do; do != "wait for the booth" {
		t.Errorf("in the booth the next step is %q", do)
	}
	_, err := s.atBooth(painter, "booth-1", s.booth("booth-1").Request, nil)
	must(t, err)
	if p := s.booth("booth-1").Phase; !strings.HasPrefix(p, "baking "+load) {
		t.Errorf("the booth is %q", p)
	}
	lane := s.board().Lanes[0]
	if !slices.ContainsFunc(lane.Blocks, func(b screens.Block) bool { return b.Kind == screens.BlockBake }) {
		t.Errorf("no bake in the lane: %+v", lane.Blocks)
	}
	s.wait(30 * time.Minute)
	_, err = s.atBooth(painter, "booth-1", s.booth("booth-1").Finish, nil)
	must(t, err)
	s.big(ro, ditch, "wax the cavity", nil)
	s.until(at(12, 0))
	r := s.big(ro, ditch, "water test", nil)
	if !strings.HasPrefix(r.Said, "Water test passed") {
		t.Errorf("the test says %q", r.Said)
	}
	if do := s.bay(bay1, ro, ditch).Seam.Do; do != "wait for full cure" {
		t.Errorf("after the test: %q", do)
	}
}
