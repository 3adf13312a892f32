package console

import (
	"fmt"
	"html"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"seamwright/services/calc/plan"
)

// Styles of what is drawn. None is told by its colour alone: setups and missed
// loads are hatched, late and missed ones have a heavy broken edge and say so
// where there is room, frozen ones have a bar at their left edge.
const (
	svgOpen   = `fill="#eef3ee"`
	svgSetup  = `fill="url(#setup)" stroke="#808080"`
	svgLoad   = `fill="#bcd7f0" stroke="#204060"`
	svgLate   = `fill="#ffd9a0" stroke="#803000" stroke-width="2" stroke-dasharray="5 3"`
	svgMissed = `fill="url(#missed)" stroke="#800000" stroke-width="2" stroke-dasharray="5 3"`
	svgTask   = `fill="#d8e8c8" stroke="#305020"`
	svgFrozen = `fill="#101010"`
	svgDue    = `fill="#5a2080"`
)

// legend says what the marks mean.
func (d *drawing) legend() {
	d.y += 8
	x := 8.0
	for _, s := range []struct{ style, text string }{
		{svgOpen + ` stroke="#a0b0a0"`, "booth open"},
		{svgSetup, "setup"},
		{svgLoad, "load"},
		{svgLate, "late"},
		{svgMissed, "window missed"},
		{svgFrozen, "frozen"},
		{svgTask, "work before"},
		{"", "car due, with the loads"},
	} {
		switch {
		case s.style == "":
			d.flag(x+13, d.y+3)
		case s.text == "frozen":
			d.out = append(d.out, fmt.Sprintf(`<rect x="%.1f" y="%d" width="26" height="15" %s/><rect x="%.1f" y="%d" width="5" height="15" %s/>`, x, d.y, svgLoad, x, d.y, s.style))
		default:
			d.out = append(d.out, fmt.Sprintf(`<rect x="%.1f" y="%d" width="26" height="15" %s/>`, x, d.y, s.style))
		}
		d.text(x+32, d.y+12, "", s.text)
		x += 32 + svgLetter*float64(len(s.text)) + 22
	}
	d.y += 16
}

// flag marks a moment at which something is due.
func (d *drawing) flag(x float64, y int) {
	d.out = append(d.out, fmt.Sprintf(`<path d="M%.1f %dl-5 -7h10z" %s/>`, x, y+9, svgDue))
}

// due draws what is due in a strip: a mark a moment with the loads of the
// cars that are due then, in as many lanes as they need.
func (d *drawing) due() {
	byTime := map[int64][]string{}
	var order []time.Time
	for _, l := range d.p.Loads {
		if l.Due.IsZero() || l.Due.Before(d.strip.from) || l.Due.After(d.strip.to) {
			continue
		}
		if _, known := byTime[l.Due.UnixNano()]; !known {
			order = append(order, l.Due)
		}
		byTime[l.Due.UnixNano()] = append(byTime[l.Due.UnixNano()], l.ID)
	}
	if len(order) == 0 {
		return
	}
	slices.SortFunc(order, time.Time.Compare)
	d.label("due", svgLane)
	var free []float64 // by lane, from where on it is
	for _, t := range order {
		ids := byTime[t.UnixNano()]
		text := fit(strings.Join(ids, ", "), 60)
		w := svgLetter*float64(utf8.RuneCountInString(text)) + 10
		x, anchor := d.x(t), "start"
		left, right := x-6, x+8+w
		if right > svgLeft+svgWide+svgRight { // towards the left at the right edge
			left, right, anchor = x-8-w, x+6, "end"
		}
		k := 0
		for ; k < len(free) && free[k] > left; k++ {
		}
		if k == len(free) {
			free = append(free, 0)
		}
		free[k] = right
		y := d.y + 4 + k*svgLane
		d.out = append(d.out, fmt.Sprintf(`<g><title>%s</title>`, html.EscapeString("due at "+short(d.strip.from, t)+": "+strings.Join(ids, ", "))))
		d.flag(x, y)
		shift := 8.0
		if anchor == "end" {
			shift = -8
		}
		d.out = append(d.out, fmt.Sprintf(`<text x="%.1f" y="%d" text-anchor="%s" fill="#5a2080">%s</text></g>`, x+shift, y+11, anchor, html.EscapeString(text)))
	}
	d.y += 6 + len(free)*svgLane
}

func (d *drawing) label(text string, high int) {
	d.text(8, d.y+high/2+5, "", fit(text, (svgLeft-12)/7))
}

// box is a stretch of time in a row.
type box struct {
	from, to     time.Time
	style, title string
	name, more   string // text in it: more stands below, or not at all
	frozen       bool
}

// bar draws a box as far as it lies in the strip. It reports whether its name
// found room.
func (d *drawing) bar(b box, high int) bool {
	if !b.to.After(d.strip.from) || !b.from.Before(d.strip.to) {
		return true
	}
	from, to := b.from, b.to
	if from.Before(d.strip.from) {
		from = d.strip.from
	}
	if to.After(d.strip.to) {
		to = d.strip.to
	}
	x, w, y := d.x(from), max(d.x(to)-d.x(from), 1), d.y+3
	high -= 6
	d.out = append(d.out, fmt.Sprintf(`<g><title>%s</title><rect x="%.1f" y="%d" width="%.1f" height="%d" %s/>`, html.EscapeString(b.title), x, y, w, high, b.style))
	if b.frozen {
		d.out = append(d.out, fmt.Sprintf(`<rect x="%.1f" y="%d" width="%.1f" height="%d" %s/>`, x, y, min(5, w/3), high, svgFrozen))
	}
	ok := b.name == "" || d.words(b, x, w, y, high)
	d.out = append(d.out, "</g>")
	return ok
}

// words writes a box's name across it, upwards where it is narrow, or cut
// short; what stands below the name only where there is room.
func (d *drawing) words(b box, x, w float64, y, high int) bool {
	const edge = 6
	if b.frozen {
		x, w = x+5, w-5
	}
	across, up := int((w-2*edge)/svgLetter), int(float64(high-6)/svgLetter)
	long := utf8.RuneCountInString(b.name)
	switch {
	case across >= long && high < 40:
		d.text(x+edge, y+high/2+4, "", b.name)
	case across >= long:
		d.text(x+edge, y+high/2-4, `font-weight="bold"`, b.name)
		if across >= 4 {
			d.text(x+edge, y+high/2+13, "", fit(b.more, across))
		}
	case w >= 14 && (up >= long || up >= 6):
		d.out = append(d.out, fmt.Sprintf(`<text transform="translate(%.1f %d) rotate(-90)" fill="#101010" font-weight="bold">%s</text>`, x+w/2+4, y+high-4, html.EscapeString(fit(b.name, up))))
		return up >= long
	default:
		return false
	}
	return true
}

func (d *drawing) booth(b plan.Booth) {
	d.label(b.ID, svgBooth)
	for _, o := range b.Open {
		d.bar(box{from: o.From, to: o.To, style: svgOpen, title: "open " + short(d.p.Start, o.From) + " to " + short(d.p.Start, o.To)}, svgBooth)
	}
	for _, l := range d.got.Loads {
		if l.Booth != b.ID {
			continue
		}
		if l.SetupStart.Before(l.Start) {
			d.bar(box{from: l.SetupStart, to: l.Start, style: svgSetup, title: "setup for " + l.ID}, svgBooth)
		}
		x := box{from: l.Start, to: l.End, style: svgLoad, name: l.ID, more: d.p.Loads[l.Index].Colour, frozen: d.p.Loads[l.Index].Frozen != nil}
		switch {
		case l.Missed:
			x.style, x.more = svgMissed, x.more+", missed"
		case l.LateMin > 0:
			x.style, x.more = svgLate, x.more+", late"
		}
		if x.frozen {
			x.more += ", frozen"
		}
		x.title = fmt.Sprintf("%s %s %s to %s: %s", l.ID, x.more, short(d.p.Start, l.Start), short(d.p.Start, l.End), l.Why)
		if !d.bar(x, svgBooth) {
			d.bare = append(d.bare, fmt.Sprintf("%s in %s at %s", l.ID, b.ID, short(d.p.Start, l.Start)))
		}
	}
	d.y += svgBooth
}

// crew draws tasks, each in the first row of its crew that is free.
func (d *drawing) crew(c plan.Crew) {
	var free []time.Time
	top := d.y
	for _, t := range d.got.Tasks { // by start
		task := d.p.Tasks[t.Index]
		if task.Crew != c.ID || t.Start.IsZero() || !t.End.After(d.strip.from) || !t.Start.Before(d.strip.to) {
			continue
		}
		k := 0
		for ; k < len(free) && free[k].After(t.Start); k++ {
		}
		if k == len(free) {
			free = append(free, t.End)
		}
		free[k] = t.End
		d.y = top + k*svgCrew
		title := fmt.Sprintf("%s for %s: %s to %s, start by %s", t.ID, task.Load, short(d.p.Start, t.Start), short(d.p.Start, t.End), short(d.p.Start, t.LatestStart))
		d.bar(box{from: t.Start, to: t.End, style: svgTask, title: title, name: t.ID}, svgCrew)
	}
	d.y = top
	if len(free) > 0 {
		d.label(c.ID, svgCrew)
		d.y += len(free) * svgCrew
	}
}
