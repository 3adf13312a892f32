package screens

import (
	"strings"
	"unicode/utf8"
)

// drawBay draws the technician's tablet: the cars, the seams of a car or the
// next step of a seam.
func drawBay(b Bay, r ref, said *Result) (page, error) {
	d := newDrawer(r, b.Picture)
	parts := []part{
		d.fault(b.Picture),
		d.draw("bay-top", "top", b),
		d.draw("who-chip", "who", nil),
		d.drawRunning("bay-nozzle", "nozzle", b.Nozzle),
		d.draw("said", "said", said),
	}
	switch {
	case b.Seam != nil:
		parts = append(
			parts,
			d.draw("bay-steps", "steps", b.Seam),
			d.drawRunning("bay-work", "work", b.Seam),
			d.draw("bay-cautions", "cautions", partCautions(b.Seam.Cautions)),
			d.draw("bay-next", "next", b.Seam),
			d.draw("bay-else", "else", b.Seam),
			d.drawRunning("bay-undo", "undo", b.Seam),
		)
		return finish(d, r, b.Picture, b.Seam.RO+" "+b.Seam.Place, "bay-seam-body", parts)
	case b.Job != nil:
		kids := make([]part, 0, len(b.Job.Seams))
		for _, s := range b.Job.Seams {
			kids = append(kids, d.draw("bay-line", domID("row", s.ID), s))
		}
		parts = append(parts, d.group("bay-lines", "lines", b.Job, kids))
		return finish(d, r, b.Picture, b.Job.RO+" "+b.Job.Vehicle, "bay-job-body", parts)
	}
	kids := make([]part, 0, len(b.Cars))
	for _, c := range b.Cars {
		kids = append(kids, d.draw("bay-car", domID("car", c.RO), c))
	}
	parts = append(parts, d.group("bay-cars", "cars", hereWords(b), kids))
	return finish(d, r, b.Picture, b.Zone, "bay-pick-body", parts)
}

// cautionList is what stands above the button and what is folded behind it.
type cautionList struct{ First, Rest []string }

// partCautions keeps the first two, those that belong most to the step, in
// sight: with the safety data sheet's line they stand above the button whole.
// One that is too long for that comes behind those that are not.
func partCautions(all []string) cautionList {
	const most, letters = 2, 130
	var l cautionList
	for _, c := range all {
		if room := letters - utf8.RuneCountInString(strings.Join(l.First, " ")); len(l.First) < most && utf8.RuneCountInString(c) <= room {
			l.First = append(l.First, c)
		} else {
			l.Rest = append(l.Rest, c)
		}
	}
	return l
}

// hereWords names the place whose cars stand first; empty where the terminal
// stands in none.
func hereWords(b Bay) string {
	for _, c := range b.Cars {
		if c.Here {
			return b.Zone
		}
	}
	return ""
}

// nozzleView is a nozzle with its words; the script needs both, as it turns
// the one into the other when the countdown ends.
func nozzleView(n *Nozzle) string {
	switch n.State {
	case NozzleGood:
		return "good"
	case NozzleGelled:
		return "gelled"
	}
	return "may"
}
