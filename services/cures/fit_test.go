package cures_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/cures"
	"seamwright/services/fault"
	"seamwright/services/journal/memory"
	"seamwright/services/record"
	"seamwright/services/record/recordtest"
)

// The label says 54 kJ/mol. Beads were seen fit for handling at 21, 11 and
// 28 °C when 60 kJ/mol bring them there from the label's 50 minutes at 21 °C
// (Arrhenius): that is what the shop is told, and the clocks stay with the
// label.
func TestAShopSeesItsOwnFitAgainstTheLabel(t *testing.T) {
	y := newYard(t, memory.New(memory.Options{}), steady)
	y.furnish()
	law, err := cure.NewLaw(60e3, 21)
	if err != nil {
		t.Fatal(err)
	}
	at := 0.0
	for i, c := range []float64{21, 11, 28} {
		seam := []string{"2207/rd-l", "2207/rd-r", "2207/floor"}[i]
		y.steadily("bay-1", c, at+4)
		y.read("bay-1", c)
		y.lay(seam, "bay-1")
		at += 4 + 50/law.Rate(c, cure.Nominal)
		y.steadily("bay-1", c, at)
		y.tell(&curesv1.StageObserved{SeamId: seam, Clock: floorv1.Clock_CLOCK_HANDLING})
		at = math.Ceil(at) + 1
		y.until(at)
	}
	show := fitOf(t, y.Desk, "sl")
	if show.GetNoFit() != "" || math.Abs(show.GetFittedKjMol()-60) > 0.1 || show.GetDegreesOfFreedom() != 1 || show.GetFittedBandKjMol() == nil {
		t.Errorf("fit %v", show)
	}
	if b := show.GetLabelKjMol(); b.GetLow() != 54 || b.GetHigh() != 54 {
		t.Errorf("label %v", b)
	}
	for _, s := range show.GetStages() {
		switch s.GetClock() {
		case floorv1.Clock_CLOCK_HANDLING:
			if s.GetLabelMin() != 50 || math.Abs(s.GetFittedMin()-50) > 0.1 {
				t.Errorf("handling %v", s)
			}
		default:
			if s.FittedMin != nil || s.LabelMin == nil {
				t.Errorf("nobody saw it: %v", s)
			}
		}
	}
	for i, o := range show.GetObservations() {
		if want := []float64{28, 21, 11}[i]; math.Abs(o.GetConstantTempC()-want) > 0.1 || o.GetLeftOut() != "" { // by seam: floor, rd-l, rd-r
			t.Errorf("observation %v, want %g °C", o, want)
		}
	}
	if low, _, _ := y.Floor.Product("sl", y.time.Now()).Law.EnergyJ(); low != 54e3 {
		t.Errorf("the clocks run by %g J/mol", low)
	}

	// One whose moment is only claimed is shown and left out.
	y.say(tell{body: &curesv1.StageObserved{SeamId: "2207/floor", Clock: floorv1.Clock_CLOCK_FLOW_OUT}, age: 2 * time.Minute, kind: floorv1.AgeKind_AGE_KIND_CLAIMED})
	show = fitOf(t, y.Desk, "sl")
	if o := show.GetObservations()[0]; o.GetClock() != floorv1.Clock_CLOCK_FLOW_OUT || o.GetLeftOut() == "" || show.GetDegreesOfFreedom() != 1 {
		t.Errorf("claimed: %v", o)
	}
}

func TestAProductThatNobodyWatched(t *testing.T) {
	y := newYard(t, memory.New(memory.Options{}), steady)
	y.furnish()
	if show := fitOf(t, y.Desk, "sl"); show.FittedKjMol != nil || !strings.Contains(show.GetNoFit(), "two temperatures") || len(show.GetStages()) != 5 {
		t.Errorf("%v", show)
	}
	_, err := cures.NewServer(y.Desk).ShowFit(t.Context(), &curesv1.ShowFitRequest{ProductId: "unknown"})
	if fault.KindOf(err) != fault.NotFound {
		t.Errorf("unknown product: %v", err)
	}
	p := recordtest.Levelling()
	p.Cure.FlowOutMin, p.ProductId = nil, "other"
	y.tell(proto.CloneOf(p))
	if show := fitOf(t, y.Desk, "other"); len(show.GetStages()) != 4 {
		t.Errorf("stages %v", show.GetStages())
	}
}

func fitOf(t *testing.T, d *record.Desk, product string) *curesv1.ShowFitResponse {
	t.Helper()
	r, err := cures.NewServer(d).ShowFit(t.Context(), &curesv1.ShowFitRequest{ProductId: product})
	if err != nil {
		t.Fatal(err)
	}
	return r
}
