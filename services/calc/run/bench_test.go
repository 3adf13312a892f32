package run

import (
	"fmt"
	"testing"
	"time"

	"seamwright/services/calc/bead"
	"seamwright/services/calc/quantity"
	"seamwright/services/calc/spec"
)

// shopDay is a bay full of work made up from a seed: some cars, panels,
// products and tips, opened cartridges and lots.
func shopDay(seed uint64, seams, products int) Problem {
	roll := func(n int) int {
		seed = mix(seed, 77)
		return int(seed % uint64(n))
	}
	p := Problem{Start: monday, Times: UsualTimes()}
	for i := range products {
		id := fmt.Sprintf("P%d", i)
		p.Products = append(p.Products, Product{
			ID: id, Gel: time.Duration(4+roll(5)) * time.Minute, Tooling: 8 * time.Minute, OpenedLife: 90 * 24 * time.Hour,
			Losses: bead.Losses{PurgeML: 8, HoldUpML: 7, WastePercent: 5}, Equalise: 3,
		})
		for k := range 2 {
			p.Lots = append(p.Lots, Lot{ID: fmt.Sprintf("L%d-%d", i, k), ProductID: id, Expires: monday.AddDate(0, 2+roll(9), 0), Shelf: 6, Cartridge: 200})
		}
		for k := range 1 + roll(2) {
			p.Opened = append(p.Opened, Cartridge{
				ID: fmt.Sprintf("C%d-%d", i, k), LotID: fmt.Sprintf("L%d-0", i), ProductID: id, Left: quantity.Volume(20 + roll(150)),
				Expires: monday.AddDate(0, 2, 0), Opened: monday.AddDate(0, 0, -roll(60)), Equalised: true,
			})
		}
	}
	kinds := []spec.NozzleKind{spec.RoundTip, spec.RoundTip, spec.Spreader, spec.GuidedStep}
	for i := range seams {
		p.Seams = append(p.Seams, Seam{
			ID: fmt.Sprintf("s%d", i), RO: fmt.Sprint(2200 + i*3/seams), Panel: fmt.Sprintf("panel %d", roll(6)), ProductID: fmt.Sprintf("P%d", roll(products)),
			Volume: quantity.Volume(10+roll(90)) + quantity.Volume(roll(1000))/1000, Laying: time.Duration(30+roll(180)) * time.Second,
			Tip: spec.Nozzle{Kind: kinds[roll(4)], CutMM: float64(6 + 2*roll(4))}, MayJoin: roll(3) == 0,
		})
	}
	return p
}

func benchmark(b *testing.B, seams, products int) {
	for i := 0; b.Loop(); i++ {
		r, err := Make(shopDay(uint64(i%8), seams, products))
		if err != nil || r.Totals.Laid == 0 {
			b.Fatal(r.Totals, err)
		}
	}
}

func BenchmarkTwelve(b *testing.B)             { benchmark(b, 12, 3) }
func BenchmarkTwelveOfOneProduct(b *testing.B) { benchmark(b, 12, 1) }
func BenchmarkForty(b *testing.B)              { benchmark(b, 40, 4) }
