package screens

import (
	"strings"
	"time"
)

// boardRow is a seam with its places on the axis worked out.
type boardRow struct {
	SeamRow
	Segs  []drawn
	Words placed
	Lay   *layMark
	Desc  string
}

// drawBoard draws the wall.
func drawBoard(b Board, r ref) (page, error) {
	d := newDrawer(r, b.Picture)
	a := axis{b.From, b.To, b.Now}
	parts := []part{
		d.fault(b.Picture),
		d.draw("board-top", "top", boardTop{b.Shop, d.air(b.Climate), len(b.Faults) > 0}),
		d.group("board-gates", "gates", len(b.Gates), d.gates(b.Gates)),
		d.draw("board-axis", "axis", map[string]any{"Ticks": a.ticks()}),
		d.drawRunning("board-now", "nowline", nowLine{a, stamp(b.From), stamp(b.To), off(a, b.Now)}),
		d.lanes(a, b),
		d.jobs(a, b.Jobs, laneRows(b)),
	}
	return finish(d, r, b.Picture, "Board", "board-body", parts)
}

// boardTop is the wall's corner: the shop, its air, and whether it is live.
type boardTop struct {
	Shop  string
	Air   []airWords
	Fault bool // the band over the page tells it
}

type airWords struct {
	Text  string
	Stale bool
}

// air is the air of the bays in few words: those that nobody has a reading of
// stand together, and first.
func (d *drawer) air(zones []Climate) (out []airWords) {
	var unread []string
	for _, z := range zones {
		if z.TempC == nil {
			unread = append(unread, z.Zone)
			continue
		}
		w := airWords{z.Zone + " " + temp(z.TempC), z.Stale}
		if rh := humid(z.RHPercent); rh != "" {
			w.Text += " " + rh
		}
		if z.Stale {
			w.Text += " (" + d.frame.clock.Ago(z.ReadAt) + ")"
		}
		out = append(out, w)
	}
	if len(unread) > 0 {
		out = append([]airWords{{"no reading of " + strings.Join(unread, ", "), true}}, out...)
	}
	return out
}

// nowLine is the line of now, for the script that moves it.
type nowLine struct {
	Axis     axis
	From, To string
	Off      string
}

func off(a axis, now time.Time) string {
	if x := a.at(now); x < 0 || x > 100 {
		return "off"
	}
	return ""
}

func (d *drawer) gates(gates []Gate) []part {
	kids := make([]part, 0, len(gates))
	for _, g := range gates {
		kids = append(kids, d.draw("board-gate", domID("gate", g.Booth), g))
	}
	return kids
}

// laneRows is how many rows of a lane's height stand over the cars.
func laneRows(b Board) int {
	if len(b.Plan) > 0 {
		return len(b.Lanes) + 1
	}
	return len(b.Lanes)
}

func (d *drawer) lanes(a axis, b Board) part {
	kids := make([]part, 0, laneRows(b))
	for _, l := range b.Lanes {
		kids = append(kids, d.draw("board-lane", domID("lane", l.Booth), map[string]any{
			"Name": l.Name, "Order": l.Order, "Blocks": a.blocks(d.frame.clock, l.Blocks),
		}))
	}
	if len(b.Plan) > 0 {
		kids = append(kids, d.draw("board-plan", "plan-words", b.Plan))
	}
	return d.group("board-lanes", "lanes", nil, kids)
}

func (d *drawer) jobs(a axis, jobs []Job, lanes int) part {
	w := fit(jobs, wallFree-laneSpace-laneHigh*float64(lanes), d.frame.clock)
	var kids []part
	for _, j := range w.jobs {
		rows := make([]part, 0, len(j.Seams)+1)
		rows = append(rows, d.draw("board-job", domID("jobhead", j.RO), j))
		for _, s := range j.Seams {
			rows = append(rows, d.draw("board-row", domID("row", s.ID), d.row(a, s)))
		}
		kids = append(kids, d.group("board-jobgroup", domID("job", j.RO), j.RO+" "+j.Vehicle, rows))
	}
	if len(w.left) > 0 {
		kids = append(kids, d.draw("board-more", "more-cars", moreCars(w.left)))
	}
	return d.group("board-jobs", "jobs", w.density, kids)
}

// row works out where a seam's strip, mark and words stand.
func (d *drawer) row(a axis, s SeamRow) boardRow {
	r := boardRow{SeamRow: s, Segs: a.segments(s.Strip), Desc: d.describe(s)}
	switch {
	case s.Hold != "":
		r.Words = a.openText(width("HOLD "+s.Hold)+2, "bar")
	case len(s.Strip) > 0:
		r.Words = a.stripText(s.Strip, s.Text)
	case s.LayBy != nil:
		m := a.layBy(s.LayBy.At, d.layWords(s.LayBy))
		r.Lay = &m
	default:
		r.Words = a.openText(width(s.Note+s.Text), "bare")
	}
	return r
}

// LayWords are the words beside a lay-by mark.
func (f frame) LayWords(l *LayBy) string {
	if l.At.Before(f.now) {
		return strings.TrimSpace("late: lay by " + f.At(l.At) + " " + l.Text)
	}
	return strings.TrimSpace("lay by " + f.At(l.At) + " " + l.Text)
}

func (d *drawer) layWords(l *LayBy) string { return d.frame.LayWords(l) }

// describe puts a strip into words for those who do not see it.
func (d *drawer) describe(s SeamRow) string {
	c := d.frame.clock
	var w []string
	for _, g := range s.Strip {
		switch g.Kind {
		case SegNotReady:
			w = append(w, "not ready until "+c.At(g.To))
		case SegOpening:
			w = append(w, "may be ready from "+c.At(g.From)+", surely from "+c.At(g.To))
		case SegOpen:
			if g.To.IsZero() {
				w = append(w, "open for paint from "+c.At(g.From))
				continue
			}
			w = append(w, "open for paint "+c.At(g.From)+" to "+c.At(g.To))
		case SegClosing:
			w = append(w, "may have closed from "+c.At(g.From))
		case SegClosed:
			w = append(w, "closed from "+c.At(g.From)+", scuff first")
		}
	}
	return strings.Join(w, "; ")
}

// markWord is what a mark says in one or two words.
func markWord(m Mark) string {
	words := map[Mark]string{
		MarkTodo: "not begun", MarkLay: "to lay", MarkFlowing: "not ready", MarkOpen: "window open",
		MarkClosed: "window closed", MarkHold: "on hold", MarkCoated: "painted", MarkFinished: "finished",
	}
	if w, ok := words[m]; ok {
		return w
	}
	return "unknown"
}
