package console

import (
	"fmt"
	"html"
	"strings"
	"time"

	"seamwright/services/calc/plan"
)

// Sizes of the drawing in px.
const (
	svgLeft, svgTop, svgRow, svgWide = 110, 40, 44, 1000
)

// drawing is a timeline of booths and crews.
type drawing struct {
	from  time.Time
	scale float64 // px a second
	out   []string
	row   int
}

// planDrawing draws a plan as SVG 1.1: a row a booth, then a row for each
// person that a crew needs.
func planDrawing(p *plan.Problem, got *plan.Plan) []string {
	from, to := extent(p, got)
	from = from.Truncate(time.Hour)
	to = to.Add(time.Hour - 1).Truncate(time.Hour)
	if !from.Before(to) {
		to = from.Add(time.Hour)
	}
	d := &drawing{from: from, scale: svgWide / to.Sub(from).Seconds()}
	for _, b := range p.Booths {
		d.booth(p, got, b, to)
	}
	for _, c := range p.Crews {
		d.crew(p, got, c)
	}
	high := svgTop + d.row*svgRow + 10
	head := []string{
		fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" width="%d" height="%d" viewBox="0 0 %d %d" font-family="sans-serif" font-size="12">`,
			svgLeft+svgWide+20, high, svgLeft+svgWide+20, high),
		fmt.Sprintf(`<title>Plan of the paint booths from %s</title>`, moment(p.Start)),
		`<rect width="100%" height="100%" fill="#ffffff"/>`,
	}
	head = append(head, d.axis(to, high)...)
	return append(append(head, d.out...), "</svg>")
}

func (d *drawing) x(t time.Time) float64 { return svgLeft + t.Sub(d.from).Seconds()*d.scale }

func (d *drawing) axis(to time.Time, high int) []string {
	var out []string
	step := time.Hour
	for to.Sub(d.from)/step > 16 {
		step *= 2
	}
	for t := d.from; !t.After(to); t = t.Add(step) {
		text := t.UTC().Format("15:04")
		if t.UTC().Hour() == 0 || t.Equal(d.from) {
			text = t.UTC().Format("2 Jan 15:04")
		}
		out = append(out, fmt.Sprintf(`<path d="M%.1f %dV%d" stroke="#c8c8c8"/><text x="%.1f" y="%d" text-anchor="middle" fill="#404040">%s</text>`,
			d.x(t), svgTop-6, high-6, d.x(t), svgTop-12, text))
	}
	return out
}

// bar draws one stretch of time with a text in it and a longer one when it is
// pointed at.
func (d *drawing) bar(from, to time.Time, style, text, title string) {
	x, w := d.x(from), max(d.x(to)-d.x(from), 1)
	y := svgTop + d.row*svgRow + 4
	d.out = append(d.out, fmt.Sprintf(`<g><title>%s</title><rect x="%.1f" y="%d" width="%.1f" height="%d" %s/>`,
		html.EscapeString(title), x, y, w, svgRow-8, style))
	if text != "" && w > 6.5*float64(len(text)) {
		d.out = append(d.out, fmt.Sprintf(`<text x="%.1f" y="%d" fill="#101010">%s</text>`, x+4, y+22, html.EscapeString(text)))
	}
	d.out = append(d.out, "</g>")
}

func (d *drawing) label(text string) {
	d.out = append(d.out, fmt.Sprintf(`<text x="8" y="%d" fill="#101010">%s</text>`, svgTop+d.row*svgRow+26, html.EscapeString(text)))
}

// Fills: never colour alone, a late or missed load says so in words and has a
// heavy dashed edge.
const (
	svgOpen  = `fill="#f0f4f0"`
	svgSetup = `fill="#d9d9d9" stroke="#808080"`
	svgLoad  = `fill="#bcd7f0" stroke="#204060"`
	svgLate  = `fill="#ffd9a0" stroke="#803000" stroke-width="2" stroke-dasharray="5 3"`
	svgTask  = `fill="#d8e8c8" stroke="#305020"`
)

func (d *drawing) booth(p *plan.Problem, got *plan.Plan, b plan.Booth, to time.Time) {
	d.label(b.ID)
	for _, o := range b.Open {
		if o.To.After(d.from) && o.From.Before(to) {
			from, until := o.From, o.To
			if from.Before(d.from) {
				from = d.from
			}
			if until.After(to) {
				until = to
			}
			d.bar(from, until, svgOpen, "", "open "+short(p.Start, o.From)+" to "+short(p.Start, o.To))
		}
	}
	for _, l := range got.Loads {
		if l.Booth != b.ID {
			continue
		}
		if l.SetupStart.Before(l.Start) {
			d.bar(l.SetupStart, l.Start, svgSetup, "", "setup for "+l.ID)
		}
		style, words := svgLoad, []string{l.ID, p.Loads[l.Index].Colour}
		if l.Missed {
			style, words = svgLate, append(words, "missed")
		}
		if l.LateMin > 0 {
			style, words = svgLate, append(words, "late")
		}
		d.bar(l.Start, l.End, style, strings.Join(words, " "),
			fmt.Sprintf("%s %s to %s: %s", strings.Join(words, " "), short(p.Start, l.Start), short(p.Start, l.End), l.Why))
	}
	d.row++
}

// crew draws tasks, each in the first row of its crew that is free.
func (d *drawing) crew(p *plan.Problem, got *plan.Plan, c plan.Crew) {
	var free []time.Time
	first := d.row
	for _, t := range got.Tasks { // by start
		task := p.Tasks[t.Index]
		if task.Crew != c.ID || t.Start.IsZero() {
			continue
		}
		k := 0
		for ; k < len(free) && free[k].After(t.Start); k++ {
		}
		if k == len(free) {
			free = append(free, t.End)
		}
		free[k] = t.End
		d.row = first + k
		d.bar(t.Start, t.End, svgTask, t.ID, fmt.Sprintf("%s for %s: %s to %s, start by %s", t.ID, task.Load, short(p.Start, t.Start), short(p.Start, t.End), short(p.Start, t.LatestStart)))
	}
	d.row = first
	if len(free) > 0 {
		d.label(c.ID)
		d.row += len(free)
	}
}
