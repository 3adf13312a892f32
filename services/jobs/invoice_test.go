package jobs_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/anypb"
	"google.golang.org/protobuf/types/known/durationpb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/jobs"
	"seamwright/services/record/recordtest"
)

// clocked tells facts at times of the day.
type clocked struct {
	t *testing.T
	s *recordtest.Shop
	c jobsv1.JobsServiceClient
}

// at tells a fact of somebody's at a time of Monday, by the desk as the
// services would.
func (k clocked) at(clock, who string, body proto.Message) {
	k.t.Helper()
	var h, m int
	if _, err := fmt.Sscanf(clock, "%d:%d", &h, &m); err != nil {
		k.t.Fatal(err)
	}
	now := recordtest.Monday.Truncate(24 * time.Hour).Add(time.Duration(h)*time.Hour + time.Duration(m)*time.Minute)
	if wait := now.Sub(k.s.Clock.Now()); wait > 0 {
		if err := k.s.Time.Advance(wait); err != nil {
			k.t.Fatal(err)
		}
	}
	st := k.s.Stamp(floorv1.Role_ROLE_TECHNICIAN)
	st.Actor = who
	if _, err := k.s.Record(k.t.Context(), floor.Command{Stamp: st, Body: body}, (*floor.Floor).Decide); err != nil {
		k.t.Fatalf("%s %T: %v", clock, body, err)
	}
}

// lines writes the lines of an invoice down, without notes.
func lines(r *jobsv1.GetInvoiceResponse) (out []string) {
	for _, l := range r.GetLines() {
		q := "?"
		if l.Quantity != nil {
			q = fmt.Sprint(l.GetQuantity())
		}
		kind := strings.ToLower(strings.TrimPrefix(l.GetKind().String(), "INVOICE_KIND_"))
		unit := strings.ToLower(strings.TrimPrefix(l.GetUnit().String(), "INVOICE_UNIT_"))
		text := fmt.Sprintf("%s %s %s %s %s %s", strings.TrimPrefix(l.GetSeamId(), "2207/"), kind, l.GetOperation(), l.GetProductId(), q, unit)
		if l.GetAmount() != "" {
			text += fmt.Sprintf(" at %s = %s %s", l.GetUnitPrice(), l.GetAmount(), l.GetCurrency())
		}
		if !l.GetBilled() {
			text += " unbilled"
		}
		out = append(out, strings.Join(strings.Fields(text), " "))
	}
	return out
}

// workedDay is a bead that was laid as planned, corrected by a weight, taken
// off and laid again.
func workedDay(t *testing.T) (*recordtest.Shop, jobsv1.JobsServiceClient) {
	s, c := shop(t)
	k := clocked{t, s, c}
	second := surveyed().GetSeamSurveyed()
	second.SeamId, second.Side = "2207/rd-r", "R"
	heated := &jobsv1.HeatApplied{SeamIds: []string{seam, "2207/rd-r"}, Lasted: durationpb.New(5 * time.Minute), SurfaceTempC: proto.Float64(40)}
	bead := func(ml *float64, min time.Duration, nozzle string) *jobsv1.BeadLaid {
		return &jobsv1.BeadLaid{SeamId: seam, CartridgeId: "C1", NozzleId: nozzle, Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: ml, Lasted: durationpb.New(min * time.Minute)}
	}
	const ansa, other = "Ansa Vellacorn", "Rune Ostrander"
	k.at("07:30", ansa, opened("2207").GetJobOpened())
	k.at("07:42", ansa, surveyed().GetSeamSurveyed()) // 12 min since
	k.at("07:44", ansa, second)                       // 2 min since
	k.at("07:46", ansa, plannedSeam().GetSeamPlanned())
	k.at("08:30", ansa, prepped().GetSurfacePrepped()) // 44 min: nobody knows
	k.at("08:32", ansa, &materialsv1.CartridgeEqualised{CartridgeId: "C1", VolumeMl: proto.Float64(2)})
	k.at("08:33", ansa, &materialsv1.NozzleFitted{CartridgeId: "C1", NozzleId: "N1", HoldUpMl: proto.Float64(6.5)})
	k.at("08:34", ansa, &materialsv1.CartridgePurged{CartridgeId: "C1", VolumeMl: proto.Float64(8)})
	k.at("08:37", ansa, bead(nil, 2, "N1")) // as planned, 67.2 ml
	k.at("08:38", other, plannedSeam().GetSeamPlanned())
	k.at("08:40", ansa, &jobsv1.BeadDeaired{SeamId: seam}) // 3 min since, whatever another did meanwhile
	k.at("08:45", ansa, heated)                            // 5 min on two seams
	k.at("08:50", other, &materialsv1.CartridgeWeighed{CartridgeId: "C1", RemainingMl: 110})
	k.at("09:00", ansa, &jobsv1.SeamReworked{SeamId: seam, Why: "an air bubble"}) // 15 min since the heat
	k.at("09:05", ansa, &materialsv1.NozzleFitted{CartridgeId: "C1", NozzleId: "N2"})
	k.at("09:06", ansa, &materialsv1.CartridgePurged{CartridgeId: "C1", VolumeMl: proto.Float64(4)})
	k.at("09:10", ansa, bead(proto.Float64(70), 3, "N2"))
	k.at("09:10", ansa, &jobsv1.BeadDeaired{SeamId: seam}) // told in the same minute
	k.at("09:17", ansa, &jobsv1.BeadDeaired{SeamId: seam}) // 7 min more
	return s, c
}

// The invoice of the worked day, reckoned by hand. A cartridge of 200 ml costs
// 36.80 USD: 0.184 USD a millilitre. The first bead took by the book 67.2 ml;
// 200 - 2 - 6.5 - 8 - 67.2 = 116.3 ml are left by the book, 110 by the scale,
// so 6.3 ml more were laid: 73.5 ml, 13.524 USD, none of which is billed since
// the bead was taken off. Billed are 70 ml (12.88 USD), the purge of 4 ml
// (0.736 USD), and of labour at 95 USD an hour the surveys of 12 and 2 min
// (19 and 3.1666... USD), 3 min of laying (4.75 USD), 0 and 7 min of removing
// air (11.08333... USD) and 2.5 min of heat on the second seam (3.958333...
// USD): 13.616 + 41.958333... = 55.574333... USD. The time of the prep and what
// the second nozzle holds are not known.
func TestTheInvoiceOfAWorkedDay(t *testing.T) {
	s, c := workedDay(t)
	r, err := c.GetInvoice(t.Context(), &jobsv1.GetInvoiceRequest{Ro: "2207", HourlyRate: "95.00", Currency: "USD", MinSequence: s.Writer.Seq()})
	if err != nil {
		t.Fatal(err)
	}
	want := []string{
		"rd-l material equalise sl 2 ml at 0.184 = 0.368 USD unbilled",
		"rd-l material purge sl 4 ml at 0.184 = 0.736 USD",
		"rd-l material purge sl 8 ml at 0.184 = 1.472 USD unbilled",
		"rd-l material nozzle-hold-up sl ? ml",
		"rd-l material nozzle-hold-up sl 6.5 ml at 0.184 = 1.196 USD unbilled",
		"rd-l material lay sl 70 ml at 0.184 = 12.88 USD",
		"rd-l material lay sl 73.5 ml at 0.184 = 13.524 USD unbilled",
		"rd-l labour survey 12 min at 1.5833333333 = 19 USD",
		"rd-l labour prep ? min",
		"rd-l labour lay 3 min at 1.5833333333 = 4.75 USD",
		"rd-l labour lay 2 min at 1.5833333333 = 3.1666666667 USD unbilled",
		"rd-l labour de-air 7 min at 1.5833333333 = 11.0833333333 USD",
		"rd-l labour de-air 3 min at 1.5833333333 = 4.75 USD unbilled",
		"rd-l labour heat 2.5 min at 1.5833333333 = 3.9583333333 USD unbilled",
		"rd-l labour rework 15 min at 1.5833333333 = 23.75 USD unbilled",
		"rd-l operation survey 1 each",
		"rd-l operation prep 1 each",
		"rd-l operation lay 1 each",
		"rd-l operation lay 1 each unbilled",
		"rd-l operation de-air 2 each",
		"rd-l operation de-air 1 each unbilled",
		"rd-l operation heat 1 each unbilled",
		"rd-l operation rework 1 each unbilled",
		"rd-r labour survey 2 min at 1.5833333333 = 3.1666666667 USD",
		"rd-r labour heat 2.5 min at 1.5833333333 = 3.9583333333 USD",
		"rd-r operation survey 1 each",
		"rd-r operation heat 1 each",
	}
	if diff := cmp.Diff(want, lines(r)); diff != "" {
		t.Errorf("lines (-want +got):\n%s", diff)
	}
	if len(r.Sums) != 1 || r.Sums[0].Material != "13.616" || r.Sums[0].Labour != "41.9583333333" || r.Sums[0].Amount != "55.5743333333" || r.Sums[0].Shown != "55.57 USD" {
		t.Errorf("sums %v", r.Sums)
	}
	if r.Incomplete != 2 || r.State != "open" || r.Vehicle != "blue hatchback" {
		t.Errorf("%d incomplete, %s %s", r.Incomplete, r.State, r.Vehicle)
	}
	for what, part := range map[string]string{
		"material lay sl 73.5":    "67.2 ml as planned, 73.5 ml by a weight or a mark of the cartridge; not billed: the bead was taken off",
		"material lay sl 70":      "70.0 ml as told",
		"labour survey 12":        "since the same person's fact before, at most 20 min",
		"labour prep":             "not known: no duration was told",
		"labour lay 3":            "as told",
		"labour heat 2.5":         "as told; its part of work on 2 seams",
		"material nozzle-hold-up": "was not told",
		"material purge sl 4":     "for the layer that was laid next from cartridge C1",
	} {
		found := false
		for i, l := range lines(r) {
			found = found || strings.Contains(l, what) && strings.Contains(r.Lines[i].Note, part)
		}
		if !found {
			t.Errorf("no line of %q says %q", what, part)
		}
	}
}

// Without a rate labour has minutes and no amounts, and only material can be
// incomplete.
func TestAnInvoiceWithoutARate(t *testing.T) {
	_, c := workedDay(t)
	r, err := c.GetInvoice(t.Context(), &jobsv1.GetInvoiceRequest{Ro: "2207"})
	if err != nil || len(r.Sums) != 1 || r.Sums[0].Amount != "13.616" || r.Sums[0].Labour != "" || r.Sums[0].Shown != "13.62 USD" || r.Incomplete != 1 {
		t.Errorf("%v, %v", r, err)
	}
	for _, l := range r.GetLines() {
		if l.Kind == jobsv1.InvoiceKind_INVOICE_KIND_LABOUR && (l.Amount != "" || l.Shown != "" || l.Currency != "") {
			t.Errorf("labour has an amount: %v", l)
		}
	}
}

// Two currencies are summed apart.
func TestAnInvoiceInTwoCurrencies(t *testing.T) {
	_, c := workedDay(t)
	r, err := c.GetInvoice(t.Context(), &jobsv1.GetInvoiceRequest{Ro: "2207", HourlyRate: "60", Currency: "EUR"})
	if err != nil || len(r.Sums) != 2 || r.Sums[0].Shown != "26.50 EUR" || r.Sums[1].Shown != "13.62 USD" { // 26.5 min at 1 EUR
		t.Errorf("%v, %v", r.GetSums(), err)
	}
}

func TestInvoicesThatAreRefused(t *testing.T) {
	_, c := workedDay(t)
	for name, q := range map[string]struct {
		req  *jobsv1.GetInvoiceRequest
		kind fault.Kind
		part string
	}{
		"no such job":      {&jobsv1.GetInvoiceRequest{Ro: "9"}, fault.NotFound, `job "9" is not known`},
		"no currency":      {&jobsv1.GetInvoiceRequest{Ro: "2207", HourlyRate: "95"}, fault.Invalid, "currency: nothing"},
		"no rate":          {&jobsv1.GetInvoiceRequest{Ro: "2207", Currency: "USD"}, fault.Invalid, "hourly_rate: nothing"},
		"not a number":     {&jobsv1.GetInvoiceRequest{Ro: "2207", HourlyRate: "NaN", Currency: "USD"}, fault.Invalid, "hourly_rate"},
		"below nothing":    {&jobsv1.GetInvoiceRequest{Ro: "2207", HourlyRate: "-1", Currency: "USD"}, fault.Invalid, "hourly_rate"},
		"a number in form": {&jobsv1.GetInvoiceRequest{Ro: "2207", HourlyRate: "095", Currency: "USD"}, fault.Invalid, "hourly_rate"},
		"small letters":    {&jobsv1.GetInvoiceRequest{Ro: "2207", HourlyRate: "95", Currency: "usd"}, fault.Invalid, "currency"},
		"no number of one": {&jobsv1.GetInvoiceRequest{}, fault.Invalid, "ro"},
	} {
		if _, err := c.GetInvoice(t.Context(), q.req); fault.KindOf(err) != q.kind || !strings.Contains(err.Error(), q.part) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// A run's passes, material of unknown origin, and a product without a price.
func TestAnInvoiceSaysWhatIsNotKnown(t *testing.T) {
	s, c := shop(t)
	k := clocked{t, s, c}
	free := recordtest.Levelling()
	free.ProductId, free.Price, free.Currency = "sl-free", "", ""
	s.Tell(t, free)
	s.Tell(t, &materialsv1.LotReceived{LotId: "L2", ProductId: "sl-free", Cartridges: 1})
	s.Tell(t, &materialsv1.CartridgeOpened{CartridgeId: "C2", LotId: "L2"})
	const ansa = "Ansa Vellacorn"
	k.at("07:30", ansa, opened("2207").GetJobOpened())
	k.at("07:35", ansa, surveyed().GetSeamSurveyed())
	k.at("07:36", ansa, plannedSeam().GetSeamPlanned())
	k.at("08:10", ansa, &jobsv1.RunLaid{CartridgeId: "C2", Passes: []*jobsv1.RunLaid_Pass{
		{SeamId: seam, Layer: floorv1.Layer_LAYER_BED, EndedBefore: durationpb.New(6 * time.Minute)},
		{SeamId: seam, Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(40)},
	}})
	k.at("08:12", ansa, &jobsv1.BeadLaid{SeamId: seam, Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(10)})
	r, err := c.GetInvoice(t.Context(), &jobsv1.GetInvoiceRequest{Ro: "2207", HourlyRate: "60", Currency: "USD"})
	if err != nil {
		t.Fatal(err)
	}
	want := []string{
		"rd-l material lay sl 10 ml at 0.184 = 1.84 USD", // of no cartridge: the planned product
		"rd-l material lay sl-free 40 ml",
		"rd-l labour survey 5 min at 1 = 5 USD",
		"rd-l labour lay 8 min at 1 = 8 USD", // 6 min since the bed, 2 min since the run
		"rd-l labour lay ? min",              // the bed, 28 min after the plan
		"rd-l operation survey 1 each",
		"rd-l operation lay 3 each",
	}
	if diff := cmp.Diff(want, lines(r)); diff != "" {
		t.Errorf("lines (-want +got):\n%s", diff)
	}
	if r.Incomplete != 2 || !strings.Contains(r.Lines[0].Note, "the planned one") ||
		r.Lines[1].Note != "40.0 ml as told; the wet bed counts with the bead's planned volume; the product has no price" {
		t.Errorf("%d incomplete; %q, %q", r.Incomplete, r.Lines[0].Note, r.Lines[1].Note)
	}
}

// A mistyped volume is not billed beyond what the cartridge held while nobody
// has answered the query about it; the line says which it is. By hand: 200 ml
// in it, 20 laid as planned before, so 180 of the 5000 are billed: 200 ml at
// 0.184 USD. Accepted, all of it is.
func TestAnInvoiceDoubtsMoreThanACartridgeHeld(t *testing.T) {
	s, c := shop(t)
	k := clocked{t, s, c}
	const ansa = "Ansa Vellacorn"
	k.at("07:30", ansa, opened("2207").GetJobOpened())
	k.at("07:35", ansa, surveyed().GetSeamSurveyed())
	plan := plannedSeam().GetSeamPlanned()
	plan.VolumeMl = 20
	k.at("07:36", ansa, plan)
	k.at("08:10", ansa, &jobsv1.BeadLaid{SeamId: seam, CartridgeId: "C1", Layer: floorv1.Layer_LAYER_BEAD})
	k.at("08:12", ansa, &jobsv1.BeadLaid{SeamId: seam, CartridgeId: "C1", Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(5000)})
	laid := func() *jobsv1.InvoiceLine {
		t.Helper()
		r, err := c.GetInvoice(t.Context(), &jobsv1.GetInvoiceRequest{Ro: "2207", MinSequence: s.Writer.Seq()})
		if err != nil || len(r.GetLines()) == 0 {
			t.Fatal(r, err)
		}
		return r.GetLines()[0]
	}
	open, err := c.ListFindings(t.Context(), &jobsv1.ListFindingsRequest{OpenOnly: true, MinSequence: s.Writer.Seq()})
	if err != nil {
		t.Fatal(err)
	}
	id := ""
	for _, f := range open.GetFindings() {
		if f.GetFinding().GetRule() == "volume-overdrawn" {
			id = f.GetFindingId()
		}
	}
	if l := laid(); l.GetQuantity() != 200 || l.GetShown() != "36.80 USD" || id == "" ||
		!strings.Contains(l.GetNote(), "5000 ml as told; 20.0 ml as planned; in doubt, finding "+id+" is open: by the book 4820 ml of it are more than cartridge C1 held, and are not billed until it is answered") {
		t.Errorf("while %s is open: %v", id, l)
	}
	s.Tell(t, &jobsv1.FindingDisposed{FindingId: id, Disposition: floorv1.Disposition_DISPOSITION_ACCEPT, Reason: "it was so"})
	if l := laid(); l.GetQuantity() != 5020 || strings.Contains(l.GetNote(), "in doubt") {
		t.Errorf("answered: %v", l)
	}
}

// A bead of no volume is refused where it comes in, however it is told.
func TestABeadOfNothingIsRefused(t *testing.T) {
	bead := &jobsv1.BeadLaid{SeamId: seam, Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(0)}
	run := &jobsv1.RunLaid{Passes: []*jobsv1.RunLaid_Pass{{SeamId: seam, Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(0)}}}
	corrected := func(body proto.Message) *jobsv1.FactCorrected {
		m, err := anypb.New(body)
		if err != nil {
			t.Fatal(err)
		}
		return &jobsv1.FactCorrected{Sequence: 1, Body: m}
	}
	for want, body := range map[string]proto.Message{
		"bead_laid.volume_ml: 0: above 0: a bead has a volume; leave it out to take the planned one": bead, "run_laid.passes[0].volume_ml: 0: above 0": run,
		"bead_laid.volume_ml: 0": corrected(bead), "run_laid.passes[0].volume_ml: 0": corrected(run),
	} {
		if err := jobs.CheckFact(floor.Command{Body: body}); fault.KindOf(err) != fault.Invalid || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%T: %v, want %s", body, err, want)
		}
	}
	bead.VolumeMl, run.Passes[0].VolumeMl = proto.Float64(0.001), nil
	for _, body := range []proto.Message{bead, run} {
		if err := jobs.CheckFact(floor.Command{Body: body}); err != nil {
			t.Errorf("%v: %v", body, err)
		}
	}
}
