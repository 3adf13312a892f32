package console_test

import (
	"bytes"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/proto"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/app"
	"seamwright/services/console"
)

// shelved is the demonstration shop with its lots and a green van in bay 1:
// three joints are prepped, under one of them the primer is wet, and one is not
// prepped.
func shelved(t *testing.T) (at console.At, say func(...proto.Message), a *app.App) {
	t.Helper()
	a, at, _ = shop(t)
	run(t, console.Import{
		At: at, Products: demo(at).Products, Zones: demo(at).Zones, Booths: demo(at).Booths, People: demo(at).People, Lots: "../../testdata/shop/lots.csv",
	})
	say = says(t, a)
	say(&jobsv1.JobOpened{Ro: "2300", Vehicle: "green van"}, &jobsv1.CarMoved{Ro: "2300", ZoneId: "bay-1"}, &curesv1.ReadingTaken{ZoneId: "bay-1", ProbeId: "p", TempC: 18})
	for _, s := range []struct {
		id, place, product, nozzle string
		profile                    floorv1.Profile
		length, ml                 float64
		prepped                    bool
	}{
		{"hem-l", "door hem L", "mb-grey", "round tip cut at 8 mm", floorv1.Profile_PROFILE_ROUND, 1400, 18, true},
		{"hem-r", "door hem R", "mb-grey", "round tip cut at 6 mm", floorv1.Profile_PROFILE_ROUND, 1400, 14, true},
		{"ditch", "roof ditch L", "sl-grey", "round tip cut at 12 mm", floorv1.Profile_PROFILE_LEVELLED, 1500, 46, true},
		{"sill", "sill joint", "mb-grey", "round tip cut at 8 mm", floorv1.Profile_PROFILE_ROUND, 1700, 22, false},
	} {
		id := "2300/" + s.id
		say(&jobsv1.SeamSurveyed{SeamId: id, Panel: s.place[:4], Place: s.place, LengthMm: s.length, Finish: floorv1.Finish_FINISH_COATED, Substrate: floorv1.Substrate_SUBSTRATE_E_COAT},
			&jobsv1.SeamPlanned{SeamId: id, ProductId: s.product, Profile: s.profile, Technique: floorv1.Technique_TECHNIQUE_DIRECT_BEAD, Nozzle: s.nozzle, VolumeMl: s.ml})
		if s.prepped {
			say(&jobsv1.SurfacePrepped{SeamId: id, Substrate: floorv1.Substrate_SUBSTRATE_E_COAT})
		}
	}
	say(&jobsv1.CoatApplied{
		SeamIds: []string{"2300/ditch"}, Layer: &jobsv1.CoatApplied_Under{Under: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER}, Product: "epoxy", DryMin: 30,
	}, &jobsv1.SurfacePrepped{SeamId: "2300/ditch", Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER})
	return at, say, a
}

// The README's sealing run. Reckoned by hand: 14 + 18 ml and 5 % of it are 33.6
// ml, 1 ml to equalise, 5 to purge, 5 in the nozzle: 44.6 of 220 ml, 175.4 left.
// The lot that must be used by April goes before the one of November, the
// narrow cut before the wide one.
func TestTheSealingRunOfTheReadme(t *testing.T) {
	at, _, _ := shelved(t)
	var text bytes.Buffer
	if err := (console.SealingRun{At: at, Bay: "bay-1"}).Run(t.Context(), console.Out{W: &text}); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(inReadme(t, "run bay-1 --dir ./shop"), text.String()); diff != "" {
		t.Errorf("run (-want +got):\n%s", diff)
	}
}

// The README's stock. Reckoned by hand: 110, 220 and 330 ml in three weeks are
// 0.5, 1 and 1.5 cartridges, mean 1, deviation 0.5. A delivery takes 3 days and
// somebody looks each day, 4/7 of a week: 4/7 + 1.645 x 0.5 x sqrt(4/7) = 1.19,
// so 2 (Snyder and Shen, section 4.3). One is left on the shelf, by a count: an
// order of 4 weeks is 4 cartridges, and 1 catches up with the point.
func TestTheStockOfTheReadme(t *testing.T) {
	at, say, a := shelved(t)
	for i, ml := range []float64{110, 220, 330} {
		c := "C" + string(rune('1'+i))
		say(&materialsv1.CartridgeOpened{CartridgeId: c, LotId: []string{"MG-2507", "MG-2507", "MG-2512"}[i]},
			&jobsv1.BeadLaid{SeamId: "2300/hem-l", CartridgeId: c, Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(min(ml, 220))})
		if ml > 220 {
			say(&jobsv1.BeadLaid{SeamId: "2300/hem-l", CartridgeId: "C1", Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(ml - 220)})
		}
		if err := a.AdvanceTo(t.Context(), midday.Add(time.Duration(i+1)*7*24*time.Hour)); err != nil {
			t.Fatal(err)
		}
	}
	say(&materialsv1.StockCounted{LotId: "MG-2512", Cartridges: 1}) // somebody looked: six are gone
	var text bytes.Buffer
	if err := (console.Stock{At: at, Product: "mb-grey"}).Run(t.Context(), console.Out{W: &text}); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(inReadme(t, "stock mb-grey --dir ./shop"), text.String()); diff != "" {
		t.Errorf("stock (-want +got):\n%s", diff)
	}
}
