package booth_test

import (
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
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
