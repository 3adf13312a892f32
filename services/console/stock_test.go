package console_test

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/console"
	"seamwright/services/fault"
)

func TestStockIsTold(t *testing.T) {
	at, say, a := stocked(t)
	say(&materialsv1.LotReceived{LotId: "OLD", ProductId: "sl", Cartridges: 2, Expires: timestamppb.New(midday.Add(-24 * time.Hour))})
	var early bytes.Buffer
	if err := (console.Stock{At: at}).Run(t.Context(), console.Out{W: &early}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"\n  its use is known since ", "\n  lot OLD, 2 cartridges, 400 ml: lapsed on " + midday.Add(-24*time.Hour).Format(time.DateOnly) + ", throw away: its lot expired\n",
		"\n  lot L1, 3 cartridges, 600 ml: may lapse: it expires on ", " unless it is used by then: how much a week takes is not known yet\n",
	} {
		if !strings.Contains(early.String(), want) {
			t.Errorf("%q is missing in:\n%s", want, &early)
		}
	}
	say(&materialsv1.CartridgeOpened{CartridgeId: "C1", LotId: "L1"}, &materialsv1.CartridgeOpened{CartridgeId: "C2", LotId: "L1"})
	for i := range 3 {
		say(&jobsv1.BeadLaid{SeamId: "2207/roof-l", CartridgeId: "C1", Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(float64(10 * (i + 1)))})
		if err := a.AdvanceTo(t.Context(), midday.Add(time.Duration(i+1)*7*24*time.Hour)); err != nil {
			t.Fatal(err)
		}
	}
	var text, js bytes.Buffer
	if err := (console.Stock{At: at}).Run(t.Context(), console.Out{W: &text}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"order at", "sl                      1", "cartridge C2, ", " ml: will lapse: its life once opened ends on ", " before it is used up at 0.10 cartridges a week",
		"  at 0.10 a week the last of it is used up, or lapses, on ",
	} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("%q is missing in:\n%s", want, &text)
		}
	}
	if err := (console.Stock{At: at, Product: "sl", Weeks: "4", Service: "0.9", Cover: "2"}).Run(t.Context(), console.Out{W: &js, JSON: true}); err != nil {
		t.Fatal(err)
	}
	var got struct {
		Products []struct {
			Weekly *float64 `json:"weekly_cartridges"`
			Lapses []any
		}
	}
	if err := json.Unmarshal(js.Bytes(), &got); err != nil || len(got.Products) != 1 || got.Products[0].Weekly == nil || *got.Products[0].Weekly != 0.1 || got.Products[0].Lapses == nil {
		t.Errorf("%s, %v", &js, err) // 10, 20 and 30 ml of 200 in three weeks
	}
	for _, q := range []console.Stock{{At: at, Weeks: "1"}, {At: at, Weeks: "2.5"}, {At: at, Service: "1"}, {At: at, Service: "NaN"}, {At: at, Cover: "0"}, {At: at, Product: "two words"}} {
		if err := q.Run(t.Context(), console.Out{W: &text}); fault.KindOf(err) != fault.Invalid {
			t.Errorf("%+v: %v", q, err)
		}
	}
}

// An empty shelf is said to be one.
func TestAnEmptyShelfIsTold(t *testing.T) {
	at, say, _ := stocked(t)
	say(&materialsv1.StockCounted{LotId: "L1", Cartridges: 0})
	var text bytes.Buffer
	if err := (console.Stock{At: at, Product: "sl"}).Run(t.Context(), console.Out{W: &text}); err != nil {
		t.Fatal(err)
	}
	if got := text.String(); !strings.Contains(got, "\n  none on the shelf that may be used\n") || strings.Contains(got, "used up") {
		t.Errorf("an empty shelf:\n%s", got)
	}
}

// What cannot be advised is not said to be 0, and where something is, that a
// day is counted until somebody looks at the shelf.
func TestNothingIsAdvisedWhereUseIsNotKnown(t *testing.T) {
	at, say, a := stocked(t)
	say(&materialsv1.StockCounted{LotId: "L1", Cartridges: 0})
	ask := func() (text, js string) {
		t.Helper()
		var both [2]bytes.Buffer
		for i := range both {
			if err := (console.Stock{At: at, Product: "sl"}).Run(t.Context(), console.Out{W: &both[i], JSON: i == 1}); err != nil {
				t.Fatal(err)
			}
		}
		return both[0].String(), both[1].String()
	}
	if text, js := ask(); !strings.Contains(text, "\nsl                      0          0         -         -         -\n") || !strings.Contains(js, `"order_now": null`) {
		t.Errorf("unknown:\n%s\n%s", text, js)
	}
	say(&materialsv1.LotReceived{LotId: "L2", ProductId: "sl", Cartridges: 4}, &materialsv1.CartridgeOpened{CartridgeId: "C1", LotId: "L2"},
		&jobsv1.BeadLaid{SeamId: "2207/roof-l", CartridgeId: "C1", Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(60)})
	if err := a.AdvanceTo(t.Context(), midday.Add(21*24*time.Hour)); err != nil {
		t.Fatal(err)
	}
	if text, js := ask(); !strings.Contains(text, " until a delivery (3 days on its way, and 1 until somebody looks at the shelf) 0.06 are used") || !strings.Contains(js, `"order_now": 0`) { // 60 of 200 ml in 3 weeks, 4/7 of one
		t.Errorf("known:\n%s\n%s", text, js)
	}
}
