package console_test

import (
	"bytes"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/console"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

const lotsHead = "lot,product,expires,cartridges,received_ml,cost,currency\n"

func lotsFile(t *testing.T, rows string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "lots.csv")
	if err := os.WriteFile(path, []byte(lotsHead+rows), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// The shop's lots come in with the products or after them; twice is once.
func TestLotsAreReceivedOnce(t *testing.T) {
	a, at, _ := shop(t)
	lots := console.Import{At: at, Lots: "../../testdata/shop/lots.csv"}
	err := lots.Run(t.Context(), console.Out{W: io.Discard})
	if fault.KindOf(err) != fault.NotFound || a.Desk().Writer.Seq() != 0 || !strings.HasPrefix(err.Error(), `../../testdata/shop/lots.csv:2 product: product "sl-grey" is not known; `) {
		t.Fatalf("without products: %v, the journal stands at %d", err, a.Desk().Writer.Seq())
	}
	both := lots
	both.Products = demo(at).Products
	if got := run(t, both); got.Recorded != 10+11 {
		t.Errorf("with the products: %+v", got)
	}
	if got := run(t, lots); got.Recorded != 0 || got.Unchanged != 11 {
		t.Errorf("again: %+v", got)
	}
	a.Desk().Writer.View(func(uint64) {
		l := a.Desk().Floor.Lot("HW-2512")
		if l == nil || l.Shelf != 8 || l.Product != "hb-white" { // 1600 ml of 200
			t.Errorf("by volume: %+v", l)
		}
		if l := a.Desk().Floor.Lot("MG-2512"); l == nil || l.Cost != "29.20" || l.Currency != "USD" || l.Shelf != 8 {
			t.Errorf("with a cost: %+v", l)
		}
	})
}

// What a file of lots says otherwise than the shop is refused before anything
// is stored: told again it would be a further delivery.
func TestLotsThatTheShopKnowsOtherwise(t *testing.T) {
	a, at, _ := shop(t)
	run(t, console.Import{At: at, Products: demo(at).Products, Lots: "../../testdata/shop/lots.csv"})
	stood := a.Desk().Writer.Seq()
	for rows, want := range map[string]string{
		"NEW-1,mb-grey,,2,,,\nSG-2511,sl-grey,2026-08-31,7,,36.40,USD\n": ":3 lot: SG-2511 was received otherwise: 6 cartridges of sl-grey, use by 2026-08-31T23:59:59.000Z, 36.40 USD each; nothing was stored; ",
		"NEW-1,mb-grey,,2,,,\nNEW-2,hb-white,,,450,,\n":                  ":3 received_ml: 450: whole cartridges of 200 ml each",
		"NEW-1,hb-pink,,2,,,\n":                                          `:2 product: product "hb-pink" is not known; `,
	} {
		path := lotsFile(t, rows)
		err := console.Import{At: at, Lots: path}.Run(t.Context(), console.Out{W: io.Discard})
		line, status := console.Explain(err)
		if status != console.ExitRefused || !strings.HasPrefix(line, path+want) || a.Desk().Writer.Seq() != stood {
			t.Errorf("%s: %q, status %d, the journal stands at %d", rows, line, status, a.Desk().Writer.Seq())
		}
	}
}

// What a lot cost comes before the product's price: 20 ml of a cartridge of 220
// ml for 22.00 USD are 2.00 USD; at the sheet's 29.90 they would be 2.72.
func TestAnInvoiceTakesWhatTheLotCost(t *testing.T) {
	a, at, _ := shop(t)
	run(t, console.Import{At: at, Products: demo(at).Products, Lots: lotsFile(t, "L-1,mb-grey,,2,,22.00,USD\n")})
	told := 0
	for _, f := range []proto.Message{
		&jobsv1.JobOpened{Ro: "2300", Vehicle: "green van"}, &jobsv1.SeamSurveyed{SeamId: "2300/hem", Panel: "door", Place: "hem", LengthMm: 1000},
		&materialsv1.CartridgeOpened{CartridgeId: "C1", LotId: "L-1"},
		&jobsv1.BeadLaid{SeamId: "2300/hem", CartridgeId: "C1", Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(20)},
	} {
		told++
		st := stamp("cost-"+string(rune('0'+told)), 0)
		if _, err := a.Desk().Record(t.Context(), floor.Command{Stamp: st, Body: f}, (*floor.Floor).Decide); err != nil {
			t.Fatal(err)
		}
	}
	var js bytes.Buffer
	if err := (console.Invoice{At: at, RO: "2300"}).Run(t.Context(), console.Out{W: &js, JSON: true}); err != nil {
		t.Fatal(err)
	}
	var got struct {
		Sums []struct{ Material string }
	}
	if err := json.Unmarshal(js.Bytes(), &got); err != nil || len(got.Sums) != 1 || got.Sums[0].Material != "2" {
		t.Errorf("%v: %s", err, &js)
	}
}
