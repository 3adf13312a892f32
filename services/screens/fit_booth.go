package screens

import (
	"slices"
	"strings"
	"time"
	"unicode/utf8"
)

// Measures of the booth's screen in CSS pixels, as its style sheet sets them,
// at the size that it is made for: 1280 x 800.
const (
	boothHigh  = 800
	boothWide  = 1200 // between its margins
	listMargin = 24
)

// spacing is how closely the rows stand: the height of a row in CSS pixels.
type spacing struct {
	name string
	row  int
}

var spacings = []spacing{{"wide", 80}, {"close", 66}, {"tight", 48}}

// boothList is what the booth's screen shows of a load's seams.
type boothList struct {
	density string // the name of a spacing
	seams   []BoothSeam
	ready   readyRow // the ready ones in one row; N 0: each has its own
	more    moreRow  // those that have no row; N 0: none
}

// readyRow is the one row of all seams that are ready. The window that
// closes first counts.
type readyRow struct {
	N        int
	Names    string
	ClosesAt time.Time // zero: none of them closes
	First    string    // the seam that closes first
}

// moreRow names the seams that have no row of their own.
type moreRow struct {
	N            int
	Words, Names string
}

// fitBooth keeps the list above the foot of the screen: where not all rows
// fit, the ready seams go into one, then the rows stand closer, and what is
// left over is named in the last of them. The seams come in the order of what
// a person must do about them, so that the left over ones are those that only
// time is waited for.
func fitBooth(b Booth, said *Result) boothList {
	ready, other := parted(b.Seams)
	for _, s := range spacings {
		if len(b.Seams)*s.row <= boothFree(b, said, s) {
			return boothList{density: s.name, seams: b.Seams}
		}
		if len(ready) > 1 { // their one row is worth more than rows that stand closer
			break
		}
	}
	out := boothList{seams: other}
	lines := len(other)
	if len(ready) > 0 {
		lines, out.ready = lines+1, readyOf(ready)
	}
	room := 0
	for _, s := range spacings {
		out.density, room = s.name, boothFree(b, said, s)/s.row
		if lines <= room {
			return out
		}
	}
	if out.ready.N > 0 {
		room--
	}
	keep := min(max(room-1, 0), len(other))
	out.seams, out.more = other[:keep], moreOf(other[keep:])
	return out
}

func parted(seams []BoothSeam) (ready, other []BoothSeam) {
	for _, s := range seams {
		if s.State == SeamReady {
			ready = append(ready, s)
		} else {
			other = append(other, s)
		}
	}
	return ready, other
}

func readyOf(seams []BoothSeam) readyRow {
	r := readyRow{N: len(seams)}
	var names []string
	for _, s := range seams {
		names = append(names, s.Place)
		if !s.ClosesAt.IsZero() && (r.ClosesAt.IsZero() || s.ClosesAt.Before(r.ClosesAt)) {
			r.ClosesAt, r.First = s.ClosesAt, s.Place
		}
	}
	r.Names = strings.Join(names, " · ")
	return r
}

func moreOf(seams []BoothSeam) moreRow {
	m := moreRow{N: len(seams), Words: "not ready"}
	var names []string
	for _, s := range seams {
		names = append(names, s.Place)
	}
	if slices.ContainsFunc(seams, func(s BoothSeam) bool { return s.State == SeamHeld }) {
		m.Words = "not ready, some on hold"
	}
	m.Names = strings.Join(names, ", ")
	return m
}

// boothFree is the height that is left for seams between the head, with as
// many lines as its sentences need, and the foot.
func boothFree(b Booth, said *Result, s spacing) int {
	head := 37 + 67 + 37*linesOf(b.Gate.Sentence+strings.Repeat("x", clearLetters(b.Gate)), 66)
	if b.Warning != "" {
		head += 18 + 37*linesOf("Warning "+b.Warning, 58)
	}
	free := boothHigh - footOf(b) - listMargin - 40 - max(head, 186)
	if !b.Live { // the band over the page, beyond its first line
		free -= 16 + 30*(linesOf(strings.Repeat("x", 76)+b.Trouble, 124)-1)
	}
	reason, letters := [2]int{26, 32}, 98
	if s.name != spacings[0].name {
		reason, letters = [2]int{14, 29}, 106
	}
	for _, r := range b.Reasons {
		free -= reason[0] + reason[1]*linesOf(r.Text+" "+r.Do, letters)
	}
	if said != nil {
		free -= 48 + 30*(1+len(said.Findings))
	}
	if len(b.Loads) > 0 {
		letters, own := 0, 0
		for _, l := range b.Loads {
			n := utf8.RuneCountInString(l.ID+l.Vehicle+l.Colour+l.Note) + 18
			if l.Why != "" { // on lines of its own
				own += (n + 3 + utf8.RuneCountInString(l.Why) + 109) / 110
				continue
			}
			letters += n
		}
		free -= 18 + 30*(own+(letters+109)/110) + 4*own
	}
	return free
}

// footOf is the height of the foot: its buttons take the width that they need,
// and what the air's words have left gives their lines.
func footOf(b Booth) int {
	const letter, edge = 12, 72 // of a button's label, and around it
	wide := 0
	for _, p := range []*Button{b.Request, b.Start, b.Finish} {
		if p != nil {
			wide += max(letter*utf8.RuneCountInString(p.Label), 140) + edge
		}
	}
	if len(b.Else) > 0 {
		wide += 5*letter + edge
	}
	side := 200
	if b.Override != nil {
		side = max(side, letter*(1+utf8.RuneCountInString(b.Override.Label))+edge)
	}
	left := max(boothWide-wide-side-40, 120)
	air := utf8.RuneCountInString(b.Climate.Zone+b.Gun+b.Change) + 42
	if b.Change != "" || b.Climate.Stale {
		air += 18
	}
	return 36 + max(118, 26*lines(air*9, left)+4+24*lines(108*8, left))
}

// lines is how many lines so many pixels of text take in so narrow a column.
func lines(text, column int) int { return (text + text/12 + column - 1) / column }

// clearLetters is about how long the words on when it will be clear are.
func clearLetters(g Gate) int {
	n := 0
	if !g.ClearAt.IsZero() {
		n += 16 + len(g.If)
	}
	if !g.MaybeFrom.IsZero() {
		n += 28
	}
	if !g.Until.IsZero() {
		n += 14
	}
	return n
}

// linesOf is how many lines a text takes at so many letters a line.
func linesOf(text string, letters int) int {
	return max((utf8.RuneCountInString(text)+letters-1)/letters, 1)
}
