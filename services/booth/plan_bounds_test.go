package booth_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/booth"
	"seamwright/services/booth/planner"
	"seamwright/services/floor"
	"seamwright/services/record/recordtest"
)

// draft is the floor of a house as a problem.
func (h *planned) draft() (d *planner.Draft) {
	h.Writer.View(func(uint64) { d = planner.From(h.Floor, h.Time.Now(), planner.DefaultHouse()) })
	return d
}

// brisk corrects the product so that its window over waterborne closes after
// four hours, and an hour after it was scuffed.
func (h *planned) brisk() {
	h.t.Helper()
	p := recordtest.Levelling()
	p.Cure.Over[0].ClosesMin, p.Cure.AfterScuffClosesMin = 240, proto.Float64(60)
	h.Tell(h.t, p)
}

// TestThePlansBoundsHoldAtTheGate: with the air as it is told, the gate gives
// leave from the release that the plan has to the latest start; the oracle is
// the gate's own ruling, which shares no forecast with the plan.
func TestThePlansBoundsHoldAtTheGate(t *testing.T) {
	h := furnished(t)
	h.brisk()
	h.lay()
	l := h.of(h.think(), "2207-A")
	release, last := l.GetRelease().AsTime(), l.GetLatestStart().AsTime()
	if d := last.Sub(release); d < time.Hour || d > 3*time.Hour {
		t.Fatalf("from %s to %s: the window is to last 4 h at 21 °C, less the opening, the tolerance and what 20 minutes of a cone take", release, last)
	}
	ruling := func() floor.Ruling {
		var r floor.Ruling
		h.Writer.View(func(uint64) { r = h.Floor.Gate("2207-A", h.Time.Now(), floor.Live{Untouched: true}) })
		return r
	}
	h.wait(release.Sub(h.Time.Now()))
	if r := ruling(); !r.Clear() {
		t.Errorf("at its release %s: %+v", release, r.Reasons)
	}
	h.wait(last.Sub(h.Time.Now()))
	if r := ruling(); !r.Clear() {
		t.Errorf("at its latest start %s: %+v", last, r.Reasons)
	}
	h.wait(time.Hour)
	if r := ruling(); r.Clear() {
		t.Errorf("an hour past its latest start the gate gives leave: the plan is much too careful")
	}
	if w := h.draft().Works; len(w) != 1 || w[0].What != planner.Scuff {
		t.Errorf("closed, the work is %+v, want its scuffing", w)
	}
	h.at(&jobsv1.SeamScuffed{SeamId: seam})
	if l := h.of(h.think(), "2207-A"); len(l.GetWaitsFor()) > 0 || l.GetLatestStart() == nil || l.GetLatestStart().AsTime().Sub(h.Time.Now()) > time.Hour {
		t.Errorf("scuffed: %v", l)
	}
}

// TestATaskHasTheLagsThatLayingHas: the wait that is planned for a bead that
// is not laid is about the one that it has once it is, and errs to the safe
// side: a surface that was measured when it was laid narrows both bounds.
func TestATaskHasTheLagsThatLayingHas(t *testing.T) {
	h := furnished(t)
	h.brisk()
	h.Tell(t, &jobsv1.SeamPlanned{
		SeamId: seam, ProductId: "sl", Profile: floorv1.Profile_PROFILE_LEVELLED, WidthMm: 12, HeightMm: 4,
		Technique: floorv1.Technique_TECHNIQUE_DIRECT_BEAD, VolumeMl: 60,
	})
	h.at(&jobsv1.SurfacePrepped{SeamId: seam, Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER})
	d := h.draft()
	q := d.Problem.Tasks[0]
	if q.Crew != "bay bay-1" || q.Length != 10*time.Minute || !q.HasMax {
		t.Fatalf("task %+v", q)
	}
	h.lay()
	laid := h.Time.Now()
	l := h.draft().Problem.Loads[0]
	if got := l.Release.Sub(laid); got > q.MinLag || q.MinLag-got > 15*time.Minute {
		t.Errorf("it opens %s after laying, %s were planned", got, q.MinLag)
	}
	// The lag leaves out the laying itself and a nozzle that was used before.
	if got := l.LatestStart.Sub(laid); got < q.MaxLag || got-q.MaxLag > 45*time.Minute {
		t.Errorf("it closes %s after laying, %s were planned", got, q.MaxLag)
	}
}

// Each thing on the floor is in the problem as it should be.
func TestHowTheFloorIsTranslated(t *testing.T) {
	monday := recordtest.Monday
	hours := func(h *planned) {
		h.Tell(h.t, &boothv1.BoothDefined{
			BoothId: "booth-1", ZoneId: "room", FirstCoatMin: 20, ProcessMin: 60, Coats: []floorv1.Coat{floorv1.Coat_COAT_WATERBORNE},
			Setups: []*boothv1.BoothDefined_Setup{{From: "", To: "blue", Minutes: 12.5}, {From: "blue", To: "blue", Minutes: 5}},
			Open: []*floorv1.Interval{
				{From: timestamppb.New(monday.Add(5 * time.Hour)), To: timestamppb.New(monday.Add(9 * time.Hour))},
				{From: timestamppb.New(monday), To: timestamppb.New(monday.Add(4 * time.Hour))},
				{From: timestamppb.New(monday.Add(9 * time.Hour)), To: timestamppb.New(monday.Add(10 * time.Hour))},
			},
		})
	}
	for name, c := range map[string]struct {
		do   func(*planned)
		want func(*planner.Draft) bool
	}{
		"hours in order, touching ones joined, a break between": {hours, func(d *planner.Draft) bool {
			o := d.Problem.Booths[0].Open
			return len(o) == 2 && o[0].To.Equal(monday.Add(4*time.Hour)) && o[1].From.Equal(monday.Add(5*time.Hour)) && o[1].To.Equal(monday.Add(10*time.Hour))
		}},
		"technicians work while a booth is open": {func(h *planned) {
			hours(h)
			h.Tell(h.t, &boothv1.BoothDefined{BoothId: "booth-2", ZoneId: "room", FirstCoatMin: 20, ProcessMin: 60, Open: []*floorv1.Interval{
				{From: timestamppb.New(monday.Add(3 * time.Hour)), To: timestamppb.New(monday.Add(11 * time.Hour))},
			}})
		}, func(d *planner.Draft) bool {
			o := d.Problem.Crews[0].Open
			return len(o) == 1 && o[0].To.Equal(monday.Add(11*time.Hour)) && d.Problem.Crews[0].People == 1 && d.Problem.Crews[0].ID == "all bays"
		}},
		"a gun without a colour, minutes rounded up": {hours, func(d *planner.Draft) bool {
			b := d.Problem.Booths[0]
			return b.Colour == "no colour" && d.Problem.Setups[b.Colour]["blue"] == 13*time.Minute && d.Problem.Setups["blue"]["blue"] == 5*time.Minute
		}},
		"a fault closes until it is reset": {func(h *planned) { h.Tell(h.t, &boothv1.BoothFaulted{BoothId: "booth-1", What: "fan"}) }, func(d *planner.Draft) bool {
			return len(d.Problem.Booths[0].Open) == 0 && len(d.Problem.Booths[1].Open) == 1
		}},
		"a phase that lasts": {func(h *planned) {
			h.Tell(h.t, &boothv1.BoothPhaseChanged{BoothId: "booth-1", Phase: boothv1.Phase_PHASE_COOLING, Expected: durationpb.New(50 * time.Minute)})
		}, func(d *planner.Draft) bool {
			return d.Problem.Booths[0].Open[0].From.Equal(monday.Add(50 * time.Minute))
		}},
		"a booth that takes its coat from others": {func(h *planned) {
			h.Tell(h.t, &boothv1.BoothDefined{BoothId: "booth-2", ZoneId: "room", FirstCoatMin: 20, ProcessMin: 90, Coats: []floorv1.Coat{floorv1.Coat_COAT_WATERBORNE}})
		}, func(d *planner.Draft) bool {
			l := d.Problem.Loads[0]
			return slices.Equal(l.Booths, []string{"booth-1", "booth-2"}) && l.Process == 90*time.Minute
		}},
		"a car that was brought in is not sent elsewhere": {func(h *planned) {
			h.Tell(h.t, &boothv1.BoothDefined{BoothId: "booth-2", ZoneId: "room", FirstCoatMin: 20, ProcessMin: 90, Coats: []floorv1.Coat{floorv1.Coat_COAT_WATERBORNE}})
			h.Tell(h.t, &jobsv1.CarMoved{Ro: "2207", ZoneId: "room"})
		}, func(d *planner.Draft) bool { return slices.Equal(d.Problem.Loads[0].Booths, []string{"booth-1"}) }},
		"one that does not": {func(h *planned) {
			h.Tell(h.t, &boothv1.BoothDefined{BoothId: "booth-2", ZoneId: "room", FirstCoatMin: 20, ProcessMin: 60, Coats: []floorv1.Coat{floorv1.Coat_COAT_PRIMER_SURFACER}})
		}, func(d *planner.Draft) bool { return slices.Equal(d.Problem.Loads[0].Booths, []string{"booth-1"}) }},
		"the promise, the weight and the work after": {func(h *planned) { h.promise("2207", 4*time.Hour, 3) }, func(d *planner.Draft) bool {
			l := d.Problem.Loads[0]
			return l.Due.Equal(monday.Add(4*time.Hour)) && l.Weight == 3 && l.Tail == 30*time.Minute && l.MissCost == 3*planner.DefaultHouse().MissMin
		}},
		"no promise: wanted soon, at a hundredth": {func(*planned) {}, func(d *planner.Draft) bool {
			return d.Problem.Loads[0].Weight == 0.01 && d.Loads[0].Due.IsZero()
		}},
		"what a foreman must answer for waits": {func(h *planned) {
			h.lay()
			h.at(&jobsv1.BeadDisturbed{SeamId: seam, How: "a sleeve"})
		}, func(d *planner.Draft) bool {
			return d.Problem.Loads[0].Release.Sub(monday) >= 30*time.Minute && len(d.Loads[0].Waits) == 1 && strings.Contains(d.Loads[0].Waits[0], "foreman to decide")
		}},
		"in the booth, longer than meant": {func(h *planned) {
			h.Tell(h.t, &boothv1.SprayStarted{BoothId: "booth-1", LoadId: "2207-A"})
			h.pass(2 * time.Hour)
			h.read(21)
		}, func(d *planner.Draft) bool {
			l := d.Problem.Loads[0]
			return d.Loads[0].Begun && l.Frozen != nil && l.Frozen.Start.Equal(monday) && l.Process == 2*time.Hour && len(d.Problem.Tasks) == 0
		}},
		"done": {func(h *planned) {
			h.Tell(h.t, &boothv1.SprayStarted{BoothId: "booth-1", LoadId: "2207-A"})
			h.Tell(h.t, &boothv1.LoadFinished{BoothId: "booth-1", LoadId: "2207-A"})
		}, func(d *planner.Draft) bool { return len(d.Problem.Loads) == 0 && d.Problem.Booths[0].Colour == "blue" }},
		"a car that is gone": {func(h *planned) { h.Tell(h.t, &jobsv1.JobCancelled{Ro: "2207", Why: "sold"}) }, func(d *planner.Draft) bool { return len(d.Problem.Loads) == 0 }},
		"two by hand in one place: the later keeps its booth": {func(h *planned) {
			h.job("2208")
			for i, ro := range []string{"2207", "2208"} {
				h.Tell(h.t, &boothv1.LoadPlanned{
					LoadId: ro + "-A", BoothId: "booth-1", Ro: ro, Colour: "blue", SeamIds: []string{ro + "/rd-l"},
					Start: timestamppb.New(monday.Add(5*time.Hour + time.Duration(i)*30*time.Minute)),
				})
			}
		}, func(d *planner.Draft) bool {
			a, b := d.Problem.Loads[0], d.Problem.Loads[1]
			return a.Frozen != nil && b.Frozen == nil && b.Release.Equal(monday.Add(5*time.Hour+30*time.Minute)) && d.Loads[1].Taken.Equal(monday.Add(5*time.Hour+30*time.Minute))
		}},
		"a start by hand that has gone by": {func(h *planned) {
			h.Tell(h.t, &boothv1.LoadPlanned{LoadId: "2207-A", BoothId: "booth-1", Ro: "2207", SeamIds: []string{seam}, Start: timestamppb.New(monday.Add(time.Minute))})
			h.pass(time.Hour)
			h.read(21)
		}, func(d *planner.Draft) bool { return d.Problem.Loads[0].Frozen == nil }},
	} {
		t.Run(name, func(t *testing.T) {
			h := furnished(t)
			c.do(h)
			if d := h.draft(); !c.want(d) {
				t.Errorf("problem %+v\nloads %+v", d.Problem, d.Loads)
			}
		})
	}
}

// TestACoatWaitsForTheOneBelowIt: a car's second coat comes behind its first,
// counts for its promise, and takes no windows from beads that the first covers.
func TestACoatWaitsForTheOneBelowIt(t *testing.T) {
	h := furnished(t)
	h.Tell(t, &jobsv1.JobOpened{
		Ro: "2207", Vehicle: "blue hatchback", Coats: []floorv1.Coat{floorv1.Coat_COAT_WATERBORNE, floorv1.Coat_COAT_SOLVENTBORNE},
		Promised: timestamppb.New(h.Time.Now().Add(6 * time.Hour)),
	})
	h.Tell(t, &boothv1.LoadPlanned{LoadId: "2207-B", BoothId: "booth-2", Ro: "2207", Colour: "clear", Coat: floorv1.Coat_COAT_SOLVENTBORNE, SeamIds: []string{seam}})
	d := h.draft()
	if n := len(d.Problem.Tasks); n != 1 || d.Problem.Tasks[0].Load != "2207-A" || d.Problem.Loads[0].Tail != time.Hour {
		t.Errorf("problem %+v", d.Problem)
	}
	p := h.think()
	a, b := h.of(p, "2207-A"), h.of(p, "2207-B")
	if b.GetStart().AsTime().Before(a.GetEnd().AsTime()) {
		t.Errorf("the second coat starts at %s, the first ends at %s", b.GetStart().AsTime(), a.GetEnd().AsTime())
	}
}

// TestASeamIsLaidOnce: where two loads of a car are told to bring the first
// coat over a seam, the one that stands earlier does, and the other waits.
func TestASeamIsLaidOnce(t *testing.T) {
	h := furnished(t)
	soon := timestamppb.New(h.Time.Now().Add(2 * time.Hour))
	later := timestamppb.New(h.Time.Now().Add(20 * time.Hour))
	keep := boothv1.Keep_KEEP_NOTHING
	h.Tell(t, &boothv1.LoadPlanned{LoadId: "2207-P", BoothId: "booth-1", Ro: "2207", Colour: "blue", SeamIds: []string{seam}, Start: soon, Keep: keep})
	h.Tell(t, &boothv1.LoadPlanned{LoadId: "2207-A", BoothId: "booth-1", Ro: "2207", Colour: "blue", SeamIds: []string{seam}, Start: later, Keep: keep})
	if d := h.draft(); len(d.Problem.Tasks) != 1 || d.Problem.Tasks[0].Load != "2207-P" {
		t.Errorf("tasks %+v", d.Problem.Tasks)
	}
	p := h.think()
	if first, second := h.of(p, "2207-P"), h.of(p, "2207-A"); second.GetStart().AsTime().Before(first.GetEnd().AsTime()) || len(p.GetLayBy()) != 1 {
		t.Errorf("%s at %s, %s at %s, to lay: %v", first.GetLoadId(), first.GetStart().AsTime(), second.GetLoadId(), second.GetStart().AsTime(), p.GetLayBy())
	}
}

// BenchmarkReplan is the plan of 40 loads after one event, told to the
// journal and all.
func BenchmarkReplan(b *testing.B) {
	s := recordtest.New()
	tell := func(body proto.Message) {
		b.Helper()
		if _, err := s.Record(b.Context(), floor.Command{Stamp: s.Stamp(floorv1.Role_ROLE_FOREMAN), Body: body},
			func(f *floor.Floor, c floor.Command, at time.Time) (floor.Event, error) { return f.Decide(c, at) }); err != nil {
			b.Fatal(err)
		}
	}
	tell(&curesv1.ZoneDefined{
		ZoneId: "bay-1", LimitLowC: 5, LimitHighC: 35, ProbeErrorC: 0.5, DriftCPerMin: 0.2, Works: true,
		StaleAfter: durationpb.New(15 * time.Minute), Settling: durationpb.New(30 * time.Minute), Terminals: []string{"bay-1-tablet"},
	})
	tell(recordtest.Levelling())
	tell(&curesv1.ReadingTaken{ZoneId: "bay-1", ProbeId: "p1", TempC: 21, RhPercent: proto.Float64(45)})
	colours := []string{"white", "blue", "red", "silver"}
	var setups []*boothv1.BoothDefined_Setup
	for i, from := range append([]string{""}, colours...) {
		for k, to := range colours {
			setups = append(setups, &boothv1.BoothDefined_Setup{From: from, To: to, Minutes: float64(5 + 5*((i+k)%4))})
		}
	}
	for _, id := range []string{"booth-1", "booth-2"} {
		tell(&boothv1.BoothDefined{BoothId: id, ZoneId: "bay-1", FirstCoatMin: 20, ProcessMin: 60, Setups: setups, Coats: []floorv1.Coat{floorv1.Coat_COAT_WATERBORNE}})
	}
	for i := range 40 {
		ro := string(rune('A'+i/26)) + string(rune('A'+i%26))
		tell(&jobsv1.JobOpened{
			Ro: ro, Vehicle: "car", PaintColour: colours[i%4], Coats: []floorv1.Coat{floorv1.Coat_COAT_WATERBORNE},
			Promised: timestamppb.New(recordtest.Monday.Add(time.Duration(3+(i*7)%40) * time.Hour)), Weight: float64(1 + i%3),
		})
		tell(&jobsv1.SeamSurveyed{
			SeamId: ro + "/s", Panel: "roof", Place: "roof ditch", Side: "L", LengthMm: 1400, Orientation: floorv1.Orientation_ORIENTATION_LEVEL,
			Finish: floorv1.Finish_FINISH_COATED, Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER,
			Reference: &floorv1.Reference{Source: floorv1.ReferenceSource_REFERENCE_SOURCE_BEFORE_TEAR_DOWN, WidthMm: 12, HeightMm: 4},
		})
		tell(&boothv1.LoadPlanned{LoadId: ro + "-A", BoothId: "booth-1", Ro: ro, Colour: colours[i%4], SeamIds: []string{ro + "/s"}})
	}
	g := booth.NewGate(s.Desk, booth.Options{Holder: "gate-a"})
	p := booth.NewPlanner(s.Desk, g, booth.PlanOptions{})
	if _, err := p.Step(b.Context(), s.Time.Now()); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if err := s.Time.Advance(time.Second); err != nil {
			b.Fatal(err)
		}
		tell(&boothv1.BoothPhaseChanged{BoothId: "booth-1", Phase: boothv1.Phase_PHASE_IDLE})
		if _, err := p.Step(b.Context(), s.Time.Now()); err != nil {
			b.Fatal(err)
		}
	}
}

// TestASilentPlaceThatWasLeftIsInThePlan: a bay that a car has left counts
// until its panels have settled elsewhere. While its probe is silent the gate
// gives no leave before that, so the plan has no start before it either, and
// says what the load waits for.
func TestASilentPlaceThatWasLeftIsInThePlan(t *testing.T) {
	h := furnished(t)
	h.lay()
	h.wait(80 * time.Minute)
	other := &curesv1.ZoneDefined{
		ZoneId: "bay-2", LimitLowC: 5, LimitHighC: 35, ProbeErrorC: 0.5, DriftCPerMin: 0.2, Works: true,
		StaleAfter: durationpb.New(15 * time.Minute), Settling: durationpb.New(30 * time.Minute), Terminals: []string{"bay-2-tablet"},
	}
	h.Tell(h.t, other)
	without := func(d time.Duration) { // bay-1's probe is silent
		for ; d > 0; d -= 5 * time.Minute {
			h.pass(min(d, 5*time.Minute))
			for _, z := range []string{"room", "bay-2"} {
				h.Tell(h.t, &curesv1.ReadingTaken{ZoneId: z, ProbeId: "p-" + z, TempC: 21, RhPercent: proto.Float64(45)})
			}
		}
	}
	without(10 * time.Minute)
	h.Tell(h.t, &jobsv1.CarMoved{Ro: "2207", ZoneId: "bay-2"})
	without(10 * time.Minute)
	ruling := func() (r floor.Ruling) {
		h.Writer.View(func(uint64) { r = h.Floor.Gate("2207-A", h.Time.Now(), floor.Live{Untouched: true}) })
		return r
	}
	l := h.of(h.think(), "2207-A")
	clear := ruling().ClearAt
	if clear.Sub(h.Time.Now()) < 10*time.Minute {
		t.Fatalf("the gate is clear at %s: %+v", clear, ruling().Reasons)
	}
	if start := l.GetStart().AsTime(); start.Before(clear) || start.Sub(clear) > time.Minute {
		t.Errorf("the plan starts it at %s, the gate is clear at %s", start, clear)
	}
	if why := "waits until its panels have settled, for the air where it was is not known, at " + l.GetStart().AsTime().Format("15:04"); !strings.Contains(l.GetWhy(), why) {
		t.Errorf("it says %q, not %q", l.GetWhy(), why)
	}
	if len(l.GetWaitsFor()) > 0 {
		t.Errorf("it waits for %q: time alone brings it", l.GetWaitsFor())
	}
	without(clear.Sub(h.Time.Now()))
	if r := ruling(); !r.Clear() {
		t.Errorf("at %s: %+v", clear, r.Reasons)
	}
}
