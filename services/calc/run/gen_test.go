package run

import (
	"fmt"
	"time"

	"pgregory.net/rapid"

	"seamwright/services/calc/bead"
	"seamwright/services/calc/quantity"
	"seamwright/services/calc/spec"
)

var monday = time.Date(2026, 3, 2, 7, 30, 0, 0, time.UTC)

// drawProblem makes up a problem: tight or ample stock, nozzles on and off,
// walks that a nozzle outlives or not.
func drawProblem(t *rapid.T, seams int) Problem {
	p := Problem{Start: monday, Times: Times{
		Take: drawSeconds(t, "take", 0, 40), Open: drawSeconds(t, "open", 0, 60), Fit: drawSeconds(t, "fit", 0, 120),
		WalkPanel: drawSeconds(t, "walk", 0, 60),
	}}
	p.Times.WalkCar = p.Times.WalkPanel + drawSeconds(t, "drive", 0, 400)
	products := rapid.SampledFrom([]int{1, 1, 2, 3}).Draw(t, "products")
	for i := range products {
		p.Products = append(p.Products, Product{
			ID: fmt.Sprintf("P%d", i), Gel: drawSeconds(t, "gel", 100, 500), Tooling: drawSeconds(t, "tooling", 0, 600),
			OpenedLife: time.Duration(rapid.IntRange(0, 2).Draw(t, "life")) * 30 * 24 * time.Hour,
			Losses:     bead.Losses{PurgeML: drawML(t, "purge", 0, 10), HoldUpML: drawML(t, "hold", 0, 10), WastePercent: float64(rapid.IntRange(0, 10).Draw(t, "waste"))},
			Equalise:   quantity.Volume(drawML(t, "equalise", 0, 5)),
		})
		drawStock(t, &p, i)
	}
	for i := range seams {
		p.Seams = append(p.Seams, Seam{
			ID: fmt.Sprintf("s%d", i), RO: fmt.Sprint(rapid.IntRange(1, 2).Draw(t, "car")), Panel: rapid.SampledFrom([]string{"roof", "floor", "door"}).Draw(t, "panel"),
			ProductID: fmt.Sprintf("P%d", rapid.IntRange(0, products-1).Draw(t, "product")),
			Volume:    quantity.Volume(drawML(t, "volume", 5, 70)), Laying: drawSeconds(t, "laying", 10, 120),
			Tip:     drawTip(t),
			MayJoin: rapid.Bool().Draw(t, "join"),
		})
	}
	p.Times.Cut = drawSeconds(t, "cut", 0, 120)
	return p
}

func drawStock(t *rapid.T, p *Problem, i int) {
	id := fmt.Sprintf("P%d", i)
	for k := range rapid.IntRange(1, 2).Draw(t, "lots") {
		p.Lots = append(p.Lots, Lot{
			ID: fmt.Sprintf("L%d-%d", i, k), ProductID: id, Expires: drawDay(t, "expires"), Shelf: rapid.IntRange(0, 3).Draw(t, "shelf"),
			Cartridge: quantity.Volume(drawML(t, "cartridge", 60, 200)), Recalled: rapid.IntRange(0, 9).Draw(t, "recalled") == 0,
		})
	}
	for k := range rapid.IntRange(0, 2).Draw(t, "opened") {
		c := Cartridge{
			ID: fmt.Sprintf("C%d-%d", i, k), LotID: fmt.Sprintf("L%d-0", i), ProductID: id,
			Left: quantity.Volume(drawML(t, "left", 0, 150)), Expires: drawDay(t, "expires"), Opened: monday.AddDate(0, 0, -rapid.IntRange(0, 40).Draw(t, "opened")),
			Equalised: rapid.Bool().Draw(t, "equalised"),
		}
		if rapid.Bool().Draw(t, "nozzle") {
			c.Nozzle = Nozzle{
				ID: "N-" + c.ID, Tip: drawTip(t), Purged: rapid.Bool().Draw(t, "purged"),
				GelsBy: monday.Add(drawSeconds(t, "gels", 0, 400)),
			}
		}
		p.Opened = append(p.Opened, c)
	}
}

func drawTip(t *rapid.T) spec.Nozzle {
	return spec.Nozzle{
		Kind:  rapid.SampledFrom([]spec.NozzleKind{spec.RoundTip, spec.RoundTip, spec.RoundTip, spec.Spreader, spec.GuidedStep, ""}).Draw(t, "tip"),
		CutMM: float64(rapid.IntRange(0, 2).Draw(t, "cut")) * 4,
	}
}

func drawSeconds(t *rapid.T, what string, least, most int) time.Duration {
	return time.Duration(rapid.IntRange(least, most).Draw(t, what)) * time.Second
}

func drawML(t *rapid.T, what string, least, most int) float64 {
	return float64(rapid.IntRange(least, most).Draw(t, what))
}

func drawDay(t *rapid.T, what string) time.Time {
	n := rapid.IntRange(-1, 30).Draw(t, what) / 4 * 4
	if n >= 24 {
		return time.Time{}
	}
	return monday.AddDate(0, 0, 10*n).Add(time.Hour)
}
