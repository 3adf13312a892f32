package materials_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/materials"
	"seamwright/services/record/recordtest"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

func shop(t *testing.T) (*recordtest.Shop, materialsv1.MaterialsServiceClient) {
	t.Helper()
	s := recordtest.New()
	c := s.Serve(t, materials.NewServer(s.Desk).Register)
	s.Furnish(t)
	return s, materialsv1.NewMaterialsServiceClient(c)
}

func request(s *recordtest.Shop, fact func(*materialsv1.RecordRequest)) *materialsv1.RecordRequest {
	r := &materialsv1.RecordRequest{Stamp: s.Stamp(floorv1.Role_ROLE_MATERIALS)}
	fact(r)
	return r
}

func tell(t *testing.T, s *recordtest.Shop, c materialsv1.MaterialsServiceClient, fact func(*materialsv1.RecordRequest)) *floorv1.Receipt {
	t.Helper()
	r, err := c.Record(t.Context(), request(s, fact))
	if err != nil {
		t.Fatal(err)
	}
	return r.Receipt
}

func TestACartridgeFromTheShelfToTheNozzle(t *testing.T) {
	s, c := shop(t)
	s.Read(t, 21)
	for _, fact := range []func(*materialsv1.RecordRequest){
		func(r *materialsv1.RecordRequest) {
			r.Fact = &materialsv1.RecordRequest_CartridgeOpened{CartridgeOpened: &materialsv1.CartridgeOpened{CartridgeId: "C2", LotId: "L1"}}
		},
		func(r *materialsv1.RecordRequest) {
			r.Fact = &materialsv1.RecordRequest_CartridgeEqualised{CartridgeEqualised: &materialsv1.CartridgeEqualised{CartridgeId: "C2", VolumeMl: proto.Float64(2)}}
		},
		func(r *materialsv1.RecordRequest) {
			r.Fact = &materialsv1.RecordRequest_NozzleFitted{NozzleFitted: &materialsv1.NozzleFitted{NozzleId: "N7", CartridgeId: "C2"}}
		},
		func(r *materialsv1.RecordRequest) {
			r.Fact = &materialsv1.RecordRequest_CartridgePurged{CartridgePurged: &materialsv1.CartridgePurged{CartridgeId: "C2", VolumeMl: proto.Float64(8)}}
		},
	} {
		tell(t, s, c, fact)
	}
	if err := s.Time.Advance(4 * time.Minute); err != nil {
		t.Fatal(err)
	}
	got, err := c.ListCartridges(t.Context(), &materialsv1.ListCartridgesRequest{MinSequence: s.Writer.Seq()})
	if err != nil || len(got.Cartridges) != 2 {
		t.Fatalf("%v, %v", got, err)
	}
	x := got.Cartridges[1]
	if x.CartridgeId != "C2" || x.RemainingMl != 190 || !x.Equalised || !x.Purged || x.NozzleId != "N7" || x.ProductId != "sl" {
		t.Errorf("cartridge %v", x)
	}
	// 5 min gel time at 21 °C less 10 %: after 4 min at 21 °C surely not gelled
	// only if the air stayed; the hot bound may reach it, it is never surely gelled.
	if x.Gelled == floorv1.Answer_ANSWER_YES || x.Gelled == floorv1.Answer_ANSWER_UNSPECIFIED || x.GelsBy.AsTime().After(recordtest.Monday.Add(270*time.Second)) {
		t.Errorf("gelled %s, by %s", x.Gelled, x.GelsBy.AsTime())
	}
}

func TestTheBalanceOfALotCloses(t *testing.T) {
	s, c := shop(t)
	tell(t, s, c, func(r *materialsv1.RecordRequest) {
		r.Fact = &materialsv1.RecordRequest_CartridgeWeighed{CartridgeWeighed: &materialsv1.CartridgeWeighed{CartridgeId: "C1", RemainingMl: 180}}
	})
	tell(t, s, c, func(r *materialsv1.RecordRequest) {
		r.Fact = &materialsv1.RecordRequest_StockCounted{StockCounted: &materialsv1.StockCounted{LotId: "L1", Cartridges: 4}}
	})
	tell(t, s, c, func(r *materialsv1.RecordRequest) {
		r.Fact = &materialsv1.RecordRequest_CartridgeEmptied{CartridgeEmptied: &materialsv1.CartridgeEmptied{CartridgeId: "C1", Discarded: true}}
	})
	got, err := c.ListStock(t.Context(), &materialsv1.ListStockRequest{})
	if err != nil || len(got.Lots) != 1 {
		t.Fatalf("%v, %v", got, err)
	}
	l := got.Lots[0]
	want := &materialsv1.Lot{ReceivedMl: 1200, ShelfMl: 800, DiscardedMl: 180, UnexplainedMl: 220}
	if l.ReceivedMl != want.ReceivedMl || l.ShelfMl != want.ShelfMl || l.DiscardedMl != want.DiscardedMl || l.UnexplainedMl != want.UnexplainedMl {
		t.Errorf("lot %v, want %v", l, want)
	}
	if sum := l.ShelfMl + l.OpenedMl + l.LaidMl + l.PurgedMl + l.DiscardedMl + l.UnexplainedMl; math.Abs(sum-l.ReceivedMl) > 1e-9 {
		t.Errorf("the parts add up to %g of %g ml", sum, l.ReceivedMl)
	}
	// Shelf life counts from the receipt where the label says nothing.
	if !l.Expires.AsTime().Equal(recordtest.Monday.AddDate(0, 0, 365)) {
		t.Errorf("expires %s", l.Expires.AsTime())
	}
	gone, err := c.ListCartridges(t.Context(), &materialsv1.ListCartridgesRequest{})
	if err != nil || len(gone.Cartridges) != 0 {
		t.Errorf("an emptied cartridge is still listed: %v, %v", gone, err)
	}
}

func TestProductsThatContradictThemselvesAreRefused(t *testing.T) {
	s, c := shop(t)
	for field, change := range map[string]func(*materialsv1.ProductDefined){
		"build":                          func(p *materialsv1.ProductDefined) { p.Class = floorv1.SealerClass_SEALER_CLASS_HEAVY_BODIED },
		"cure.flow_out_min":              func(p *materialsv1.ProductDefined) { p.Cure.FlowOutMin = nil },
		"price":                          func(p *materialsv1.ProductDefined) { p.Price = "a lot" },
		"currency":                       func(p *materialsv1.ProductDefined) { p.Currency = "" },
		"cure.activation_nominal_kj_mol": func(p *materialsv1.ProductDefined) { p.Cure.ActivationNominalKjMol = 60 },
		"cure.max_temp_c": func(p *materialsv1.ProductDefined) {
			p.Cure.MinTempC, p.Cure.MaxTempC = proto.Float64(30), proto.Float64(20)
		},
		"cure.over[0].closes_min": func(p *materialsv1.ProductDefined) { p.Cure.Over[0].ClosesMin = 1 },
		"cure.over[1].coat":       func(p *materialsv1.ProductDefined) { p.Cure.Over = append(p.Cure.Over, p.Cure.Over[0]) },
	} {
		p := recordtest.Levelling()
		change(p)
		before := s.Writer.Seq()
		_, err := c.Record(t.Context(), request(s, func(r *materialsv1.RecordRequest) {
			r.Fact = &materialsv1.RecordRequest_ProductDefined{ProductDefined: p}
		}))
		if fault.KindOf(err) != fault.Invalid || !strings.Contains(err.Error(), "product_defined."+field+": ") || s.Writer.Seq() != before {
			t.Errorf("%s: %v", field, err)
		}
	}
}

func TestALotStandsForOneProduct(t *testing.T) {
	s, c := shop(t)
	second := recordtest.Levelling()
	second.ProductId = "sl-2"
	tell(t, s, c, func(r *materialsv1.RecordRequest) {
		r.Fact = &materialsv1.RecordRequest_ProductDefined{ProductDefined: second}
	})
	lot := func(product string) func(*materialsv1.RecordRequest) {
		return func(r *materialsv1.RecordRequest) {
			r.Fact = &materialsv1.RecordRequest_LotReceived{LotReceived: &materialsv1.LotReceived{
				LotId: "L1", ProductId: product, Cartridges: 1, Expires: timestamppb.New(recordtest.Monday.AddDate(1, 0, 0)),
			}}
		}
	}
	if _, err := c.Record(t.Context(), request(s, lot("sl-2"))); !fault.Is(err, "lot-of-another-product") {
		t.Errorf("got %v", err)
	}
	if _, err := c.Record(t.Context(), request(s, lot("none"))); err == nil {
		t.Error("a lot of an unknown product was taken")
	}
	tell(t, s, c, lot("sl"))
}

func TestFactsOfOtherServicesAreRefused(t *testing.T) {
	s, _ := shop(t)
	_, err := materials.Decide(s.Floor, floor.Command{Stamp: s.Stamp(floorv1.Role_ROLE_TECHNICIAN), Body: &jobsv1.JobOpened{Ro: "1", Vehicle: "x"}}, recordtest.Monday)
	if fault.KindOf(err) != fault.Invalid || !strings.Contains(err.Error(), "seamwright.jobs.v1.JobOpened") {
		t.Errorf("got %v", err)
	}
}
