package booth_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/booth"
	"seamwright/services/calc/plan"
	"seamwright/services/fault"
)

func closed(booth string) *boothv1.Supposition {
	return &boothv1.Supposition{What: &boothv1.Supposition_BoothClosed_{BoothClosed: &boothv1.Supposition_BoothClosed{BoothId: booth}}}
}

func in(h *planned, d time.Duration) *timestamppb.Timestamp {
	return timestamppb.New(h.Time.Now().Add(d))
}

// A question changes nothing: neither the journal nor the plan.
func TestWhatIfTouchesNothing(t *testing.T) {
	h := furnished(t)
	h.promise("2207", 4*time.Hour, 1)
	h.job("2208")
	h.promise("2208", 5*time.Hour, 1)
	h.think()
	waits := func(d time.Duration) *boothv1.Supposition {
		return &boothv1.Supposition{What: &boothv1.Supposition_SeamWaits_{SeamWaits: &boothv1.Supposition_SeamWaits{SeamId: seam, Until: in(h, d)}}}
	}
	for name, c := range map[string]struct {
		suppose *boothv1.Supposition
		says    string // of 2207-A, or the summary
	}{
		"a seam waits": {waits(3 * time.Hour), "2207-A starts"},
		"nothing":      {waits(0), "nothing changes"},
		"closed today": {closed("booth-1"), "2207-A starts"},
		"due sooner": {&boothv1.Supposition{What: &boothv1.Supposition_DueMoved_{DueMoved: &boothv1.Supposition_DueMoved{
			LoadId: "2207-A", Due: in(h, time.Minute),
		}}}, "weighted minutes more"},
		"put somewhere": {&boothv1.Supposition{What: &boothv1.Supposition_LoadPlaced_{LoadPlaced: &boothv1.Supposition_LoadPlaced{
			LoadId: "2207-A", BoothId: "booth-2", Start: in(h, 7*time.Hour),
		}}}, "2207-A goes into booth-2"},
		"open anyway": {&boothv1.Supposition{What: &boothv1.Supposition_BoothOpen_{BoothOpen: &boothv1.Supposition_BoothOpen{
			BoothId: "booth-2", To: in(h, 7*time.Hour),
		}}}, "nothing changes"},
	} {
		t.Run(name, func(t *testing.T) {
			seq, number := h.seq(), h.shown().GetNumber()
			r, err := h.WhatIf(t.Context(), &boothv1.WhatIfRequest{Suppose: []*boothv1.Supposition{c.suppose}})
			if err != nil {
				t.Fatal(err)
			}
			words := r.GetSummary()
			for _, x := range r.GetChanges() {
				words += "; " + x.GetWhat()
			}
			if !strings.Contains(words, c.says) {
				t.Errorf("it says %q, want %q", words, c.says)
			}
			if h.seq() != seq || h.shown().GetNumber() != number {
				t.Errorf("the journal went from %d to %d, the plan from %d to %d", seq, h.seq(), number, h.shown().GetNumber())
			}
		})
	}
}

func TestWhatIfRefusesWhatDoesNotFit(t *testing.T) {
	h := furnished(t)
	h.think()
	for name, c := range map[string]struct {
		suppose *boothv1.Supposition
		kind    fault.Kind
	}{
		"an unknown booth": {closed("booth-9"), fault.NotFound},
		"an unknown seam":  {&boothv1.Supposition{What: &boothv1.Supposition_SeamWaits_{SeamWaits: &boothv1.Supposition_SeamWaits{SeamId: "2207/none", Until: in(h, time.Hour)}}}, fault.NotFound},
		"an unknown load":  {&boothv1.Supposition{What: &boothv1.Supposition_DueMoved_{DueMoved: &boothv1.Supposition_DueMoved{LoadId: "9-A", Due: in(h, time.Hour)}}}, fault.NotFound},
		"the past": {&boothv1.Supposition{What: &boothv1.Supposition_LoadPlaced_{LoadPlaced: &boothv1.Supposition_LoadPlaced{
			LoadId: "2207-A", Start: in(h, -time.Hour),
		}}}, fault.Invalid},
		"an end before its begin": {&boothv1.Supposition{What: &boothv1.Supposition_BoothClosed_{BoothClosed: &boothv1.Supposition_BoothClosed{
			BoothId: "booth-1", From: in(h, 2*time.Hour), To: in(h, time.Hour),
		}}}, fault.Invalid},
		"nothing": {&boothv1.Supposition{}, fault.Invalid},
	} {
		t.Run(name, func(t *testing.T) {
			if r, err := h.WhatIf(t.Context(), &boothv1.WhatIfRequest{Suppose: []*boothv1.Supposition{c.suppose}}); fault.KindOf(err) != c.kind {
				t.Errorf("%v, %v, want %s", r, err, c.kind)
			}
		})
	}
}

// What cannot be told cannot be supposed: a booth that does not take the load,
// or a load that is in the booth.
func TestWhatIfPlacesALoadWhereItIsTaken(t *testing.T) {
	h := furnished(t)
	h.Tell(t, &boothv1.BoothDefined{BoothId: "prep-1", ZoneId: "room", Coats: []floorv1.Coat{floorv1.Coat_COAT_PRIMER_SURFACER}})
	h.think()
	put := func(booth string) error {
		_, err := h.WhatIf(t.Context(), &boothv1.WhatIfRequest{Suppose: []*boothv1.Supposition{{What: &boothv1.Supposition_LoadPlaced_{
			LoadPlaced: &boothv1.Supposition_LoadPlaced{LoadId: "2207-A", BoothId: booth, Start: in(h, time.Hour)},
		}}}})
		return err
	}
	if err := put("prep-1"); fault.KindOf(err) != fault.Invalid || !strings.Contains(err.Error(), "prep-1: takes primer-surfacer, and load 2207-A begins with waterborne") {
		t.Errorf("into prep-1: %v", err)
	}
	if err := put("booth-2"); err != nil {
		t.Errorf("into booth-2: %v", err)
	}
	h.Tell(t, &boothv1.SprayStarted{BoothId: "booth-1", LoadId: "2207-A"})
	since := h.Time.Now().UTC().Format("15:04")
	if err := put("booth-2"); fault.KindOf(err) != fault.Refused || !strings.Contains(err.Error(), "2207-A has been in booth-1 since "+since+"; it cannot be placed") {
		t.Errorf("when it is sprayed: %v", err)
	}
}

// TestWhatIfIsAboutThePlanThatStands: a question is compared with the plan
// that people see, reckoned at the same moment, and what could be better
// anyway is no answer to it.
func TestWhatIfIsAboutThePlanThatStands(t *testing.T) {
	h := furnished(t)
	stands := ""
	solve := func(p plan.Problem, o plan.Options) (plan.Plan, error) {
		if stands != "" { // whatever is asked
			last := plan.Plan{Loads: []plan.PlannedLoad{{ID: "2208-A", Booth: "booth-1", Start: p.Start}, {ID: "2207-A", Booth: "booth-1", Start: p.Start.Add(time.Hour)}}}
			o.From, o.Keep, o.Rounds, o.More = &last, math.MaxFloat64, 1, func() bool { return false }
		}
		return plan.Solve(p, o)
	}
	h = h.keeper(booth.PlanOptions{Solve: solve})
	h.job("2208")
	h.job("2209")
	h.promise("2207", 2*time.Hour, 3)
	h.promise("2208", 9*time.Hour, 1)
	stands = "dear"
	was := h.think()
	if l := h.of(was, "2208-A"); l.GetOrder() != 1 || was.GetCost() == 0 {
		t.Fatalf("the plan that stands %v", was)
	}
	stands = ""
	h.pass(3 * time.Minute)
	r, err := h.WhatIf(t.Context(), &boothv1.WhatIfRequest{Suppose: []*boothv1.Supposition{{What: &boothv1.Supposition_DueMoved_{
		DueMoved: &boothv1.Supposition_DueMoved{LoadId: "2209-A", Due: in(h, 30*time.Hour)},
	}}}})
	if err != nil {
		t.Fatal(err)
	}
	late := func(p *boothv1.Plan) float64 { return 3 * h.of(p, "2207-A").GetLateMin() }
	if r.GetSummary() != "nothing changes" || len(r.GetChanges()) > 0 || r.GetCostAfter() != r.GetCostBefore() {
		t.Errorf("an idle question: %s, %v, cost %v before, %v after", r.GetSummary(), r.GetChanges(), r.GetCostBefore(), r.GetCostAfter())
	}
	// Three minutes later the same plan costs three minutes more of weight 3, and
	// three more as the bay's air is less sure; the best one costs 198.
	if got, want := r.GetCostBefore(), was.GetCost()+18; math.Abs(got-want) > 3 || math.Abs(late(r.GetPlan())-got) > 1e-6 {
		t.Errorf("now %g, the plan that stands cost %g three minutes ago", got, was.GetCost())
	}
	r, err = h.WhatIf(t.Context(), &boothv1.WhatIfRequest{Suppose: []*boothv1.Supposition{{What: &boothv1.Supposition_DueMoved_{
		DueMoved: &boothv1.Supposition_DueMoved{LoadId: "2207-A", Due: in(h, time.Minute)},
	}}}})
	if err != nil {
		t.Fatal(err)
	}
	if r.GetCostAfter() <= r.GetCostBefore() {
		t.Errorf("promised sooner it costs %g, now %g", r.GetCostAfter(), r.GetCostBefore())
	}
}
