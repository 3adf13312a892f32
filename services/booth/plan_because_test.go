package booth_test

import (
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/booth/planner"
)

// changeOf is what a plan does otherwise with a load than the one before.
func (h *planned) changeOf(was, is *boothv1.Plan, load string) *boothv1.PlanChange {
	h.t.Helper()
	for _, c := range planner.Differences(was, is) {
		if c.GetLoadId() == load {
			return c
		}
	}
	h.t.Fatalf("load %s does not change from\n%v\nto\n%v", load, was, is)
	return nil
}

// becauseOf checks why a load has moved.
func (h *planned) becauseOf(was, is *boothv1.Plan, load, want string) {
	h.t.Helper()
	if c := h.changeOf(was, is, load); !strings.HasPrefix(c.GetWhy(), want) {
		h.t.Errorf("%s: because %q, want %q", c.GetWhat(), c.GetWhy(), want)
	}
}

// A load whose bead nobody has laid moves on with the time of day; it says so.
func TestWorkThatNobodyHasBegunMovesItsLoad(t *testing.T) {
	h := furnished(t)
	h.wait(time.Hour)
	first := h.think()
	h.wait(20 * time.Minute)
	late := h.think()
	by := first.GetLayBy()[0].GetStart().AsTime().Format("15:04")
	h.becauseOf(first, late, "2207-A", "roof ditch L was to be begun by "+by+" and is not laid")
	h.lay()
	laid := h.think()
	h.becauseOf(late, laid, "2207-A", "waits until its beads are surely open at ") // it moves too, and not for want of that
}

// A setup that nobody has begun, and a load that nobody starts, move on too.
func TestWhatNobodyHasBegunIsSaid(t *testing.T) {
	h := changing(t)
	first := h.think()
	h.wait(10 * time.Minute)
	late := h.think()
	h.becauseOf(first, late, "2207-A", "its setup was to be begun by "+first.GetLoads()[0].GetSetupStart().AsTime().Format("15:04")+", and nobody has told that it was")
	h.prepares("blue")
	h.wait(50 * time.Minute)
	h.read(21)
	ready := h.think()
	h.wait(10 * time.Minute)
	h.becauseOf(ready, h.think(), "2207-A", "it could start at "+ready.GetLoads()[0].GetStart().AsTime().Format("15:04")+" and has not been started")
}

// A booth that is out of use, and one that is in use again, are the cause.
func TestABoothThatTurnsIsTheCause(t *testing.T) {
	h := furnished(t)
	h.Tell(t, &boothv1.LoadPlanned{LoadId: "2207-A", BoothId: "booth-1", Ro: "2207", Colour: "blue", SeamIds: []string{seam}, AlsoBoothIds: []string{"booth-2"}})
	sound := h.think()
	h.Tell(t, &boothv1.BoothFaulted{BoothId: "booth-1", What: "fan"})
	h.becauseOf(sound, h.think(), "2207-A", "booth-1 is out of use (fan)")
	h.job("2208") // may go into booth-1 only
	out := h.think()
	h.Tell(t, &boothv1.BoothReset{BoothId: "booth-1", What: "belt"})
	h.becauseOf(out, h.think(), "2208-A", "booth-1 is in use again")
	blue := &boothv1.PlannedBooth{BoothId: "booth-1"}
	set := &boothv1.PlannedBooth{BoothId: "booth-1", SetUpTo: "grey"}
	if got := planner.BoothNews(blue, set); got != "the gun of booth-1 is set up to grey" || planner.BoothNews(set, set) != "" || planner.BoothNews(set, blue) != "" {
		t.Errorf("a gun that is set up: %q", got)
	}
}

// A car that stands in another bay is the cause.
func TestACarThatMovedIsTheCause(t *testing.T) {
	h := furnished(t)
	h.wait(time.Hour)
	was := h.think()
	h.Tell(t, &curesv1.ZoneDefined{
		ZoneId: "bay-2", LimitLowC: 5, LimitHighC: 35, ProbeErrorC: 0.5, DriftCPerMin: 0.2, Works: true,
		StaleAfter: durationpb.New(15 * time.Minute), Settling: durationpb.New(30 * time.Minute), Terminals: []string{"bay-2-tablet"},
	})
	h.Tell(t, &jobsv1.CarMoved{Ro: "2207", ZoneId: "bay-2"})
	h.wait(20 * time.Minute)
	h.becauseOf(was, h.think(), "2207-A", "its car is in bay-2 now")
}

// Work and questions that come upon a load are named.
func TestWhatComesUponALoadIsTheCause(t *testing.T) {
	h := furnished(t)
	h.lay()
	h.wait(3 * time.Hour)
	was := h.think()
	h.Tell(t, &jobsv1.SeamSurveyed{
		SeamId: "2207/rd-r", Panel: "roof", Place: "roof ditch", Side: "R", LengthMm: 1400,
		Orientation: floorv1.Orientation_ORIENTATION_LEVEL, Finish: floorv1.Finish_FINISH_COATED, Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER,
		Reference: &floorv1.Reference{Source: floorv1.ReferenceSource_REFERENCE_SOURCE_BEFORE_TEAR_DOWN, WidthMm: 12, HeightMm: 4},
	})
	h.Tell(t, &boothv1.LoadPlanned{LoadId: "2207-A", BoothId: "booth-1", Ro: "2207", Colour: "blue", SeamIds: []string{seam, "2207/rd-r"}})
	more := h.think()
	h.becauseOf(was, more, "2207-A", "roof ditch R is to be laid now")
	h.at(&jobsv1.BeadDisturbed{SeamId: seam, How: "a sleeve"})
	held := h.think()
	h.wait(30 * time.Minute)
	c := h.changeOf(more, h.think(), "2207-A")
	if c.GetWhy() == "" || !strings.Contains(strings.Join(h.of(held, "2207-A").GetWaitsFor(), "; "), c.GetWhy()) && !strings.Contains(c.GetWhy(), "roof ditch") {
		t.Errorf("after a sleeve: %q; it waits for %q", c.GetWhy(), h.of(held, "2207-A").GetWaitsFor())
	}
}
