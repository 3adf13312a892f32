package console

import (
	"fmt"
	"strings"
	"time"

	"seamwright/services/calc/quantity"
	"seamwright/services/calc/spec"
)

func (a runAnswer) Lines() []string {
	ml := func(x float64) string { return quantity.Round(x, 1) + " ml" }
	var out []string
	if len(a.Steps) == 0 && len(a.Unplanned) == 0 {
		what := "no seam is planned or prepped in " + a.Bay
		if len(a.ROs) > 0 {
			what = "of " + strings.Join(a.ROs, ", ") + " " + what
		}
		out = append(out, what+"; a car is in the bay where it was last moved to, or where it was last worked on")
	}
	for i, s := range a.Steps {
		if s.Why != "" {
			out = append(out, "     "+a.change(s)+": "+s.Why)
		} else if s.Recut {
			out = append(out, "     "+cutTo(s.Tip))
		}
		seam := s.Seam
		if s.Parts > 1 {
			seam = fmt.Sprintf("%s, part %d of %d", seam, s.Part, s.Parts)
		}
		out = append(out, fmt.Sprintf("%3d  %-28s %9s  from %s, %s left in it", i+1, seam, ml(s.Laid), quantity.Duration(s.Begins).ShowSeconds(), ml(s.Left)))
	}
	for _, x := range a.Stored {
		out = append(out, fmt.Sprintf("then %s: %s left. %s", pack(x.Cartridge, x.Lot, x.Nth), ml(x.Left), x.Why))
	}
	for _, x := range a.Asides {
		out = append(out, fmt.Sprintf("not %s: %s", pack(x.Cartridge, x.Lot, 0), x.Why))
	}
	if len(a.Steps) == 0 && len(a.Unplanned) > 0 {
		out = append(out, "nothing in "+a.Bay+" can be laid now")
	}
	for _, x := range a.leftOut() {
		out = append(out, fmt.Sprintf("left out %s: %s", x.Seam, x.Why))
	}
	if len(a.Steps) > 0 {
		word := "none better exists"
		if !a.Proved {
			word = "the best that was found"
		}
		out = append(out,
			fmt.Sprintf("in all  %s (%s)", a.Totals, word),
			fmt.Sprintf("panel by panel it would be  %s", a.Naive))
		if a.Gap != "" {
			out = append(out, a.Gap)
		}
		out = append(out,
			a.warmth(), "Gloves, eyes and breathing as the safety data sheet says.")
	}
	return out
}

// leftOut are the seams that are left out, those with the same reason together.
func (a runAnswer) leftOut() (out []runUnplanned) {
	at := map[string]int{}
	for _, x := range a.Unplanned {
		if k, ok := at[x.Why]; ok {
			out[k].Seam += ", " + x.Seam
			continue
		}
		at[x.Why] = len(out)
		out = append(out, x)
	}
	return out
}

// warmth says by which temperature nozzles are reckoned to gel, and where that
// is from.
func (a runAnswer) warmth() string {
	hot := quantity.Round(a.HotC, 1) + " °C"
	if a.ReadC == nil {
		return fmt.Sprintf("nozzles are reckoned to gel as at %s, the warmest that %s can be: its temperature was never read", hot, a.Bay)
	}
	text := fmt.Sprintf("nozzles are reckoned to gel as at %s, the warmest that %s may be by now: %s °C was read %s", hot, a.Bay, quantity.Round(*a.ReadC, 1), ago(a.age))
	if !a.Fresh {
		text += ", which is long: read it again for a run that counts on less"
	}
	return text
}

// ago is how long ago something was, "4 min ago".
func ago(d time.Duration) string {
	switch {
	case d < time.Minute:
		return "just now"
	case d < 2*time.Hour:
		return fmt.Sprintf("%d min ago", int(d.Minutes()))
	case d < 48*time.Hour:
		return fmt.Sprintf("%d hours ago", int(d.Hours()))
	}
	return fmt.Sprintf("%d days ago", int(d.Hours()/24))
}

func (a runAnswer) change(s runStep) string {
	var did []string
	if s.Opens {
		did = append(did, "open "+pack(s.Cartridge, s.Lot, s.Nth))
	} else {
		did = append(did, "take "+pack(s.Cartridge, s.Lot, s.Nth))
	}
	switch {
	case s.Fits:
		did = append(did, fmt.Sprintf("fit nozzle %d, %s, and purge it", s.Nozzle, tipOr(s.Tip)))
	case s.NozzleID != "":
		did = append(did, "nozzle "+s.NozzleID+" is on")
	}
	if s.Recut {
		did = append(did, cutTo(s.Tip))
	}
	return strings.Join(did, ", ")
}

// cutTo says to cut the tip that is on for a wider bead.
func cutTo(tip string) string {
	n, _ := spec.ReadNozzle(tip)
	return fmt.Sprintf("cut the tip to %g mm", n.CutMM)
}

func tipOr(tip string) string {
	if tip == "" {
		return "any tip"
	}
	return tip
}

func pack(cartridge, lot string, nth int32) string {
	switch {
	case cartridge != "":
		return "cartridge " + cartridge
	case nth > 0:
		return fmt.Sprintf("new cartridge %d of lot %s", nth, lot)
	}
	return "lot " + lot
}

// String is the totals in a line: what is taken out of cartridges, in its
// parts, and what rests are thrown away beside it.
func (t runTotals) String() string {
	s := fmt.Sprintf("%s, %s, %s opened, %s ml taken: %s on the seams, %s tooled off them, %s lost", counted(int(t.Seams), "seam"), counted(int(t.Nozzles), "nozzle"), counted(int(t.Opened), "cartridge"),
		quantity.Round(t.Taken, 1), quantity.Round(t.OnSeams, 1), quantity.Round(t.Tooled, 1), quantity.Round(t.Waste, 1))
	if t.Thrown > 0 {
		s += fmt.Sprintf("; %s ml thrown away", quantity.Round(t.Thrown, 1))
	}
	s += fmt.Sprintf("; %s min", quantity.Round(t.Minutes, 0))
	if t.LeftOut > 0 {
		s += fmt.Sprintf(", %d left out", t.LeftOut)
	}
	return s
}
