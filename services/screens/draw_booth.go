package screens

import (
	"slices"
	"strconv"
)

// amountOf prints a count with its noun: "1 seam", "3 seams".
func amountOf(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return strconv.Itoa(n) + " " + noun + "s"
}

// fitLoads tells of the next two loads why they stand where they do, as long
// as every row of the seams stays and none has to be a tight one for it.
func fitLoads(b Booth, said *Result) (Booth, boothList) {
	tell := func(next int) (Booth, boothList) {
		out := b
		out.Loads = slices.Clone(b.Loads)
		for i := next; i < len(out.Loads); i++ {
			out.Loads[i].Why = ""
		}
		return out, fitBooth(out, said)
	}
	plain, bare := tell(0)
	if !b.Live { // what hangs on an old picture is not argued from
		return plain, bare
	}
	for _, next := range []int{2, 1} {
		out, list := tell(next)
		if len(list.seams) == len(bare.seams) && (list.density == bare.density || list.density != spacings[len(spacings)-1].name) {
			return out, list
		}
	}
	return plain, bare
}

// drawBooth draws the painter's screen.
func drawBooth(b Booth, r ref, said *Result) (page, error) {
	d := newDrawer(r, b.Picture)
	rows := make([]part, 0, len(b.Seams)+len(b.Reasons))
	for i, why := range b.Reasons {
		rows = append(rows, d.draw("booth-reason", domID("reason", strconv.Itoa(i)), why))
	}
	b, list := fitLoads(b, said)
	for _, s := range list.seams {
		rows = append(rows, d.draw("booth-seam", domID("row", s.ID), s))
	}
	if list.more.N > 0 {
		rows = append(rows, d.draw("booth-more", "row-more", list.more))
	}
	if list.ready.N > 0 {
		rows = append(rows, d.draw("booth-ready", "row-ready", list.ready))
	}
	parts := []part{
		d.fault(Picture{}), // the head and the rows below it tell it
		d.draw("booth-gate", "gate", b),
		d.draw("said", "said", said),
		d.group("booth-rows", "rows", map[string]any{"Load": b.Load != nil, "Density": list.density}, rows),
		d.draw("booth-order", "order", b.Loads),
		d.draw("booth-air", "air", b),
		d.draw("booth-act", "act", b),
		d.draw("booth-override", "override", b.Override),
		d.draw("who-chip", "who", nil),
	}
	return finish(d, r, b.Picture, b.Name, "booth-body", parts)
}
