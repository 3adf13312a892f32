package feed

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/calc/spec"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// rowID is a seam's identifier on the screens.
func rowID(id floor.SeamID) string { return strings.ReplaceAll(string(id), "/", ".") }

// seamRow is a seam on the board.
func (v *view) seamRow(s *floor.Seam) screens.SeamRow {
	r := screens.SeamRow{ID: rowID(s.ID), Place: s.Name(), Stage: string(s.Stage), Mark: screens.MarkTodo}
	if hold := v.hold(s); hold != "" {
		r.Mark, r.Hold = screens.MarkHold, hold
		return r
	}
	switch {
	case s.Stage == floor.Accepted || s.Stage == floor.Tested:
		r.Mark, r.Note = screens.MarkFinished, v.finishedNote(s)
	case !s.Complete():
		v.unlaidRow(s, &r)
	case s.Coated():
		r.Mark, r.Note = screens.MarkCoated, v.finishedNote(s)
	case s.Bead.Elsewhere || s.Bead.Product == nil:
		r.Mark, r.Note = screens.MarkUnknown, "laid "+v.at(s.Bead.Ended)+" · its clocks are not known"
	case s.Finish == spec.Exposed:
		v.exposedRow(s, &r)
	default:
		v.laidRow(s, &r)
	}
	return r
}

// finishedNote says what became of a seam that is painted, or cured and
// left exposed.
func (v *view) finishedNote(s *floor.Seam) string {
	var parts []string
	switch {
	case s.Coated() && !s.CoatedAt.IsZero():
		parts = append(parts, coated(s.CoatedWith)+" "+v.at(s.CoatedAt))
	case s.Coated():
		parts = append(parts, "painted elsewhere")
	case s.Bead != nil:
		parts = append(parts, "laid "+v.at(s.Bead.Ended))
	}
	switch {
	case s.Stage.Rank() >= floor.Tested.Rank():
		parts = append(parts, string(s.Stage))
	case v.s.index.tested(v.f, s):
		parts = append(parts, "water test passed")
	case s.Stage == floor.Cured:
		parts = append(parts, "cured")
	}
	return strings.Join(parts, " · ")
}

// unlaidRow: the latest moment to lay, or what comes next where there is
// none.
func (v *view) unlaidRow(s *floor.Seam, r *screens.SeamRow) {
	next := stepTitles[v.step(s, "")].next
	at, p, ok := v.layBy(s)
	if !ok {
		r.Note = strings.Trim(next+" · "+v.beadWords(s), " ·")
		if v.tooCold(s) {
			r.Note += " · may be too cold to cure"
		}
		return
	}
	text := "or it misses " + v.at(p.from)
	if s.Stage.Rank() < floor.Prepped.Rank() {
		text += " · " + strings.TrimSuffix(next, " first") + " first"
	} else {
		text += " · prepped, " + substrateWords(s.Substrate)
	}
	r.Mark, r.LayBy = screens.MarkLay, &screens.LayBy{At: at, Text: text}
}

// laidRow: the strip of a coat window with its words.
func (v *view) laidRow(s *floor.Seam, r *screens.SeamRow) {
	opens, ok := v.clock(s.ID, floorv1.Clock_CLOCK_COAT_OPENS)
	closes, ok2 := v.clock(s.ID, floorv1.Clock_CLOCK_COAT_CLOSES)
	if !ok || !ok2 {
		r.Mark, r.Note = screens.MarkUnknown, "laid "+v.at(s.Bead.Ended)+" · no coat window is known for "+orWord(string(s.FirstCoat()), "an unknown coat")
		return
	}
	r.Strip = strip(s.Bead, opens, closes)
	switch {
	case closes.Reached == cure.Yes:
		r.Mark, r.Text = screens.MarkClosed, "closed "+v.at(closes.DueHot)+" · scuff first"
	case closes.Reached == cure.Maybe:
		r.Mark, r.Text = screens.MarkClosed, "may have closed since "+v.at(closes.DueHot)+" · scuff, or wait for a reading"
	case opens.Reached == cure.Yes:
		r.Mark, r.Text = screens.MarkOpen, "window open until "+v.at(closes.DueHot)
		if closes.DueHot.IsZero() {
			r.Text = "window open"
		}
	default:
		r.Mark, r.Text = screens.MarkFlowing, v.openingWords(s, opens)
	}
	if r.Silent = !opens.Fresh; r.Silent {
		r.Text += " · probe silent"
	}
}

func orWord(s, or string) string {
	if s == "" {
		return or
	}
	return s
}

// openingWords: "flow-out 71 % · opens 11:07".
func (v *view) openingWords(s *floor.Seam, opens floor.ClockState) string {
	doing, done := v.doing(s, opens)
	if opens.DueCold.IsZero() {
		return fmt.Sprintf("%s %s · stands still, too cold", doing, percent(done))
	}
	return fmt.Sprintf("%s %s · opens %s", doing, percent(done), v.by(opens.DueCold))
}

// doing is what a bead that is not ready waits for, and how much of it is
// surely over: its flow-out first, then the coat's own time.
func (v *view) doing(s *floor.Seam, opens floor.ClockState) (string, float64) {
	if c, ok := v.clock(s.ID, floorv1.Clock_CLOCK_FLOW_OUT); ok && c.Reached != cure.Yes && selfLevelling(s) {
		return "flow-out", c.Progress()
	}
	return "coat time", opens.Progress()
}

func selfLevelling(s *floor.Seam) bool {
	return s.Bead != nil && s.Bead.Product != nil && s.Bead.Product.Spec.Class == spec.SelfLevelling
}

// percent rounds down, so that 100 % is said of what is over only.
func percent(part float64) string {
	return fmt.Sprintf("%d %%", int(math.Floor(min(max(part, 0), 1)*100+1e-9)))
}

// strip is a coat window against the clock: not ready up to the hot bound of
// opening, soft to its cold bound, open to the hot bound of closing, soft to
// its cold bound, then closed. A bound that never comes leaves what is before
// it without end.
func strip(b *floor.Bead, opens, closes floor.ClockState) []screens.Segment {
	begin := b.Ended
	if b.Scuffed != nil {
		begin = b.Scuffed.At
	}
	kinds := []screens.SegmentKind{screens.SegNotReady, screens.SegOpening, screens.SegOpen, screens.SegClosing, screens.SegClosed}
	ends := []time.Time{opens.DueHot, opens.DueCold, closes.DueHot, closes.DueCold, {}}
	var out []screens.Segment
	at := begin
	for i, k := range kinds {
		end := ends[i]
		last := end.IsZero()
		if !last && !end.After(at) {
			continue
		}
		out = append(out, screens.Segment{Kind: k, From: at, To: end})
		if last {
			break
		}
		at = end
	}
	return out
}

// exposedRow: the strip of full cure; no paint goes over it, so nothing on
// it is open or closed.
func (v *view) exposedRow(s *floor.Seam, r *screens.SeamRow) {
	full, ok := v.clock(s.ID, floorv1.Clock_CLOCK_FULL_CURE)
	if !ok {
		r.Mark, r.Note = screens.MarkUnknown, "laid "+v.at(s.Bead.Ended)+" · its full cure is not known"
		return
	}
	if full.Reached == cure.Yes {
		r.Mark, r.Note = screens.MarkCoated, v.finishedNote(s)
		return
	}
	r.Mark, r.Exposed, r.Silent = screens.MarkFlowing, true, !full.Fresh
	r.Strip = strip(s.Bead, full, floor.ClockState{})
	r.Strip = slices.DeleteFunc(r.Strip, func(g screens.Segment) bool { return g.Kind == screens.SegOpen })
	r.Text = fmt.Sprintf("exposed · cure %s", percent(full.Progress()))
	if !full.DueCold.IsZero() {
		r.Text += " · cured " + v.by(full.DueCold)
	}
}
