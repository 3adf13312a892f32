package screens

import (
	"math"
	"strconv"
	"time"
	"unicode/utf8"
)

// axis maps moments to percent of the board's width, so that SVG attributes
// carry every position and the drawing stretches with the screen.
type axis struct{ from, to, now time.Time }

// charPercent is the width of one letter of a row's text in percent of the
// axis: the wall's type is sized by the screen's width, so that about 115
// letters fit the axis on every wide screen.
const charPercent = 0.87

// at is the unclipped position of t in percent.
func (a axis) at(t time.Time) float64 {
	span := a.to.Sub(a.from)
	if span <= 0 {
		return 0
	}
	return 100 * float64(t.Sub(a.from)) / float64(span)
}

// cut brings a stretch inside the axis; ok is false when nothing is left. A
// zero moment is open-ended.
func (a axis) cut(from, to time.Time) (x, w float64, ok bool) {
	lo, hi := 0.0, 100.0
	if !from.IsZero() {
		lo = max(lo, a.at(from))
	}
	if !to.IsZero() {
		hi = min(hi, a.at(to))
	}
	return lo, hi - lo, hi > lo
}

// beside is where text may end left of the now line and begin right of it,
// on a raster of a sixtieth of the axis: text steps along seldom, and a row
// whose facts did not change stays the same bytes meanwhile. With the now line
// off the axis the whole of it is free.
func (a axis) beside() (end, start float64) {
	const raster = 100.0 / 60
	now := a.at(a.now)
	if now < 0 || now > 100 {
		return 0, 0.5
	}
	return max(math.Floor(now/raster-0.25)*raster-0.2, 0), min((math.Ceil(now/raster+0.25)+0.25)*raster, 100)
}

// tick is a labelled or plain line of the axis.
type tick struct {
	X     string
	Label string // empty: a half step
	First bool   // at the left edge
	Last  bool   // at the right edge: the label ends there
}

// ticks are at most nine labelled lines on whole hours, or quarters on a
// short axis, with one plain line between.
func (a axis) ticks() []tick {
	span := a.to.Sub(a.from)
	if span <= 0 {
		return nil
	}
	step := 15 * time.Minute
	for _, s := range []time.Duration{30 * time.Minute, time.Hour, 2 * time.Hour, 3 * time.Hour, 6 * time.Hour, 24 * time.Hour} {
		if span/step <= 8 {
			break
		}
		step = s
	}
	loc := a.now.Location()
	var out []tick
	for t := a.from.In(loc).Truncate(step / 2); !t.After(a.to) && len(out) < 64; t = t.Add(step / 2) {
		if t.Before(a.from) {
			continue
		}
		k := tick{X: svgPercent(a.at(t)), First: a.at(t) < 1, Last: a.at(t) > 99}
		if t.Equal(t.Truncate(step)) {
			k.Label = t.Format("15:04")
		}
		out = append(out, k)
	}
	return out
}

// drawn is a stretch on the axis in SVG lengths.
type drawn struct {
	Kind  string
	X, W  string
	Label string
	Title string
	// LabelX and LabelW are where the label stands: beside the now line where
	// that runs through the stretch.
	LabelX, LabelW string
	Next, Late     bool
}

// placed is a text beside or on a strip.
type placed struct {
	X, W string
	// On is where it stands: "open" on the solid strip, "plate" on a plate of
	// its own, "bare" on the wall.
	On  string
	End bool // written towards its right edge
}

func width(text string) float64 { return float64(utf8.RuneCountInString(text))*charPercent + 1.2 }

// segments cuts a strip to the axis.
func (a axis) segments(strip []Segment) []drawn {
	var out []drawn
	for _, s := range strip {
		if x, w, ok := a.cut(s.From, s.To); ok {
			out = append(out, drawn{Kind: string(s.Kind), X: svgPercent(x), W: svgPercent(w)})
		}
	}
	return out
}

// stripText finds the place for a strip's text: on the solid part right of
// the now line, else left of the strip, else over what has passed, else on a
// plate from the now line on.
func (a axis) stripText(strip []Segment, text string) placed {
	end, start := a.beside()
	need, begin := width(text), 100.0
	for _, s := range strip {
		x, w, ok := a.cut(s.From, s.To)
		if !ok {
			continue
		}
		begin = min(begin, x)
		if s.Kind != SegOpen {
			continue
		}
		if from := max(x+0.5, start); x+w-from >= need {
			return span(from, x+w-from, "open", false)
		}
	}
	switch {
	case begin < end && begin-0.6 >= need:
		return span(0, begin-0.6, "bare", true)
	case end-begin >= need:
		return span(begin, end-begin, "plate", true)
	}
	return a.openText(need, "plate")
}

// openText places text that has no strip under it: left of the now line if
// it fits there, else right of it, else right of it and cut short.
func (a axis) openText(need float64, on string) placed {
	end, start := a.beside()
	if end-0.5 >= need && on == "bare" {
		return span(0.5, end-0.5, on, false)
	}
	if 100-start < need && end-0.5 > 100-start {
		return span(0.5, end-0.5, on, true)
	}
	return span(start, 100-start, on, false)
}

func span(x, w float64, on string, end bool) placed {
	return placed{X: svgPercent(x), W: svgPercent(w), On: on, End: end}
}

// layMark is the latest moment to lay, as a mark on the axis and its words.
type layMark struct {
	X      string
	Off    bool // beyond the axis: no mark
	Passed bool
	Text   placed
}

// layBy places the mark and its words: right of the mark where they fit,
// else left of it.
func (a axis) layBy(at time.Time, text string) layMark {
	x, need := a.at(at), width(text)+0.8
	m := layMark{X: svgPercent(x), Off: x > 100 || x < 0, Passed: at.Before(a.now)}
	_, start := a.beside()
	right := max(x+0.9, 0)
	if x < a.at(a.now) { // passed: the words stand after the now line
		right = max(right, start)
	}
	switch {
	case x > 100:
		left := min(max(start, 100-need), 100)
		m.Text = span(left, 100-left, "bare", true)
	case 100-right >= need || x-1.6-start < need:
		right = min(right, 100)
		m.Text = span(right, 100-right, "bare", false)
	default:
		m.Text = span(start, x-1.6-start, "bare", true)
	}
	return m
}

// blocks cuts a lane's bookings to the axis.
func (a axis) blocks(c clock, in []Block) []drawn {
	var out []drawn
	for _, b := range in {
		x, w, ok := a.cut(b.From, b.To)
		if !ok {
			continue
		}
		d := drawn{Kind: string(b.Kind), X: svgPercent(x), W: svgPercent(w), Label: b.Label, Next: b.Next, Late: b.Late}
		d.LabelX, d.LabelW = a.blockLabel(x, w, width(b.Label))
		d.Title = b.Label + ", " + c.At(b.From) + " to " + c.At(b.To)
		if b.Late {
			d.Title += ", late for its promise"
		}
		out = append(out, d)
	}
	return out
}

// blockLabel keeps a block's label off the now line: in the part right of
// it, else in the part left of it, else where there is no room in the whole.
func (a axis) blockLabel(x, w, need float64) (lx, lw string) {
	if now := a.at(a.now); now > x && now < x+w {
		end, start := a.beside()
		switch {
		case x+w-start >= need:
			x, w = start, x+w-start
		case end-x >= need:
			w = end - x
		}
	}
	return svgPercent(x), svgPercent(w)
}

// ring is the part of a circle of circumference 100 that is left.
func ring(now, until time.Time, whole time.Duration) string {
	if whole <= 0 {
		return "0"
	}
	part := 100 * float64(until.Sub(now)) / float64(whole)
	return strconv.FormatFloat(min(max(part, 0), 100), 'f', 1, 64)
}
