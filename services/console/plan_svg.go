package console

import (
	"fmt"
	"html"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"seamwright/services/calc/plan"
	"seamwright/services/calc/quantity"
)

// Sizes of the drawing in px. A letter is reckoned at its usual width; text
// that does not fit is not drawn over its neighbours.
const (
	svgLeft, svgWide, svgRight = 136, 1060, 30
	svgBooth, svgCrew, svgLane = 62, 26, 17 // heights of rows
	svgLetter                  = 6.9
)

// drawing is a plan drawn strip by strip: all of it side by side when it is
// short, else a strip a day, so that loads stay wide enough for their names.
type drawing struct {
	p     *plan.Problem
	got   *plan.Plan
	strip strip
	y     int
	out   []string
	bare  []string // loads too short for their name
}

// strip is a stretch of time across the drawing.
type strip struct{ from, to time.Time }

// planDrawing draws a plan as SVG 1.1: a title, what the marks mean, and for
// each strip of time an axis with its date, what is due, a row a booth, and a
// row for each person that a crew needs.
func planDrawing(p *plan.Problem, got *plan.Plan) []string {
	d := &drawing{p: p, got: got, y: 24}
	title := "Plan of the paint booths from " + p.Start.UTC().Format("2 Jan 2006 15:04") + " UTC"
	d.text(8, d.y, `font-size="18" font-weight="bold"`, title)
	d.y += 20
	d.text(8, d.y, "", d.summary())
	d.y += 12
	d.legend()
	for _, s := range strips(p, got) {
		d.strip = s
		d.drawStrip()
	}
	d.notes()
	wide := svgLeft + svgWide + svgRight
	head := []string{
		fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" width="%d" height="%d" viewBox="0 0 %d %d" font-family="sans-serif" font-size="12">`, wide, d.y+10, wide, d.y+10),
		"<title>" + html.EscapeString(title) + "</title>",
		`<defs><pattern id="setup" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect width="6" height="6" fill="#ececec"/><path d="M0 0V6" stroke="#808080" stroke-width="2"/></pattern>`,
		`<pattern id="missed" width="8" height="8" patternUnits="userSpaceOnUse" patternTransform="rotate(-45)"><rect width="8" height="8" fill="#ffd0c4"/><path d="M0 0V8" stroke="#e08070" stroke-width="2"/></pattern></defs>`,
		`<rect width="100%" height="100%" fill="#ffffff"/>`,
	}
	return append(append(head, d.out...), "</svg>")
}

// summary is what a plan comes to in one line.
func (d *drawing) summary() string {
	late, missed, none := 0, 0, 0
	for _, l := range d.got.Loads {
		switch {
		case !l.Placed():
			none++
		case l.Missed:
			missed++
		case l.LateMin > 0:
			late++
		}
	}
	return fmt.Sprintf("%d loads: %d late, %d with a missed window, %d without a place; cost %s; times in UTC", len(d.got.Loads), late, missed, none, quantity.Round(d.got.Objective, 2))
}

// mostAcross is the longest plan that is drawn in one strip.
const mostAcross = 16 * time.Hour

// strips cuts the time of a plan into stretches to be drawn below each other.
func strips(p *plan.Problem, got *plan.Plan) []strip {
	from, to := extent(p, got)
	from = from.Truncate(time.Hour)
	for _, l := range p.Loads {
		if l.Due.After(to) && l.Due.Sub(from) < mostAcross {
			to = l.Due
		}
	}
	to = to.Truncate(time.Hour).Add(time.Hour)
	if to.Sub(from) <= mostAcross {
		return []strip{{from, to}}
	}
	const day = 24 * time.Hour
	var days []time.Time
	begin, end := day, time.Duration(0) // of a day
	span := func(a, b time.Time, makes bool) {
		for t := a.Truncate(day); !t.After(b); t = t.Add(day) {
			if makes && !slices.Contains(days, t) {
				days = append(days, t)
			}
			if slices.Contains(days, t) {
				begin, end = min(begin, max(a.Sub(t), 0)), max(end, min(b.Sub(t), day))
			}
		}
	}
	for _, l := range got.Loads {
		if l.Placed() && l.End.After(l.SetupStart) {
			span(l.SetupStart, l.End.Add(-1), true)
		}
	}
	for _, t := range got.Tasks {
		if t.End.After(t.Start) {
			span(t.Start, t.End.Add(-1), true)
		}
	}
	for _, l := range p.Loads {
		if !l.Due.IsZero() && !l.Due.Before(from) && !l.Due.After(to) {
			span(l.Due, l.Due, false)
		}
	}
	slices.SortFunc(days, time.Time.Compare)
	begin, end = begin.Truncate(time.Hour), min(day, end.Truncate(time.Hour)+time.Hour)
	var out []strip
	for _, t := range days {
		out = append(out, strip{t.Add(begin), t.Add(end)})
	}
	return out
}

func (d *drawing) drawStrip() {
	d.y += 34
	d.text(8, d.y, `font-weight="bold"`, d.strip.from.UTC().Format("Mon 2 Jan 2006"))
	top := d.y + 4
	at := len(d.out)
	d.due()
	for _, b := range d.p.Booths {
		d.booth(b)
	}
	for _, c := range d.p.Crews {
		d.crew(c)
	}
	d.out = slices.Insert(d.out, at, d.axis(top)...)
}

// axis draws the hours of a strip behind what is in it.
func (d *drawing) axis(top int) []string {
	var out []string
	step := time.Hour
	for d.strip.to.Sub(d.strip.from)/step > 16 {
		step *= 2
	}
	for t := d.strip.from; !t.After(d.strip.to); t = t.Add(step) {
		text := t.UTC().Format("15:04")
		if t.UTC().Hour() == 0 && !t.Equal(d.strip.from) && t.Before(d.strip.to) {
			text = t.UTC().Format("2 Jan 15:04")
		}
		out = append(out, fmt.Sprintf(`<path d="M%.1f %dV%d" stroke="#c8c8c8"/><text x="%.1f" y="%d" text-anchor="middle" fill="#404040">%s</text>`,
			d.x(t), top, d.y, d.x(t), top-5, text))
	}
	return out
}

func (d *drawing) x(t time.Time) float64 {
	return svgLeft + t.Sub(d.strip.from).Seconds()*svgWide/d.strip.to.Sub(d.strip.from).Seconds()
}

func (d *drawing) text(x float64, y int, style, text string) {
	d.out = append(d.out, fmt.Sprintf(`<text x="%.1f" y="%d" fill="#101010" %s>%s</text>`, x, y, style, html.EscapeString(text)))
}

// notes are what the strips do not show.
func (d *drawing) notes() {
	var none []string
	for _, l := range d.got.Loads {
		if !l.Placed() {
			none = append(none, l.ID+" ("+strings.TrimPrefix(l.Why, "no place: ")+")")
		}
	}
	d.list("Without a place: ", none)
	d.list("Too short here for their names: ", d.bare)
}

// list writes a list below the strips, over as many lines as it takes.
func (d *drawing) list(what string, items []string) {
	if len(items) == 0 {
		return
	}
	const most = (svgLeft + svgWide) / 7
	d.y += 26
	line := what
	for i, s := range items {
		if i < len(items)-1 {
			s += "; "
		}
		if utf8.RuneCountInString(line+s) > most && line != "" {
			d.text(8, d.y, "", line)
			d.y += 16
			line = ""
		}
		line += s
	}
	d.text(8, d.y, "", fit(line, most))
}

// fit cuts a text to so many letters.
func fit(s string, most int) string {
	if r := []rune(s); len(r) > most {
		return string(r[:max(most-1, 0)]) + "…"
	}
	return s
}
