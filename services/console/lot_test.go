package console_test

import (
	"bytes"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/console"
)

// A balance reads as a sum, to a tenth of a millilitre, also where more is
// there than can be explained; --json has what is kept. By hand: 600 ml came
// in, 400 are on the shelf, 68.541 laid, 131.459 thrown away, and 1.96 found in
// the cartridge afterwards.
func TestTheBalanceOfALotReadsAsASum(t *testing.T) {
	at, say, _ := stocked(t)
	ask := func(json bool) string {
		t.Helper()
		var text bytes.Buffer
		if err := (console.Lot{At: at, Lot: "L1"}).Run(t.Context(), console.Out{W: &text, JSON: json}); err != nil {
			t.Fatal(err)
		}
		return text.String()
	}
	say(&materialsv1.CartridgeOpened{CartridgeId: "C1", LotId: "L1"},
		&jobsv1.BeadLaid{SeamId: "2207/roof-l", CartridgeId: "C1", Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(68.541)},
		&materialsv1.CartridgeEmptied{CartridgeId: "C1", Discarded: true})
	const laid = "600 ml received = 400 ml on the shelf + %s in opened cartridges + 68.5 ml laid + 0 ml purged and equalised + 131.5 ml thrown away %s unexplained\n"
	for _, c := range []struct {
		ml                  float64
		opened, unexplained string
	}{{0, "0 ml", "+ 0 ml"}, {1.96, "2 ml", "- 2 ml"}, {0.04, "0 ml", "+ 0 ml"}} {
		if c.ml > 0 {
			say(&materialsv1.CartridgeWeighed{CartridgeId: "C1", RemainingMl: c.ml})
		}
		want := strings.Replace(strings.Replace(laid, "%s", c.opened, 1), "%s", c.unexplained, 1)
		if got := ask(false); !strings.Contains(got, want) || strings.Contains(got, "+ -") || strings.Contains(got, "68.541") {
			t.Errorf("%g ml: %q is missing in:\n%s", c.ml, want, got)
		}
	}
	if got := ask(true); !strings.Contains(got, `"laid_ml": 68.541`) || !strings.Contains(got, `"unexplained_ml": -0.04`) {
		t.Errorf("as kept:\n%s", got)
	}
}
