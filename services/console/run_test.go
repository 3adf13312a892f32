package console_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/app"
	"seamwright/services/console"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/record/recordtest"
)

// says records facts at a shop's desk, as the foreman.
func says(t *testing.T, a *app.App) func(...proto.Message) {
	told := 0
	return func(facts ...proto.Message) {
		t.Helper()
		for _, f := range facts {
			told++
			st := stamp(fmt.Sprintf("said-%04d", told), 0)
			st.Role, st.Actor = floorv1.Role_ROLE_FOREMAN, "Ansa Vellacorn"
			if _, err := a.Desk().Record(t.Context(), floor.Command{Stamp: st, Body: f}, (*floor.Floor).Decide); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// stocked is a running shop with a bay, two prepped seams and a lot; say tells
// it more.
func stocked(t *testing.T) (at console.At, say func(...proto.Message), a *app.App) {
	t.Helper()
	a, at, _ = shop(t)
	say = says(t, a)
	say(&curesv1.ZoneDefined{
		ZoneId: "bay-1", LimitLowC: 5, LimitHighC: 35, ProbeErrorC: 0.5, DriftCPerMin: 0.2, Works: true,
		StaleAfter: durationpb.New(15 * time.Minute), Settling: durationpb.New(30 * time.Minute), Terminals: []string{"bay-1-tablet"},
	}, recordtest.Levelling(), &materialsv1.LotReceived{LotId: "L1", ProductId: "sl", Cartridges: 3},
		&jobsv1.JobOpened{Ro: "2207", Vehicle: "blue hatchback"}, &jobsv1.CarMoved{Ro: "2207", ZoneId: "bay-1"}, &curesv1.ReadingTaken{ZoneId: "bay-1", ProbeId: "p", TempC: 20})
	for _, id := range []string{"2207/roof-l", "2207/roof-r"} {
		say(&jobsv1.SeamSurveyed{SeamId: id, Panel: "roof", Place: "roof ditch", LengthMm: 1000, Finish: floorv1.Finish_FINISH_EXPOSED, Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER},
			&jobsv1.SeamPlanned{
				SeamId: id, ProductId: "sl", Profile: floorv1.Profile_PROFILE_LEVELLED, WidthMm: 10, HeightMm: 2,
				Technique: floorv1.Technique_TECHNIQUE_DIRECT_BEAD, Nozzle: "round tip cut at 8 mm", VolumeMl: 20,
			}, &jobsv1.SurfacePrepped{SeamId: id, Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER})
	}
	return at, say, a
}

func TestASealingRunIsTold(t *testing.T) {
	at, say, _ := stocked(t)
	say(&jobsv1.JobOpened{Ro: "2299", Vehicle: "red van"})
	var text, js bytes.Buffer
	if err := (console.SealingRun{At: at, Bay: "bay-1"}).Run(t.Context(), console.Out{W: &text}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"open new cartridge 1 of lot L1, fit nozzle 1, round tip cut at 8 mm, and purge it", "2207/roof-l", "20.0 ml",
		"2 seams, 1 nozzle, 1 cartridge opened, 53.0 ml taken: 40.0 on the seams, 2.0 tooled off them, 11.0 lost; 5 min", "none better exists", "safety data sheet",
	} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("%q is missing in:\n%s", want, &text)
		}
	}
	if err := (console.SealingRun{At: at, Bay: "bay-1", ROs: []string{"2299"}}).Run(t.Context(), console.Out{W: &js, JSON: true}); err != nil {
		t.Fatal(err)
	}
	var none struct {
		Steps, Stored, Unplanned []any
		NotPrepped               []string `json:"not_prepped"`
	}
	if err := json.Unmarshal(js.Bytes(), &none); err != nil || none.Steps == nil || none.Stored == nil || none.Unplanned == nil || none.NotPrepped == nil || len(none.Steps) > 0 {
		t.Errorf("of another job: %s, %v", &js, err)
	}
	for _, q := range []console.SealingRun{
		{At: at},
		{At: at, Bay: "bay-1", MMPerS: "0"},
		{At: at, Bay: "bay-1", PurgeML: "NaN"},
		{At: at, Bay: "bay-1", HoldUp: "-1"},
		{At: at, Bay: "bay-1", Waste: "101"},
		{At: at, Bay: "bay-1", Equal: "two"},
		{At: at, Bay: "two words"},
		{At: at, Bay: "bay-1", ROs: []string{"no id!"}},
	} {
		if err := q.Run(t.Context(), console.Out{W: &text}); fault.KindOf(err) != fault.Invalid {
			t.Errorf("%+v: %v", q, err)
		}
	}
	if err := (console.SealingRun{At: at, Bay: "bay-9"}).Run(t.Context(), console.Out{W: &text}); fault.KindOf(err) != fault.NotFound {
		t.Errorf("an unknown bay: %v", err)
	}
}

// A reason that holds for several seams is said once, with all of them; how
// old the bay's temperature is stands beside what is reckoned by it.
func TestASealingRunSaysASentenceOnce(t *testing.T) {
	at, say, a := stocked(t)
	for _, id := range []string{"2207/sill-l", "2207/sill-r"} {
		say(&jobsv1.SeamSurveyed{SeamId: id, Panel: "sill", Place: "sill joint", LengthMm: 1000, Finish: floorv1.Finish_FINISH_EXPOSED, Substrate: floorv1.Substrate_SUBSTRATE_E_COAT},
			&jobsv1.SeamPlanned{SeamId: id, ProductId: "sl", Profile: floorv1.Profile_PROFILE_ROUND, Technique: floorv1.Technique_TECHNIQUE_DIRECT_BEAD, VolumeMl: 20})
	}
	ask := func(q console.SealingRun) string {
		t.Helper()
		var text bytes.Buffer
		q.At, q.Bay = at, "bay-1"
		if err := q.Run(t.Context(), console.Out{W: &text}); err != nil {
			t.Fatal(err)
		}
		return text.String()
	}
	for what, c := range map[string]struct {
		q          console.SealingRun
		want, none []string
	}{
		"as it is": {
			console.SealingRun{}, []string{
				"left out 2207/sill-l, 2207/sill-r: It is planned and not prepped: clean and prep it, and tell so.\n",
				"the warmest that bay-1 may be by now: 20.0 °C was read just now\n",
			}, nil,
		},
		"with a purge that takes all": {
			console.SealingRun{PurgeML: "196"}, []string{
				"nothing in bay-1 can be laid now\n", "left out 2207/roof-l, 2207/roof-r: It takes 21 ml. The fullest cartridge of sl, a new cartridge of lot L1, holds 200 ml, yet a new nozzle takes 201 ml of it, 196 to purge and 5 that stay in it",
				"0 ml are left for the bead: purge less.\n",
			}, []string{"receive a lot", "not lot", "holds too little"},
		},
		"laid so slowly that nozzles gel": {
			console.SealingRun{MMPerS: "1"}, []string{"left out 2207/roof-l, 2207/roof-r: Laying it takes 16 min 40 s and a nozzle of sl gels in "}, []string{"receive a lot", "not lot", "too little"},
		},
	} {
		got := ask(c.q)
		for _, w := range c.want {
			if !strings.Contains(got, w) {
				t.Errorf("%s: %q is missing in:\n%s", what, w, got)
			}
		}
		for _, w := range c.none {
			if strings.Contains(got, w) {
				t.Errorf("%s: %q stands in:\n%s", what, w, got)
			}
		}
	}
	if err := a.AdvanceTo(t.Context(), midday.Add(40*time.Minute)); err != nil {
		t.Fatal(err)
	}
	if got, want := ask(console.SealingRun{}), "20.0 °C was read 40 min ago, which is long: read it again"; !strings.Contains(got, want) {
		t.Errorf("%q is missing in:\n%s", want, got)
	}
}

// Two joints of different widths go through one nozzle: between them the tip is
// cut, and the run says so. What is taken is told in all its parts: 10 + 20 ml,
// 5 % of it tooled off, 1 to equalise, 5 to purge and 5 in the nozzle are 42.5.
func TestASealingRunSaysWhenTheTipIsCut(t *testing.T) {
	at, say, _ := stocked(t)
	for id, x := range map[string]struct {
		tip string
		ml  float64
	}{"2207/roof-l": {"round tip cut at 6 mm", 10}, "2207/roof-r": {"round tip cut at 7.5 mm", 20}} {
		say(&jobsv1.SeamPlanned{
			SeamId: id, ProductId: "sl", Profile: floorv1.Profile_PROFILE_ROUND, Technique: floorv1.Technique_TECHNIQUE_DIRECT_BEAD, Nozzle: x.tip, VolumeMl: x.ml,
		})
	}
	ask := func(json bool) string {
		t.Helper()
		var text bytes.Buffer
		if err := (console.SealingRun{At: at, Bay: "bay-1", ROs: []string{"2207", "2207"}}).Run(t.Context(), console.Out{W: &text, JSON: json}); err != nil {
			t.Fatal(err)
		}
		return text.String()
	}
	text := ask(false)
	for _, want := range []string{
		"fit nozzle 1, round tip cut at 6 mm, and purge it: ", "\n     cut the tip to 7.5 mm\n  2  2207/roof-r ",
		"1 nozzle, 1 cartridge opened, 42.5 ml taken: 30.0 on the seams, 1.5 tooled off them, 11.0 lost; ",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is missing in:\n%s", want, text)
		}
	}
	var got struct {
		Totals struct {
			Tooled float64 `json:"tooled_off_ml"`
			Taken  float64 `json:"taken_ml"`
		}
	}
	if err := json.Unmarshal([]byte(ask(true)), &got); err != nil || got.Totals.Tooled != 1.5 || got.Totals.Taken != 42.5 {
		t.Errorf("%+v, %v", got, err)
	}
	say(&materialsv1.CartridgeOpened{CartridgeId: "C1", LotId: "L1"}, &materialsv1.NozzleFitted{NozzleId: "N1", CartridgeId: "C1", Kind: "round tip cut at 5 mm"})
	if text, want := ask(false), "take cartridge C1, nozzle N1 is on, cut the tip to 6 mm: The nozzle on C1 is not used yet: purge it."; !strings.Contains(text, want) {
		t.Errorf("%q is missing in:\n%s", want, text)
	}
	// Asked about a job that is there twice, it is one; an empty one is none.
	say(&jobsv1.JobOpened{Ro: "2214", Vehicle: "van"})
	var none bytes.Buffer
	if err := (console.SealingRun{At: at, Bay: "bay-1", ROs: []string{"2214", "2214"}}).Run(t.Context(), console.Out{W: &none}); err != nil || !strings.HasPrefix(none.String(), "of 2214 no seam is ") {
		t.Errorf("%v: %s", err, &none)
	}
	for _, ros := range [][]string{{""}, {"2207", ""}, {"22 07"}} {
		if err := (console.SealingRun{At: at, Bay: "bay-1", ROs: ros}).Run(t.Context(), console.Out{W: &none}); fault.KindOf(err) != fault.Invalid || !strings.HasPrefix(err.Error(), "--ro: ") {
			t.Errorf("%q: %v", ros, err)
		}
	}
}
