package run

import (
	"fmt"
	"testing"
	"time"

	"seamwright/services/calc/bead"
	"seamwright/services/calc/quantity"
	"seamwright/services/calc/spec"
)

// Two products on five panels, the seams of one lying between those of the
// other: it takes two cartridges of each, and nobody goes back and forth
// between them for a shorter way.
func TestARunStaysWithTheProductOnTheGun(t *testing.T) {
	p := Problem{Start: monday, Times: UsualTimes()}
	for _, id := range []string{"grey", "white"} {
		p.Products = append(p.Products, Product{ID: id, Gel: 5 * time.Minute, Losses: bead.Losses{PurgeML: 5, HoldUpML: 5, WastePercent: 5}, Equalise: 1})
	}
	p.Lots = []Lot{{ID: "G1", ProductID: "grey", Shelf: 5, Cartridge: 220}, {ID: "W1", ProductID: "white", Shelf: 5, Cartridge: 200}}
	for i, ml := range []float64{60, 90, 30, 60, 45, 30, 90, 45, 60, 90, 30} {
		p.Seams = append(p.Seams, Seam{
			ID: fmt.Sprint("s", i), RO: "2500", Panel: fmt.Sprint("p", i*3%5), ProductID: []string{"grey", "white"}[i%2], Volume: quantity.Volume(ml),
			Laying: 75 * time.Second, Tip: spec.Nozzle{Kind: spec.RoundTip, CutMM: 6 + 2*float64(i%2)},
		})
	}
	r := must(Make(p))
	judge(t, p, r)
	swaps, on := 0, r.Steps[0].Pack.LotID
	for _, s := range r.Steps {
		if s.Pack.LotID != on {
			swaps, on = swaps+1, s.Pack.LotID
		}
	}
	if swaps != 1 || r.Totals.Swaps != 1 || !r.Proved || r.Totals.Laid != 11 {
		t.Errorf("%d changes of product, told are %d: %s", swaps, r.Totals.Swaps, told(r))
	}
}

// asideOf is what is said of a cartridge or a lot that is not used.
func asideOf(r Run, id string) string {
	for _, a := range r.Asides {
		if a.ID == id || a.ID == "" && a.LotID == id {
			return a.Why
		}
	}
	return ""
}

// left is why a seam is left out.
func leftOf(r Run, id string) (reason, why string) {
	for _, u := range r.Unplanned {
		if u.SeamID == id {
			return u.Reason, u.Why
		}
	}
	return "", ""
}
