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
	"seamwright/services/fault"
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

// TestPressTwice: the same page pressed twice is one event and one answer.
func TestPressTwice(t *testing.T) {
	s := open(t, app.Options{}, false)
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	s.big(ro, ditch, "take the plan", nil)
	s.big(ro, ditch, "prep", nil)
	a := s.action(s.bay(bay1, ro, ditch).Seam.Next, nil) // gives the cartridge its number
	a.RO, a.Seam, a.Actor, a.Terminal = ro, ditch, technician, bay1
	first, err := s.src.Post(t.Context(), a)
	must(t, err)
	again, err := s.src.Post(t.Context(), a)
	must(t, err)
	if diff := cmp.Diff(first, again); diff != "" {
		t.Errorf("the second press was answered differently:\n%s", diff)
	}
	s.look(func(f *floor.Floor) {
		if f.Seq() != first.Seq || len(f.Cartridges()) != 1 {
			t.Errorf("the journal stands at %d with %d cartridges, want %d and 1", f.Seq(), len(f.Cartridges()), first.Seq)
		}
	})
}

// TestUndo takes the last fact back within two minutes; who did not tell it
// may not.
func TestUndo(t *testing.T) {
	s := open(t, app.Options{}, false)
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	s.lay()
	before := s.bay(bay1, ro, ditch).Seam
	if before.Undo == nil || before.UndoAt.IsZero() {
		t.Fatal("nothing to undo after a fact a minute ago")
	}
	a := s.action(before.Undo, nil)
	a.RO, a.Seam, a.Actor, a.Terminal = ro, ditch, "Jory Quillbeck", bay1
	if _, err := s.src.Post(t.Context(), a); !fault.Is(err, "not-your-fact") {
		t.Errorf("somebody else took it back: %v", err)
	}
	r := s.press(technician, bay1, ro, ditch, before.Undo, nil)
	if !strings.HasPrefix(r.Said, "Taken back") {
		t.Errorf("undo says %q", r.Said)
	}
	if do := s.bay(bay1, ro, ditch).Seam.Do; do != "take the trapped air out" {
		t.Errorf("after the undo the next step is %q", do)
	}
	s.wait(3 * time.Minute)
	if u := s.bay(bay1, ro, ditch).Seam.Undo; u != nil {
		t.Errorf("three minutes later %q may still be undone", u.Hint)
	}
}

// TestBadFields: what was typed wrongly is named, and nothing is recorded.
func TestBadFields(t *testing.T) {
	s := open(t, app.Options{}, false)
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	var seq uint64
	s.look(func(f *floor.Floor) { seq = f.Seq() })
	for _, c := range []struct {
		kind   screens.Kind
		fields map[string]string
		want   []string
	}{
		{screens.DoLay, map[string]string{"volume_ml": "1e9", "minutes": "-3"}, []string{"volume_ml: 1e9", "minutes: -3"}},
		{screens.DoPrep, map[string]string{"substrate": "cheese"}, []string{"substrate: cheese"}},
		{screens.DoDisturbed, nil, []string{"reason: nothing"}},
		{screens.DoInspect, map[string]string{"passed": "perhaps"}, []string{"passed: perhaps"}},
		{screens.DoPurge, map[string]string{"cartridge": "C1", "volume_ml": "NaN"}, []string{"volume_ml: NaN"}},
		{screens.DoScuff, map[string]string{"grit": "320"}, []string{"grit: 320"}},
		{screens.DoCoat, map[string]string{"coat": "jam"}, []string{"coat: jam"}},
		{screens.DoWithdraw, map[string]string{"fact": "last"}, []string{"fact: last"}},
	} {
		_, err := s.src.Post(t.Context(), screens.Action{
			Kind: c.kind, RO: ro, Seam: ditch, Actor: technician, Terminal: bay1, CommandID: s.uuid(), Fields: c.fields,
		})
		if fault.KindOf(err) != fault.Invalid {
			t.Errorf("%s: %v, want an invalid fault", c.kind, err)
			continue
		}
		for _, w := range c.want {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("%s: %v does not name %q", c.kind, err, w)
			}
		}
	}
	s.look(func(f *floor.Floor) {
		if f.Seq() != seq {
			t.Errorf("%d events were recorded", f.Seq()-seq)
		}
	})
}

// TestForemanAnswers: a disturbed bead holds its seam until a foreman, by
// PIN, has it redone.
func TestForemanAnswers(t *testing.T) {
	s := open(t, app.Options{}, false)
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	s.lay()
	r := s.press(technician, bay1, ro, ditch, s.other("Bead disturbed"), map[string]string{"reason": "a sleeve touched it"})
	if len(r.Findings) != 1 || !strings.HasPrefix(r.Findings[0], "stop: The bead was disturbed") {
		t.Errorf("findings %q", r.Findings)
	}
	if row := s.row(row); row.Mark != screens.MarkHold || row.Hold != "bead disturbed: foreman to decide" {
		t.Errorf("held: %+v", row)
	}
	answer := s.other("Foreman answers: bead disturbed")
	redo := map[string]string{"disposition": "redo", "reason": "too deep to level", "pin": pin}
	a := s.action(answer, redo)
	a.RO, a.Seam, a.Terminal, a.Actor = ro, ditch, bay1, technician
	if _, err := s.src.Post(t.Context(), a); fault.KindOf(err) != fault.Denied {
		t.Errorf("a technician answered a finding: %v", err)
	}
	a.Actor, a.Fields["pin"] = foreman, "1357"
	if _, err := s.src.Post(t.Context(), a); !fault.Is(err, "wrong-pin") {
		t.Errorf("a wrong PIN: %v", err)
	}
	s.press(foreman, bay1, ro, ditch, answer, redo)
	s.big(ro, ditch, "take the bead off", nil)
	if p := s.bay(bay1, ro, ditch).Seam; p.Do != "lay the bead" || p.Hold != "" {
		t.Errorf("after the rework: %q, hold %q", p.Do, p.Hold)
	}
}

// other finds a button under "Something else".
func (s *shop) other(label string) *screens.Button {
	s.t.Helper()
	all := s.bay(bay1, ro, ditch).Seam.Else
	for i := range all {
		if all[i].Label == label {
			return &all[i]
		}
	}
	s.t.Fatalf("no button %q", label)
	return nil
}

// TestRefusedAndOverridden: a permit is refused with every reason in words; a
// foreman's override is shown as such and never as CLEAR.
func TestRefusedAndOverridden(t *testing.T) {
	s := open(t, app.Options{}, false)
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	s.until(at(8, 0))
	s.lay()
	_, err := s.src.Post(t.Context(), screens.Action{
		Kind: screens.DoRequestPermit, Booth: "booth-1", Actor: painter, Terminal: "booth-screen", CommandID: s.uuid(), Fields: map[string]string{"load": load},
	})
	if fault.KindOf(err) != fault.Refused || !strings.Contains(err.Error(), "Waits for roof ditch L") {
		t.Errorf("asked too early: %v", err)
	}
	b := s.booth("booth-1")
	if b.Override == nil {
		t.Fatal("no override is offered")
	}
	r, err := s.atBooth(painter, "booth-1", b.Override, map[string]string{"person": foreman, "pin": pin, "reason": "looked at, dry", "minutes": "10"})
	must(t, err)
	b = s.booth("booth-1")
	if b.Gate.State != screens.GateOverride || !strings.Contains(b.Gate.Sentence, foreman) || !strings.Contains(b.Gate.Sentence, "looked at, dry") {
		t.Errorf("after %q the booth shows %+v", r.Said, b.Gate)
	}
}

// TestStale: when nobody follows the journal any more, every picture says so
// and how old it is, and no gate is anything but unknown.
func TestStale(t *testing.T) {
	s := open(t, app.Options{}, true)
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	if b := s.board(); !b.Live || b.Trouble != "" {
		t.Fatalf("a running shop's picture is %+v", b.Picture)
	}
	must(t, s.app.Stop())
	must(t, s.time.Advance(42*time.Second))
	b := s.board()
	if b.Live || b.Age != 42*time.Second || b.Trouble == "" {
		t.Errorf("after the end the picture is %+v, want 42 s old", b.Picture)
	}
	for _, g := range b.Gates {
		if g.State != screens.GateUnknown {
			t.Errorf("gate %s says %q", g.Booth, g.State)
		}
	}
	booth := s.booth("booth-1")
	if booth.Load == nil || booth.Load.ID != load || len(booth.Seams) != 1 || booth.Seams[0].State != screens.SeamUnknown {
		t.Errorf("without a gate the booth shows %+v with %+v", booth.Load, booth.Seams)
	}
	if booth.Request != nil && booth.Request.Ready || booth.Start != nil && booth.Start.Ready {
		t.Error("without a gate a permit or spraying is offered")
	}
	if p := s.bay(bay1, "2207", "rd-l").Picture; p.Live {
		t.Error("the tablet takes it for live")
	}
}

// TestSilentProbe: a probe that is not heard holds the booth by its name, and
// the wall says that the air is old.
func TestSilentProbe(t *testing.T) {
	s := open(t, app.Options{}, false)
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	s.until(at(8, 0))
	s.mute["booth-1"] = true
	s.wait(20 * time.Minute)
	b := s.booth("booth-1")
	if len(b.Reasons) == 0 || !strings.Contains(b.Reasons[0].Text, "The probe of booth 1 was last read at 08:00") || !b.Climate.Stale {
		t.Errorf("reasons %+v, climate %+v", b.Reasons, b.Climate)
	}
}

// TestLanes: the loads of a booth never overlap, and a seam laid at its
// latest moment is open when its load's place comes.
func TestLanes(t *testing.T) {
	s := open(t, app.Options{}, true)
	s.until(at(9, 0))
	b := s.board()
	if len(b.Lanes) != 2 || len(b.Jobs) != 5 {
		t.Fatalf("%d lanes, %d jobs", len(b.Lanes), len(b.Jobs))
	}
	for _, l := range b.Lanes {
		var end time.Time
		for _, k := range l.Blocks {
			if k.Kind == screens.BlockClosed {
				continue
			}
			if k.From.Before(end) || !k.To.After(k.From) {
				t.Errorf("%s: %s runs %s to %s, the one before ends %s", l.Booth, k.Label, k.From, k.To, end)
			}
			end = k.To
		}
	}
	for i := 1; i < len(b.Jobs); i++ {
		if b.Jobs[i].Promised.Before(b.Jobs[i-1].Promised) {
			t.Error("the jobs are not in the order of their promises")
		}
	}
	for _, j := range b.Jobs {
		for _, r := range j.Seams {
			if r.LayBy != nil && r.LayBy.At.Before(s.time.Now()) {
				t.Errorf("%s was to be laid by %s already, although its load's place is put so that it can be", r.ID, r.LayBy.At)
			}
		}
	}
}

// TestChanges: the channel tells the newest sequence, and ends with its
// context.
func TestChanges(t *testing.T) {
	s := open(t, app.Options{}, false)
	ch := s.src.Changes(t.Context())
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	var want uint64
	s.look(func(f *floor.Floor) { want = f.Seq() })
	for got := uint64(0); got < want; {
		var ok bool
		if got, ok = <-ch; !ok {
			t.Fatal("the channel ended before its context")
		}
	}
}

// TestNamesThatAreNotKnown answer as not found.
func TestNamesThatAreNotKnown(t *testing.T) {
	s := open(t, app.Options{}, false)
	_, err := s.src.Booth(t.Context(), "booth-9")
	errs := []error{err}
	for _, b := range [][3]string{{"bay-9-tablet", "", ""}, {bay1, "9999", ""}, {bay1, "2207", "no-such"}} {
		_, err := s.src.Bay(t.Context(), b[0], b[1], b[2])
		errs = append(errs, err)
	}
	for _, err := range errs {
		if fault.KindOf(err) != fault.NotFound {
			t.Errorf("%v, want not found", err)
		}
	}
	_, err = s.src.Post(t.Context(), screens.Action{Kind: screens.DoScuff, RO: "2207", Seam: "rd-l", Actor: "Nobody Known", Terminal: bay1, CommandID: s.uuid()})
	if fault.KindOf(err) != fault.Denied {
		t.Errorf("a stranger's press: %v", err)
	}
}
