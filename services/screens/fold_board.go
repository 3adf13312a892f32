package screens

import (
	"slices"
	"strings"
	"time"
)

// fold names the seams of a car that may go into one line: those with the
// same mark, the exposed ones apart from those that wait for paint.
type fold string

// foldFlowing are the seams that are not ready for paint, foldCuring the
// exposed ones that nothing but their own cure is waited for.
const (
	foldFlowing = fold(MarkFlowing)
	foldCuring  = fold("curing")
)

// folds are in the order in which they give up their rows: first what asks
// for nothing, last what somebody has to look after. A hold is never folded.
var folds = []fold{
	fold(MarkFinished), fold(MarkCoated), fold(MarkTodo), fold(MarkLay), fold(MarkOpen),
	foldFlowing, foldCuring, fold(MarkClosed), fold("unknown"),
}

func foldOf(s SeamRow) fold {
	switch {
	case s.Mark == MarkUnknown:
		return "unknown"
	case s.Mark == MarkFlowing && s.Exposed:
		return foldCuring
	}
	return fold(s.Mark)
}

// foldSeams puts two or more seams of the same kind into one line, at the
// place of the first of them.
func foldSeams(j Job, quiet []fold, c clock) []SeamRow {
	if len(quiet) == 0 {
		return j.Seams
	}
	of := map[fold][]SeamRow{}
	for _, s := range j.Seams {
		of[foldOf(s)] = append(of[foldOf(s)], s)
	}
	var out []SeamRow
	told := map[fold]bool{}
	for _, s := range j.Seams {
		f := foldOf(s)
		if len(of[f]) < 2 || !slices.Contains(quiet, f) {
			out = append(out, s)
			continue
		}
		if !told[f] {
			told[f] = true
			out = append(out, folded(j.RO, f, of[f], c))
		}
	}
	return out
}

var foldWords = map[fold]string{
	fold(MarkFinished): "finished", fold(MarkCoated): "painted", fold(MarkTodo): "not begun", fold(MarkLay): "to lay",
	fold(MarkOpen): "open for paint", foldFlowing: "flowing", foldCuring: "curing, exposed", fold(MarkClosed): "to scuff", "unknown": "not known",
}

// folded is the one line of seams of the same kind. It shows the one that
// governs: what must be laid first, what closes first, what is ready last.
func folded(ro string, f fold, seams []SeamRow, c clock) SeamRow {
	first := seams[0]
	out := SeamRow{
		ID: ro + "." + string(f), Place: amountOf(len(seams), "seam") + " " + foldWords[f], Mark: first.Mark,
		Stage: first.Stage, Exposed: first.Exposed,
	}
	var names []string
	for _, s := range seams {
		names = append(names, s.Place)
		out.Silent = out.Silent || s.Silent
	}
	switch {
	case f == fold(MarkLay):
		s := governs(seams, func(a, b SeamRow) bool { return b.LayBy != nil && (a.LayBy == nil || b.LayBy.At.Before(a.LayBy.At)) })
		if s.LayBy != nil {
			out.LayBy = &LayBy{At: s.LayBy.At, Text: "· " + s.Place + " first, then " + without(names, s.Place)}
		}
	case f == fold(MarkOpen), f == fold(MarkClosed):
		s := governs(seams, func(a, b SeamRow) bool { return closes(b.Strip).Before(closes(a.Strip)) })
		out.Strip, out.Text = s.Strip, s.Text+" · "+s.Place+" first"
		if f == fold(MarkOpen) && closes(s.Strip).Equal(never) {
			out.Text = s.Text
		}
	case f == foldFlowing, f == foldCuring:
		s := governs(seams, func(a, b SeamRow) bool { return ready(b.Strip).After(ready(a.Strip)) })
		out.Strip, out.Text = s.Strip, c.lastReady(f, s)
		if out.Silent {
			out.Text += " · probe silent"
		}
	}
	if out.LayBy == nil && out.Strip == nil {
		out.Note, out.Text = strings.Join(names, " · "), ""
	}
	return out
}

// lastReady: "last opens 12:04, Quarter to wheelhouse L".
func (c clock) lastReady(f fold, s SeamRow) string {
	at := ready(s.Strip)
	if at.Equal(never) {
		return "last: no end in sight, too cold · " + s.Place
	}
	word := "last opens "
	if f == foldCuring {
		word = "last cured "
	}
	return word + c.At(at.Add(time.Minute-1).Truncate(time.Minute)) + ", " + s.Place
}

// governs is the seam that comes before all others; the first of equals.
func governs(seams []SeamRow, before func(a, b SeamRow) bool) SeamRow {
	out := seams[0]
	for _, s := range seams[1:] {
		if before(out, s) {
			out = s
		}
	}
	return out
}

// without joins names but for the first that is left out.
func without(names []string, out string) string {
	rest := slices.Clone(names)
	if i := slices.Index(rest, out); i >= 0 {
		rest = slices.Delete(rest, i, i+1)
	}
	return strings.Join(rest, ", ")
}

// never is a moment that is not reached.
var never = time.Unix(1<<40, 0)

// closes is when a strip may be closed; never where it cannot be told.
func closes(strip []Segment) time.Time {
	for _, g := range strip {
		if g.Kind == SegClosing || g.Kind == SegClosed {
			return g.From
		}
	}
	return never
}

// ready is when a strip is surely ready; never where it cannot be told.
func ready(strip []Segment) time.Time {
	at := never
	for _, g := range strip {
		if g.Kind == SegNotReady || g.Kind == SegOpening {
			if at = g.To; at.IsZero() {
				return never
			}
		}
	}
	return at
}
