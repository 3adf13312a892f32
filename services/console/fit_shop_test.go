package console_test

import (
	"bytes"
	"encoding/json"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/console"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/record/recordtest"
)

// The label says 54 kJ/mol and 50 minutes; beads at 15 and 25 °C are seen fit
// for handling when 46 kJ/mol and 60 minutes bring them there (Arrhenius).
func TestFitOfWhatWasSeenInARunningShop(t *testing.T) {
	a, at, _ := shop(t)
	tell := says(t, a)
	pass := func(minutes float64) {
		t.Helper()
		if err := a.AdvanceTo(t.Context(), a.Desk().Clock.Now().Add(time.Duration(minutes*float64(time.Minute)))); err != nil {
			t.Fatal(err)
		}
	}
	tell(&curesv1.ZoneDefined{
		ZoneId: "bay-1", LimitLowC: 5, LimitHighC: 35, ProbeErrorC: 0.5, DriftCPerMin: 0.2, Works: true,
		StaleAfter: durationpb.New(15 * time.Minute), Settling: durationpb.New(30 * time.Minute), Terminals: []string{"bay-1-tablet"},
	}, recordtest.Levelling(), &materialsv1.LotReceived{LotId: "L1", ProductId: "sl", Cartridges: 6},
		&materialsv1.CartridgeOpened{CartridgeId: "C1", LotId: "L1"}, &materialsv1.NozzleFitted{NozzleId: "N1", CartridgeId: "C1"},
		&jobsv1.JobOpened{Ro: "2207", Vehicle: "blue hatchback"})
	law, err := cure.NewLaw(46e3, 21)
	if err != nil {
		t.Fatal(err)
	}
	watch := func(seam string, c float64) {
		tell(&curesv1.ReadingTaken{ZoneId: "bay-1", ProbeId: "p", TempC: c},
			&jobsv1.SeamSurveyed{SeamId: seam, Panel: "door", Place: "hem", Finish: floorv1.Finish_FINISH_EXPOSED, Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER},
			&jobsv1.BeadLaid{SeamId: seam, CartridgeId: "C1", NozzleId: "N1", Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(5)})
		pass(60 / law.Rate(c, cure.Nominal))
		tell(&curesv1.ReadingTaken{ZoneId: "bay-1", ProbeId: "p", TempC: c}, &curesv1.StageObserved{SeamId: seam, Clock: floorv1.Clock_CLOCK_HANDLING})
		pass(1)
	}
	watch("2207/s1", 15)
	one := answer(t, console.Fit{Product: "sl", At: at})
	if one.Energy != nil || !strings.Contains(one.NoFit, "two temperatures") || len(one.Points) != 1 {
		t.Errorf("one observation: %+v", one)
	}
	for _, want := range []string{"no fit: 1 observation of sl that can be used, and no stage at two temperatures; a fit needs one stage seen at two temperatures", "used               1 of 1 observation"} {
		if text := lines(t, console.Fit{Product: "sl", At: at}); !strings.Contains(text, want) {
			t.Errorf("%q is missing in:\n%s", want, text)
		}
	}
	watch("2207/s2", 25)
	two := answer(t, console.Fit{Product: "sl", At: at})
	if two.Energy == nil || math.Abs(*two.Energy-46) > 0.01 || two.Low != nil || two.LabelLow != 54 || len(two.Points) != 2 {
		t.Errorf("two observations: %+v", two)
	}
	text := lines(t, console.Fit{Product: "sl", At: at})
	for _, want := range []string{
		"label              54.00 kJ/mol", "seen here          46.00 kJ/mol", "handling                 50.0       60.0", "min at 21.0 °C (70 °F)",
		"used               2 of 2 observations", "2207/s2, handling after", "min at 25.0 °C (77 °F)", "The clocks go by the label",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is missing in:\n%s", want, text)
		}
	}
	// What is only claimed is left out, and said so beside it.
	if _, err := a.Desk().Record(t.Context(), floor.Command{
		Stamp: stamp("claimed-0001", time.Second), Body: &curesv1.StageObserved{SeamId: "2207/s2", Clock: floorv1.Clock_CLOCK_FLOW_OUT},
	}, (*floor.Floor).Decide); err != nil {
		t.Fatal(err)
	}
	text = lines(t, console.Fit{Product: "sl", At: at})
	for _, want := range []string{"used               2 of 3 observations", "left out           2207/s2, flow-out after", "(77 °F): when it was seen is only claimed"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is missing in:\n%s", want, text)
		}
	}
	for q, kind := range map[console.Fit]fault.Kind{
		{Product: "sl", Points: "points.csv"}: fault.Invalid, {Product: "sl", ReferenceC: "20"}: fault.Invalid,
		{Product: "unknown", At: at}: fault.NotFound, {Product: "not an id", At: at}: fault.Invalid,
	} {
		err := q.Run(t.Context(), console.Out{W: io.Discard})
		if fault.KindOf(err) != kind || strings.Contains(err.Error(), "A-Za-z") {
			t.Errorf("%+v: %v", q, err)
		}
	}
}

type shopFit struct {
	Energy   *float64 `json:"activation_energy_kj_mol"`
	Low      *float64 `json:"activation_energy_low_kj_mol"`
	LabelLow float64  `json:"label_energy_low_kj_mol"`
	NoFit    string   `json:"no_fit"`
	Points   []struct {
		Seam  string   `json:"seam"`
		TempC *float64 `json:"temp_c"`
	} `json:"points"`
}

func lines(t *testing.T, q console.Fit) string {
	t.Helper()
	var b bytes.Buffer
	if err := q.Run(t.Context(), console.Out{W: &b}); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func answer(t *testing.T, q console.Fit) (out shopFit) {
	t.Helper()
	var b bytes.Buffer
	if err := q.Run(t.Context(), console.Out{W: &b, JSON: true}); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b.Bytes(), &out); err != nil {
		t.Fatal(err)
	}
	return out
}
