package materials_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/fault"
	"seamwright/services/materials"
	"seamwright/services/record/recordtest"
)

// ahead is a furnished shop with its questions that look ahead.
func ahead(t *testing.T) (*recordtest.Shop, materialsv1.StockServiceClient) {
	t.Helper()
	s := recordtest.New()
	c := s.Serve(t, materials.NewServer(s.Desk).Register)
	s.Furnish(t)
	return s, materialsv1.NewStockServiceClient(c)
}

// planned tells of a seam with what goes on it.
func planned(t *testing.T, s *recordtest.Shop, id, panel string, ml float64, prepped bool) {
	t.Helper()
	s.Tell(t, &jobsv1.SeamSurveyed{
		SeamId: id, Panel: panel, Place: "roof ditch", LengthMm: 1000, Finish: floorv1.Finish_FINISH_EXPOSED, Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER,
	})
	s.Tell(t, &jobsv1.SeamPlanned{
		SeamId: id, ProductId: "sl", Profile: floorv1.Profile_PROFILE_LEVELLED, WidthMm: 10, HeightMm: 2, Technique: floorv1.Technique_TECHNIQUE_DIRECT_BEAD,
		Nozzle: "round tip cut at 8 mm", VolumeMl: ml,
	})
	if prepped {
		s.Tell(t, &jobsv1.SurfacePrepped{SeamId: id, Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER})
	}
}

// Three seams stand prepped in the bay; they go through one nozzle on the
// opened cartridge. Reckoned by hand: 20 + 30 + 10 ml and 5 % of it, 1 ml to
// equalise, 5 ml purge, 5 ml in the nozzle: 74 ml out of 200.
func TestARunOfWhatIsPreppedInABay(t *testing.T) {
	s, c := ahead(t)
	s.Read(t, 21)
	s.Tell(t, &jobsv1.JobOpened{Ro: "2207", Vehicle: "blue hatchback"})
	s.Tell(t, &jobsv1.JobOpened{Ro: "2208", Vehicle: "red van"})
	s.Tell(t, &jobsv1.CarMoved{Ro: "2207", ZoneId: "bay-1"})
	planned(t, s, "2207/a", "roof", 20, true)
	planned(t, s, "2207/b", "door", 30, true)
	planned(t, s, "2207/c", "roof", 10, true)
	planned(t, s, "2207/later", "door", 10, false)
	planned(t, s, "2208/elsewhere", "roof", 10, true)
	r, err := c.PlanRun(t.Context(), &materialsv1.PlanRunRequest{ZoneId: "bay-1", MinSequence: s.Writer.Seq()})
	if err != nil {
		t.Fatal(err)
	}
	var seams []string
	taken := 0.0
	for i, st := range r.GetSteps() {
		seams = append(seams, st.GetSeamId())
		taken += st.GetLaidMl() + st.GetWasteMl() + st.GetChangeMl()
		if st.GetFits() != (i == 0) || st.GetCartridgeId() != "C1" || st.GetOpens() || st.GetTip() != "round tip cut at 8 mm" || st.GetProductId() != "sl" {
			t.Errorf("step %d: %v", i+1, st)
		}
	}
	if len(seams) != 3 || seams[1] != "2207/a" && seams[1] != "2207/c" { // the roof's two stand together
		t.Errorf("seams %v", seams)
	}
	slices.Sort(seams)
	if !slices.Equal(seams, []string{"2207/a", "2207/b", "2207/c"}) || !slices.Equal(r.GetNotPrepped(), []string{"2207/later"}) {
		t.Errorf("seams %v, not prepped %v", seams, r.GetNotPrepped())
	}
	if tot := r.GetTotals(); !r.GetProved() || tot.GetNozzles() != 1 || tot.GetOpened() != 0 || tot.GetOnSeamsMl() != 60 || math.Abs(tot.GetTakenMl()-74) > 0.01 || math.Abs(taken-74) > 0.01 {
		t.Errorf("totals %v, the steps take %g ml", tot, taken)
	}
	if rest := r.GetStored(); len(rest) != 1 || math.Abs(rest[0].GetLeftMl()-126) > 0.01 || rest[0].GetUseBy() == nil {
		t.Errorf("stored %v", rest)
	}
	if hot := r.GetHotC(); hot < 21.5 || hot > 22.5 { // the probe errs by 0.5 K, the air drifts by 0.2 K a minute
		t.Errorf("hot edge %g °C", r.GetHotC())
	}
}

// A tip that was cut wider for a bead stays so: what wants a narrower one goes
// through another nozzle, unless another was fitted since.
func TestANozzleInUseIsAsWideAsItWasCut(t *testing.T) {
	s, c := ahead(t)
	s.Read(t, 21)
	s.Tell(t, &jobsv1.JobOpened{Ro: "2207", Vehicle: "blue hatchback"})
	s.Tell(t, &jobsv1.CarMoved{Ro: "2207", ZoneId: "bay-1"})
	for id, tip := range map[string]string{"a": "round tip cut at 6 mm", "b": "round tip cut at 8 mm", "c": "round tip cut at 7 mm", "d": "spreader cut at 25 mm"} {
		planned(t, s, "2207/"+id, "roof", 10, true)
		s.Tell(t, &jobsv1.SeamPlanned{
			SeamId: "2207/" + id, ProductId: "sl", Profile: floorv1.Profile_PROFILE_ROUND, Technique: floorv1.Technique_TECHNIQUE_DIRECT_BEAD, Nozzle: tip, VolumeMl: 10,
		})
	}
	s.Tell(t, &materialsv1.NozzleFitted{NozzleId: "N1", CartridgeId: "C1", Kind: "round tip cut at 6 mm"})
	s.Tell(t, &materialsv1.CartridgePurged{CartridgeId: "C1", VolumeMl: proto.Float64(5)})
	lay := func(seam string) {
		t.Helper()
		s.Tell(t, &jobsv1.BeadLaid{SeamId: seam, CartridgeId: "C1", NozzleId: "N1", Layer: floorv1.Layer_LAYER_BEAD})
	}
	through := func(seam string) *materialsv1.RunStep {
		t.Helper()
		r, err := c.PlanRun(t.Context(), &materialsv1.PlanRunRequest{ZoneId: "bay-1", MinSequence: s.Writer.Seq()})
		if err != nil {
			t.Fatal(err)
		}
		for _, st := range r.GetSteps() {
			if st.GetSeamId() == seam {
				return st
			}
		}
		t.Fatalf("%s is not in %v", seam, r.GetSteps())
		return nil
	}
	if st := through("2207/c"); st.GetFits() || st.GetNozzleId() != "N1" || !st.GetRecut() {
		t.Errorf("7 mm through a tip cut at 6: %v", st)
	}
	lay("2207/a")
	lay("2207/d") // through a tip of another kind, by its plan: nothing was cut for it
	if st := through("2207/c"); st.GetFits() || st.GetNozzleId() != "N1" || !st.GetRecut() {
		t.Errorf("7 mm after a bead of 6: %v", st)
	}
	lay("2207/b")
	if st := through("2207/c"); !st.GetFits() || st.GetNozzleId() != "" || st.GetRecut() {
		t.Errorf("7 mm after a bead of 8: %v", st)
	}
	s.Tell(t, &materialsv1.NozzleFitted{NozzleId: "N2", CartridgeId: "C1", Kind: "round tip cut at 6 mm"})
	if st := through("2207/c"); st.GetFits() || st.GetNozzleId() != "N2" || !st.GetRecut() {
		t.Errorf("7 mm through another nozzle, not cut yet: %v", st)
	}
}

// What must not be laid yet is no part of a run, and the run says why: what is
// not prepped, a joint whose undercoat is wet, one whose undercoat waited too
// long, one that a stop holds. Dry, scuffed and answered for, they are laid.
func TestSeamsThatMustNotBeLaidYet(t *testing.T) {
	s, c := ahead(t)
	s.Read(t, 21)
	s.Tell(t, &jobsv1.JobOpened{Ro: "2207", Vehicle: "blue hatchback"})
	s.Tell(t, &jobsv1.CarMoved{Ro: "2207", ZoneId: "bay-1"})
	planned(t, s, "2207/fine", "roof", 20, true)
	planned(t, s, "2207/bare", "roof", 20, false)
	planned(t, s, "2207/old", "roof", 20, true)
	planned(t, s, "2207/wet", "roof", 20, true)
	planned(t, s, "2207/held", "roof", 20, true)
	coat := func(seam string, dry, recoat float64) {
		t.Helper()
		s.Tell(t, &jobsv1.CoatApplied{
			SeamIds: []string{seam}, Layer: &jobsv1.CoatApplied_Under{Under: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER}, Product: "epoxy", DryMin: dry, RecoatMin: recoat,
		})
		s.Tell(t, &jobsv1.SurfacePrepped{SeamId: seam, Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER})
	}
	coat("2207/old", 5, 20)
	if err := s.Time.Advance(25 * time.Minute); err != nil {
		t.Fatal(err)
	}
	s.Read(t, 21)
	coat("2207/wet", 30, 0)
	s.Tell(t, &jobsv1.SeamInspected{SeamId: "2207/held", Note: "weld spatter in the joint"})
	left := func() map[string]string {
		t.Helper()
		r, err := c.PlanRun(t.Context(), &materialsv1.PlanRunRequest{ZoneId: "bay-1", MinSequence: s.Writer.Seq()})
		if err != nil {
			t.Fatal(err)
		}
		got := map[string]string{}
		for _, u := range r.GetUnplanned() {
			got[u.GetSeamId()] = u.GetReason() + ": " + u.GetWhy()
		}
		for _, st := range r.GetSteps() {
			if got[st.GetSeamId()] != "" {
				t.Errorf("%s is laid and left out: %s", st.GetSeamId(), got[st.GetSeamId()])
			}
			got[st.GetSeamId()] = "laid"
		}
		return got
	}
	for seam, want := range map[string]string{
		"2207/fine": "laid", "2207/bare": "not-prepped: ", "2207/old": "undercoat-past-recoat: The epoxy-primer under it had to be sealed by ",
		"2207/wet": "undercoat-not-dry: The epoxy-primer under it is dry from ", "2207/held": "on-hold: ",
	} {
		if got := left()[seam]; !strings.HasPrefix(got, want) {
			t.Errorf("%s: %q, want %q", seam, got, want)
		}
	}
	s.Tell(t, &jobsv1.SeamScuffed{SeamId: "2207/old"})
	if err := s.Time.Advance(30 * time.Minute); err != nil {
		t.Fatal(err)
	}
	s.Read(t, 21)
	got := left()
	if got["2207/old"] != "laid" || got["2207/wet"] != "laid" || !strings.HasPrefix(got["2207/held"], "on-hold") {
		t.Errorf("dry and scuffed: %v", got)
	}
}

// What cannot be laid is told with its reason, the rest is planned: a seam
// that takes longer than the nozzle stays good, one without a plan.
func TestSeamsThatARunLeavesOut(t *testing.T) {
	s, c := ahead(t)
	s.Read(t, 34)
	s.Tell(t, &jobsv1.JobOpened{Ro: "2207", Vehicle: "blue hatchback"})
	s.Tell(t, &jobsv1.CarMoved{Ro: "2207", ZoneId: "bay-1"})
	planned(t, s, "2207/a", "roof", 20, true)
	s.Tell(t, &jobsv1.SeamSurveyed{SeamId: "2207/free", Panel: "door", Place: "hem", Finish: floorv1.Finish_FINISH_EXPOSED, Substrate: floorv1.Substrate_SUBSTRATE_E_COAT})
	s.Tell(t, &jobsv1.SurfacePrepped{SeamId: "2207/free", Substrate: floorv1.Substrate_SUBSTRATE_E_COAT})
	r, err := c.PlanRun(t.Context(), &materialsv1.PlanRunRequest{ZoneId: "bay-1", MmPerS: proto.Float64(2)})
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]string{}
	for _, u := range r.GetUnplanned() {
		got[u.GetSeamId()] = u.GetReason()
	}
	if got["2207/a"] != "longer-than-gel" || got["2207/free"] != "no-product" || len(r.GetSteps()) != 0 {
		t.Errorf("left out %v, steps %v", got, r.GetSteps())
	}
	if _, err := c.PlanRun(t.Context(), &materialsv1.PlanRunRequest{ZoneId: "nowhere"}); fault.KindOf(err) != fault.NotFound {
		t.Errorf("a zone that nobody knows: %v", err)
	}
	if _, err := c.PlanRun(t.Context(), &materialsv1.PlanRunRequest{ZoneId: "bay-1", Ros: []string{"2207", "9999"}}); fault.KindOf(err) != fault.NotFound || !strings.Contains(err.Error(), "9999") {
		t.Errorf("a job that nobody knows: %v", err)
	}
}

// Three weeks of 100, 200 and 300 ml are 0.5, 1 and 1.5 cartridges: mean 1,
// deviation 0.5. Lead time 3 days and a look each day are 4/7 of a week; for
// 95 % (z = 1.645) the point is 4/7 + 1.645 x 0.5 x sqrt(4/7) = 1.19, so 2
// cartridges (Snyder and Shen, Fundamentals of Supply Chain Theory, section
// 4.3). The use of that week is in the last 7 days, the first is in the first.
func TestUseAndOrdersOfAProduct(t *testing.T) {
	s, c := ahead(t)
	s.Tell(t, &jobsv1.JobOpened{Ro: "2207", Vehicle: "blue hatchback"})
	pass := func(d time.Duration) {
		t.Helper()
		if err := s.Time.Advance(d); err != nil {
			t.Fatal(err)
		}
	}
	if got := ask(t, c, "sl"); got.WeeklyUse != nil || !strings.Contains(got.GetWhy(), "two weeks") || got.GetShelf() != 5 || got.GetOpenedMl() != 200 {
		t.Errorf("on the first day: %v", got)
	}
	for i, ml := range []float64{100, 200, 300} {
		pass(3 * 24 * time.Hour)
		id := "2207/s" + string(rune('1'+i))
		planned(t, s, id, "roof", ml, true)
		s.Tell(t, &materialsv1.CartridgeOpened{CartridgeId: "D" + string(rune('1'+i)), LotId: "L1"})
		for _, from := range []string{"C1", "D" + string(rune('1'+i))} {
			s.Tell(t, &jobsv1.BeadLaid{SeamId: id, CartridgeId: from, Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(ml / 2)})
		}
		pass(4 * 24 * time.Hour)
	}
	pass(time.Second)
	got := ask(t, c, "sl")
	if math.Abs(got.GetWeeklyUse()-1) > 1e-9 || math.Abs(got.GetWeeklyDeviation()-0.5) > 1e-9 || got.GetWeeks() != 3 {
		t.Errorf("use %v", got)
	}
	if got.GetReorderPoint() != 2 || math.Abs(got.GetSafety()-1.6449*0.5*math.Sqrt(4.0/7)) > 1e-3 {
		t.Errorf("point %d, safety %g", got.GetReorderPoint(), got.GetSafety())
	}
	if got.GetShelf() != 2 || got.GetOrderNow() < 1 { // 6 came, 4 are opened
		t.Errorf("shelf %d, order %d", got.GetShelf(), got.GetOrderNow())
	}
	// A sheet without a lead time keeps nobody from seeing the rest.
	sheet := recordtest.Levelling()
	sheet.LeadTimeDays = 0
	s.Tell(t, sheet)
	if got := ask(t, c, "sl"); got.ReorderPoint != nil || got.GetOrderNow() != 0 || !strings.Contains(got.GetWhy(), "lead_time_days") || got.GetShelf() != 2 {
		t.Errorf("without a lead time: %v", got)
	}
	s.Tell(t, &materialsv1.LotRecalled{LotId: "L1", Why: "lumps"})
	if got := ask(t, c, "sl"); got.GetShelf() != 0 || got.GetOpenedMl() != 0 || got.RunsOut != nil {
		t.Errorf("recalled: %v", got)
	}
	if _, err := c.ShowStock(t.Context(), &materialsv1.ShowStockRequest{ProductId: "unknown"}); fault.KindOf(err) != fault.NotFound {
		t.Errorf("a product that nobody knows: %v", err)
	}
}

func ask(t *testing.T, c materialsv1.StockServiceClient, product string) *materialsv1.ProductStock {
	t.Helper()
	r, err := c.ShowStock(t.Context(), &materialsv1.ShowStockRequest{ProductId: product})
	if err != nil || len(r.GetProducts()) != 1 {
		t.Fatalf("%v, %v", r, err)
	}
	return r.GetProducts()[0]
}

// A seam that could be laid here were it not for where its car stands is told
// with what to do: of the jobs that are asked about, else what is prepped and
// stands where nobody works on cars.
func TestASeamWhoseCarMustBeMovedIntoTheBay(t *testing.T) {
	s, c := ahead(t)
	s.Read(t, 21)
	s.Tell(t, &curesv1.ZoneDefined{ZoneId: "yard", LimitLowC: -20, LimitHighC: 40, ProbeErrorC: 1, DriftCPerMin: 0.5, StaleAfter: durationpb.New(time.Hour), Settling: durationpb.New(time.Hour)})
	s.Tell(t, &curesv1.ZoneDefined{ZoneId: "bay-2", LimitLowC: 5, LimitHighC: 35, ProbeErrorC: 1, DriftCPerMin: 0.5, StaleAfter: durationpb.New(time.Hour), Settling: durationpb.New(time.Hour), Works: true})
	for ro, zone := range map[string]string{"2207": "bay-1", "2208": "yard", "2209": "", "2210": "bay-2"} {
		s.Tell(t, &jobsv1.JobOpened{Ro: ro, Vehicle: "van"})
		planned(t, s, ro+"/a", "roof", 20, true)
		planned(t, s, ro+"/b", "roof", 20, false)
		if zone != "" {
			s.Tell(t, &jobsv1.CarMoved{Ro: ro, ZoneId: zone})
		}
	}
	told := func(ros ...string) (out []string) {
		t.Helper()
		r, err := c.PlanRun(t.Context(), &materialsv1.PlanRunRequest{ZoneId: "bay-1", Ros: ros, MinSequence: s.Writer.Seq()})
		if err != nil {
			t.Fatal(err)
		}
		for _, u := range r.GetUnplanned() {
			if u.GetReason() == "car-elsewhere" {
				out = append(out, u.GetSeamId()+": "+u.GetWhy())
			}
		}
		return out
	}
	yard, nowhere := "By what was told last it is in yard: move the car into bay-1, and tell so.", "Nobody said where its car stands: move it into bay-1, and tell so."
	if got := told(); !slices.Equal(got, []string{"2208/a: " + yard, "2209/a: " + nowhere}) {
		t.Errorf("of all cars: %q", got)
	}
	want := strings.ReplaceAll(yard, "yard", "bay-2")
	if got := told("2210", "2207"); !slices.Equal(got, []string{"2210/a: " + want, "2210/b: " + want}) {
		t.Errorf("of one in another bay: %q", got)
	}
}

// How old the temperature is that nozzles are reckoned by is told.
func TestARunTellsWhenTheBayWasRead(t *testing.T) {
	s, c := ahead(t)
	ask := func() *materialsv1.PlanRunResponse {
		t.Helper()
		r, err := c.PlanRun(t.Context(), &materialsv1.PlanRunRequest{ZoneId: "bay-1", MinSequence: s.Writer.Seq()})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	if r := ask(); r.GetReadAt() != nil || r.GetReadFresh() {
		t.Errorf("before any reading: %v at %v", r.GetReadC(), r.GetReadAt())
	}
	s.Read(t, 21)
	for _, age := range []time.Duration{0, 20 * time.Minute} { // it is stale after 15
		fresh := age == 0
		if age > 0 {
			if err := s.Time.Advance(age); err != nil {
				t.Fatal(err)
			}
		}
		if r := ask(); r.GetNow().AsTime().Sub(r.GetReadAt().AsTime()) != age || r.GetReadC() != 21 || r.GetReadFresh() != fresh {
			t.Errorf("%v after a reading: %v °C at %v, fresh %v", age, r.GetReadC(), r.GetReadAt().AsTime(), r.GetReadFresh())
		}
	}
}
