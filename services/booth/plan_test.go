package booth_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/booth"
	"seamwright/services/calc/plan"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// A plan tells the journal where loads stand only when they stand elsewhere
// than before.
func TestThePlanIsToldWhenALoadsPlaceChanges(t *testing.T) {
	h := furnished(t)
	p := h.think()
	l := h.of(p, "2207-A")
	if !p.GetPlanning() || p.GetTrouble() != "" || l.GetBoothId() != "booth-1" || l.GetOrder() != 1 {
		t.Fatalf("plan %v", p)
	}
	if got := h.told(); len(got) != 1 || !strings.HasPrefix(got[0], "2207-A booth-1 ") {
		t.Fatalf("told %v, want the load's place once", got)
	}
	ev, _, _ := h.Floor.Event(h.seq())
	if b := ev.Body.(*boothv1.LoadPlanned); ev.Actor != "booth-planner" || b.GetReason() == "" || len(b.GetSeamIds()) != 1 || b.GetColour() != "blue" {
		t.Errorf("event %v by %s", b, ev.Actor)
	}
	h.at(&jobsv1.PhotoAttached{SeamId: seam, Sha256: zeros, MediaType: "image/jpeg"})
	before := h.seq()
	for range 3 {
		h.think()
	}
	if h.seq() != before {
		t.Errorf("the journal went from %d to %d though nothing changed: %v", before, h.seq(), h.told())
	}
}

// A bead that is laid late moves its load; one that is laid fixes it.
func TestASeamLaidLateMovesItsLoad(t *testing.T) {
	h := furnished(t)
	h.wait(time.Hour) // its air is known by then
	first := h.of(h.think(), "2207-A").GetStart().AsTime()
	h.wait(time.Hour)
	moved := h.of(h.think(), "2207-A").GetStart().AsTime()
	if d := moved.Sub(first); d < 55*time.Minute || d > 70*time.Minute {
		t.Errorf("an hour later the start went from %s to %s", first, moved)
	}
	h.lay()
	laid := h.of(h.think(), "2207-A")
	var opens time.Time
	h.Writer.View(func(uint64) {
		f := h.Floor
		opens = f.Windows(f.Load("2207-A"), h.Time.Now())[0].Opens
	})
	if s := laid.GetStart().AsTime(); s.Before(opens) || s.Sub(opens) > 2*time.Minute {
		t.Errorf("laid, it starts at %s, its window surely opens at %s", s, opens)
	}
	if laid.GetLatestStart() == nil || len(laid.GetWaitsFor()) > 0 {
		t.Errorf("laid: %v", laid)
	}
	if got := h.told(); len(got) < 2 {
		t.Errorf("told %v", got)
	}
}

// The plan that stands is kept while another one gains little.
func TestTheStandingPlanIsKept(t *testing.T) {
	h := furnished(t)
	h.job("2208")
	h.promise("2207", 3*time.Hour, 1)
	h.promise("2208", 3*time.Hour, 1)
	order := func(p *boothv1.Plan) string {
		var ids []string
		for _, l := range p.GetLoads() {
			ids = append(ids, l.GetLoadId())
		}
		return strings.Join(ids, " ")
	}
	stood := order(h.think())
	first, second := "2207", "2208"
	if strings.HasPrefix(stood, "2208") {
		first, second = second, first
	}
	// The second is promised so that going first would gain about 10 weighted minutes.
	h.promise(first, 4*time.Hour, 1)
	p := h.shown()
	end := h.of(p, second+"-A").GetEnd().AsTime().Add(30 * time.Minute)
	h.promise(second, end.Sub(h.Time.Now())-10*time.Minute, 1)
	if got := order(h.think()); got != stood {
		t.Errorf("for 10 minutes the order became %s, was %s", got, stood)
	}
	h.promise(second, end.Sub(h.Time.Now())-50*time.Minute, 1)
	if got := order(h.think()); got == stood {
		t.Errorf("for 50 minutes the order stayed %s", got)
	}
}

// A permit outlives every plan: neither what has a permit nor what is being
// sprayed is moved, however much another plan would gain.
func TestNoPlanTakesAPermit(t *testing.T) {
	h0 := ready(t)
	h := h0.keeper(booth.PlanOptions{})
	h.think()
	h.read(21)
	h.hear()
	h.permit()
	h.job("2209")
	h.promise("2209", time.Minute, 1000)
	before := len(h.told())
	for range 5 {
		h.think()
		h.hear()
		h.read(21)
		h.step()
	}
	if got := h.permits(); !slices.Equal(got, []string{"issued"}) {
		t.Errorf("permits: %v", got)
	}
	for _, s := range h.told()[before:] {
		if strings.HasPrefix(s, "2207-A") {
			t.Errorf("a load with a permit was moved: %s", s)
		}
	}
	if l := h.of(h.shown(), "2207-A"); !l.GetPermitted() || l.GetOrder() != 1 {
		t.Errorf("the load with the permit stands %v", l)
	}
	h.Tell(t, &boothv1.SprayStarted{BoothId: "booth-1", LoadId: "2207-A"})
	before = len(h.told())
	p := h.think()
	if l := h.of(p, "2207-A"); !l.GetBegun() || l.GetOrder() != 0 {
		t.Errorf("in the booth: %v", l)
	}
	for _, s := range h.told()[before:] {
		if strings.HasPrefix(s, "2207-A") {
			t.Errorf("a load that is being sprayed was moved: %s", s)
		}
	}
}

// A booth that is out of use is left for one that may take its loads, and
// taken again when it is reset.
func TestAFaultSendsLoadsToTheOtherBooth(t *testing.T) {
	h := furnished(t)
	h.job("2208") // may not go elsewhere
	h.Tell(t, &boothv1.LoadPlanned{LoadId: "2207-A", BoothId: "booth-1", Ro: "2207", Colour: "blue", SeamIds: []string{seam}, AlsoBoothIds: []string{"booth-2"}})
	h.think()
	h.Tell(t, &boothv1.BoothFaulted{BoothId: "booth-1", What: "fan"})
	p := h.think()
	if l := h.of(p, "2207-A"); l.GetBoothId() != "booth-2" {
		t.Errorf("with booth-1 out of use: %v", l)
	}
	if l := h.of(p, "2208-A"); l.GetBoothId() != "" || !strings.Contains(l.GetWhy(), "out of use (fan)") {
		t.Errorf("what only booth-1 may take: %v", l)
	}
	told := h.told()
	if !slices.ContainsFunc(told, func(s string) bool { return strings.HasPrefix(s, "2207-A booth-2 ") }) || !slices.Contains(told, "2208-A booth-1 no place") {
		t.Errorf("told %v", told)
	}
	h.Tell(t, &boothv1.BoothReset{BoothId: "booth-1", What: "belt"})
	if l := h.of(h.think(), "2208-A"); l.GetBoothId() != "booth-1" {
		t.Errorf("reset: %v", l)
	}
	if got := h.told()[len(told):]; !slices.ContainsFunc(got, func(s string) bool { return strings.HasPrefix(s, "2208-A booth-1 0") }) {
		t.Errorf("reset, told %v", got)
	}
}

// What somebody puts somewhere stays there; what they keep of it they say.
func TestWhatIsPutSomewhereByHandStaysThere(t *testing.T) {
	at := time.Date(2026, 3, 2, 15, 0, 0, 0, time.UTC)
	for name, c := range map[string]struct {
		keep         boothv1.Keep
		start        bool
		want         boothv1.Keep
		booth, there bool // the booth is kept, the start is
	}{
		"a start":             {boothv1.Keep_KEEP_UNSPECIFIED, true, boothv1.Keep_KEEP_START, true, true},
		"no start":            {boothv1.Keep_KEEP_UNSPECIFIED, false, boothv1.Keep_KEEP_NOTHING, false, false},
		"a start, if it fits": {boothv1.Keep_KEEP_NOTHING, true, boothv1.Keep_KEEP_NOTHING, false, false},
		"the booth":           {boothv1.Keep_KEEP_BOOTH, false, boothv1.Keep_KEEP_BOOTH, true, false},
	} {
		t.Run(name, func(t *testing.T) {
			h := furnished(t)
			b := &boothv1.LoadPlanned{LoadId: "2207-A", BoothId: "booth-1", Ro: "2207", SeamIds: []string{seam}, AlsoBoothIds: []string{"booth-2"}, Keep: c.keep}
			if c.start {
				b.Start = timestamppb.New(at)
			}
			h.Tell(t, b)
			l := h.of(h.think(), "2207-A")
			if l.GetKeep() != c.want || l.GetStart().AsTime().Equal(at) != c.there {
				t.Errorf("kept %s, starts %s", l.GetKeep(), l.GetStart().AsTime())
			}
			h.Tell(t, &boothv1.BoothFaulted{BoothId: "booth-1", What: "fan"})
			if got := h.of(h.think(), "2207-A").GetBoothId(); (got == "booth-2") == c.booth {
				t.Errorf("with booth-1 out of use it stands in %q", got)
			}
			h.Writer.View(func(uint64) {
				if l := h.Floor.Load("2207-A"); c.there && (!l.Start.Equal(at) || l.Booth != "booth-1") {
					t.Errorf("the floor has it in %s at %s", l.Booth, l.Start)
				}
			})
		})
	}
}

// A plan that cannot be made is a trouble of the plan alone: loads stand
// where they stood, and permits are given and kept.
func TestAPlannerThatBreaksLeavesTheGateAlone(t *testing.T) {
	broken := false
	h := ready(t).keeper(booth.PlanOptions{Solve: func(p plan.Problem, o plan.Options) (plan.Plan, error) {
		if broken {
			panic("planted")
		}
		return plan.Solve(p, o)
	}})
	sound := h.think()
	broken = true
	h.job("2208")
	p := h.think()
	if !strings.Contains(p.GetTrouble(), "planted") || len(p.GetLoads()) != len(sound.GetLoads()) {
		t.Fatalf("broken, the plan is %v", p)
	}
	h.read(21)
	h.hear()
	h.permit()
	h.think()
	h.step()
	if got := h.permits(); !slices.Equal(got, []string{"issued"}) {
		t.Errorf("permits: %v", got)
	}
	if _, err := h.WhatIf(t.Context(), &boothv1.WhatIfRequest{Suppose: []*boothv1.Supposition{closed("booth-1")}}); fault.KindOf(err) != fault.Internal {
		t.Errorf("what if: %v", err)
	}
	broken = false
	h.job("2210")
	if p := h.think(); p.GetTrouble() != "" || len(p.GetLoads()) != 3 {
		t.Errorf("mended, the plan is %v", p)
	}
}

// Of two booth services only the one that speaks plans.
func TestOneOfTwoServicesPlans(t *testing.T) {
	h := furnished(t)
	d := h.other(h.Journal)
	speaks := false
	g := booth.NewGate(d, booth.Options{Holder: "gate-b", Standing: func() booth.Standing { return booth.Standing{Active: speaks} }})
	other := booth.NewPlanner(d, g, booth.PlanOptions{Rounds: 50})
	h.think()
	told := h.told()
	h.Tell(t, &jobsv1.BeadDisturbed{SeamId: seam, How: "a sleeve"})
	if err := d.Writer.Step(t.Context()); err != nil {
		t.Fatal(err)
	}
	if _, err := other.Step(t.Context(), h.Time.Now()); err != nil {
		t.Fatal(err)
	}
	if got := h.told(); !slices.Equal(got, told) {
		t.Errorf("the one that stands by told %v", got)
	}
	speaks = true // it takes over: the plan that stands is its own too
	if _, err := other.Step(t.Context(), h.Time.Now()); err != nil {
		t.Fatal(err)
	}
	if err := h.Writer.Step(t.Context()); err != nil {
		t.Fatal(err)
	}
	if got := h.told(); len(got) != len(told) {
		t.Errorf("the one that took over told %v, %v was told before", got, told)
	}
}

// With planning off loads stand as they were told, in that order.
func TestWithoutAPlannerLoadsStandAsTold(t *testing.T) {
	h := furnished(t).keeper(booth.PlanOptions{Off: true})
	h.job("2206")
	h.Tell(t, &boothv1.LoadPlanned{
		LoadId: "2207-A", BoothId: "booth-1", Ro: "2207", SeamIds: []string{seam}, Start: timestamppb.New(h.Time.Now().Add(2 * time.Hour)),
	})
	p := h.think()
	if p.GetPlanning() || len(h.told()) > 0 {
		t.Errorf("plan %v, told %v", p, h.told())
	}
	if l := h.of(p, "2207-A"); l.GetWhy() != "put there by hand" {
		t.Errorf("by hand: %v", l)
	}
	if l := h.of(p, "2206-A"); l.GetBoothId() != "" {
		t.Errorf("without a start: %v", l)
	}
	if got := h.state().GetNextLoads(); !slices.Equal(got, []string{"2207-A", "2206-A"}) {
		t.Errorf("the gate's order is %v", got)
	}
}

// What the planner did with a load goes with the load, and leaves what was
// told of it as it was told.
func TestWhatWasToldOfALoadStaysItsTellers(t *testing.T) {
	h := furnished(t)
	h.think()
	if r, err := h.Record(h.ctx(), &boothv1.RecordRequest{Stamp: h.foreman(), Fact: &boothv1.RecordRequest_LoadPlanned{LoadPlanned: &boothv1.LoadPlanned{
		LoadId: "2207-A", BoothId: "booth-1", Ro: "2207", SeamIds: []string{seam}, Moved: true,
	}}}); fault.KindOf(err) != fault.Invalid {
		t.Errorf("a person moved it as the planner does: %v, %v", r, err)
	}
	var first uint64
	h.Writer.View(func(seq uint64) {
		for n := seq; n > 0; n-- {
			if ev, _, _ := h.Floor.Event(n); ev.Type() == "seamwright.booth.v1.LoadPlanned" && !ev.Body.(*boothv1.LoadPlanned).GetMoved() {
				first = n
				break
			}
		}
	})
	h.Tell(t, &jobsv1.FactWithdrawn{Sequence: first, Why: "told in error"})
	h.Writer.View(func(uint64) {
		if l := h.Floor.Load(floor.LoadID("2207-A")); l != nil && l.RO != "" {
			t.Errorf("withdrawn, the load is still %+v", l)
		}
	})
	if p := h.think(); len(p.GetLoads()) > 0 {
		t.Errorf("withdrawn, the plan has %v", p.GetLoads())
	}
}

// One that cannot plan for now shows the loads as they were told, at this
// moment, with its trouble: a load that stands is not said to be gone, and a
// permit that was lost meanwhile is told.
func TestOneThatDoesNotPlanShowsWhatStands(t *testing.T) {
	h := furnished(t)
	standing := booth.Standing{Active: true}
	h.gate = booth.NewGate(h.Desk, booth.Options{Holder: "gate-a", Standing: func() booth.Standing { return standing }})
	h = h.keeper(booth.PlanOptions{})
	h.lay()
	h.wait(3 * time.Hour)
	h.think()
	h.permit()
	was := h.think()
	standing = booth.Standing{Hold: fault.New(fault.Unavailable, "bus-silent", "not heard for 1.8s", "")}
	h.steps()
	p := h.shown()
	if l := h.of(p, "2207-A"); p.GetPlanning() || !strings.Contains(p.GetTrouble(), "not heard for 1.8s") || !p.GetNow().AsTime().Equal(h.Time.Now()) ||
		len(p.GetLoads()) != len(was.GetLoads()) || l.GetBoothId() != h.of(was, "2207-A").GetBoothId() {
		t.Fatalf("in trouble it shows %v", p)
	}
	standing.Hold = fault.New(fault.Unavailable, "bus-silent", "not heard for 2.0s", "")
	h.steps()
	if again := h.shown(); again.GetNumber() != p.GetNumber() {
		t.Errorf("a moment later it shows plan %d, %d stood", again.GetNumber(), p.GetNumber())
	}
	h.Tell(t, &jobsv1.BeadDisturbed{SeamId: seam, How: "a sleeve"})
	standing = booth.Standing{Active: true}
	h.step()
	standing = booth.Standing{Hold: fault.New(fault.Unavailable, "bus-silent", "not heard for 9s", "")}
	h.pass(5 * time.Second)
	h.steps()
	p = h.shown()
	if l := h.of(p, "2207-A"); l.GetPermitted() || !strings.Contains(l.GetPermitLost(), "a sleeve") || !strings.Contains(p.GetTrouble(), "1.8s") {
		t.Errorf("five seconds later it shows %v, trouble %q", l, p.GetTrouble())
	}
	standing = booth.Standing{Active: true}
	if p := h.think(); !p.GetPlanning() || p.GetTrouble() != "" {
		t.Errorf("when it plans again it shows %v", p)
	}
}
