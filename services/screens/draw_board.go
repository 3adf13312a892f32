package screens

import (
	"slices"
	"strings"
	"time"
)

// The wall's heights in rem, as the style sheet sets them: the wall is 45 rem
// high, and what its head, axis and key leave is for lanes, jobs and seams.
// Where those would overflow, the seams of a job that ask for nothing are
// told in one line.
const (
	wallFree  = 34.4
	laneHigh  = 2.1
	rowLarge  = 1.66 // a job or a seam
	jobLarge  = 0.74 // more for each job
	rowSmall  = 1.36
	jobSmall  = 0.36
	laneSpace = 0.6
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
		d.draw("board-top", "top", b),
		d.group("board-gates", "gates", len(b.Gates), d.gates(b.Gates)),
		d.draw("board-axis", "axis", map[string]any{"Ticks": a.ticks()}),
		d.drawRunning("board-now", "nowline", nowLine{a, stamp(b.From), stamp(b.To), off(a, b.Now)}),
		d.lanes(a, b.Lanes),
		d.jobs(a, b.Jobs, len(b.Lanes)),
	}
	return finish(d, r, b.Picture, "Board", "board-body", parts)
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

func (d *drawer) lanes(a axis, lanes []Lane) part {
	kids := make([]part, 0, len(lanes))
	for _, l := range lanes {
		kids = append(kids, d.draw("board-lane", domID("lane", l.Booth), map[string]any{
			"Name": l.Name, "Blocks": a.blocks(d.frame.clock, l.Blocks),
		}))
	}
	return d.group("board-lanes", "lanes", nil, kids)
}

func (d *drawer) jobs(a axis, jobs []Job, lanes int) part {
	jobs, density := fit(jobs, wallFree-laneSpace-laneHigh*float64(lanes))
	var kids []part
	for _, j := range jobs {
		rows := make([]part, 0, len(j.Seams)+1)
		rows = append(rows, d.draw("board-job", domID("jobhead", j.RO), j))
		for _, s := range j.Seams {
			rows = append(rows, d.draw("board-row", domID("row", s.ID), d.row(a, s)))
		}
		kids = append(kids, d.group("board-jobgroup", domID("job", j.RO), j.RO+" "+j.Vehicle, rows))
	}
	return d.group("board-jobs", "jobs", density, kids)
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

// fit folds seams of each job with the same mark into one line where they
// would not go into the free height, the finished ones first and those to be
// laid or painted last, and picks the size of type. What fits in no way is dense, and the page scrolls.
func fit(jobs []Job, free float64) (out []Job, density string) {
	order := []Mark{MarkFinished, MarkCoated, MarkTodo, MarkLay, MarkOpen}
	for n := range len(order) + 1 {
		quiet := order[:n]
		out = nil
		rows := 0
		for _, j := range jobs {
			j.Seams = foldQuiet(j, quiet)
			out = append(out, j)
			rows += 1 + len(j.Seams)
		}
		if float64(rows)*rowLarge+float64(len(out))*jobLarge <= free {
			return out, "large"
		}
		if float64(rows)*rowSmall+float64(len(out))*jobSmall <= free {
			return out, "small"
		}
	}
	return out, "dense"
}

// foldQuiet puts two or more seams with a quiet mark into one line each.
func foldQuiet(j Job, quiet []Mark) []SeamRow {
	if len(quiet) == 0 {
		return j.Seams
	}
	names := map[Mark][]string{}
	for _, s := range j.Seams {
		names[s.Mark] = append(names[s.Mark], s.Place)
	}
	fold := func(m Mark) bool {
		for _, q := range quiet {
			if m == q && len(names[m]) > 1 {
				return true
			}
		}
		return false
	}
	var out []SeamRow
	told := map[Mark]bool{}
	for _, s := range j.Seams {
		if !fold(s.Mark) {
			out = append(out, s)
			continue
		}
		if told[s.Mark] {
			continue
		}
		told[s.Mark] = true
		out = append(out, folded(j, s.Mark, names[s.Mark]))
	}
	return out
}

// folded is the one line of all seams of a job with the same mark. It tells
// the time of the one that presses most: to be laid first, closing first.
func folded(j Job, m Mark, names []string) SeamRow {
	out := SeamRow{ID: j.RO + "." + string(m), Place: foldedName(m, len(names)), Mark: m}
	all := strings.Join(names, " · ")
	for _, s := range j.Seams {
		switch {
		case s.Mark != m:
			continue
		case m == MarkLay && s.LayBy != nil && (out.LayBy == nil || s.LayBy.At.Before(out.LayBy.At)):
			out.LayBy = &LayBy{At: s.LayBy.At, Text: "· " + s.Place + " first, then " + without(names, s.Place)}
		case m == MarkOpen && (out.Strip == nil || closes(s.Strip).Before(closes(out.Strip))):
			out.Strip, out.Text = s.Strip, s.Text
		}
		out.Stage = s.Stage
	}
	if out.LayBy == nil && out.Strip == nil {
		out.Note = all
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

// closes is when a strip may be closed; far off where it never is.
func closes(strip []Segment) time.Time {
	for _, g := range strip {
		if g.Kind == SegClosing || g.Kind == SegClosed {
			return g.From
		}
	}
	return time.Unix(1<<40, 0)
}

func foldedName(m Mark, n int) string {
	words := map[Mark]string{MarkCoated: "painted", MarkFinished: "finished", MarkTodo: "not begun", MarkLay: "to lay", MarkOpen: "open for paint"}
	return amountOf(n, "seam") + " " + words[m]
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
