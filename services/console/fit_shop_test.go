package console_test

import (
	"bytes"
	"encoding/json"
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
	watch("2207/s2", 25)
	two := answer(t, console.Fit{Product: "sl", At: at})
	if two.Energy == nil || math.Abs(*two.Energy-46) > 0.01 || two.Low != nil || two.LabelLow != 54 || len(two.Points) != 2 {
		t.Errorf("two observations: %+v", two)
	}
	var text bytes.Buffer
	if err := (console.Fit{Product: "sl", At: at}).Run(t.Context(), console.Out{W: &text}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"label              54.00 kJ/mol", "seen here          46.00 kJ/mol", "handling                 50.0       60.0", "2207/s2", "The clocks go by the label"} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("%q is missing in:\n%s", want, &text)
		}
	}
	for q, kind := range map[console.Fit]fault.Kind{
		{Product: "sl", Points: "points.csv"}: fault.Invalid, {Product: "sl", ReferenceC: "20"}: fault.Invalid,
		{Product: "unknown", At: at}: fault.NotFound, {Product: "not an id", At: at}: fault.Invalid,
	} {
		if err := q.Run(t.Context(), console.Out{W: &text}); fault.KindOf(err) != kind {
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
