package screens

import (
	"fmt"
	"slices"
	"strings"
)

// The wall's heights in rem, as the style sheet sets them: the wall is 45 rem
// high, and what its head, axis and key leave is for lanes, jobs and seams.
const (
	wallFree  = 35.4
	laneHigh  = 2.1
	laneSpace = 0.6
)

// density is how closely the rows of the wall stand, with the heights in rem
// of a row and of what each job takes beside its rows.
type density struct {
	name     string
	row, job float64
}

var (
	large = density{"large", 1.66, 0.74}
	small = density{"small", 1.36, 0.37}
	dense = density{"dense", 1.2, 0.37}
)

func (d density) high(jobs []Job) float64 {
	rows := 0
	for _, j := range jobs {
		rows += 1 + len(j.Seams)
	}
	return float64(rows)*d.row + float64(len(jobs))*d.job
}

// wall is what the wall shows of the cars in work.
type wall struct {
	jobs    []Job
	left    []Job // whole cars that it has no room for
	density string
}

// stage is one way to draw the wall: which seams of a car go into one line,
// and how closely the rows stand.
type stage struct {
	folded []fold
	apart  bool // the last fold spares the cars that a booth waits for next
	density
}

// stages are tried in turn until one fits. Each tells less than the one
// before or tells it smaller, and which one it is hangs on the number of
// seams with each mark alone: it stays while the clock runs, and a seam more
// never brings back what was folded for a seam less.
var stages = func() []stage {
	out := []stage{{density: large}}
	for n, f := range folds {
		d := large
		if n >= 3 { // before a seam that asks for something loses its row, the type gives way
			d = small
		}
		if n == 3 {
			out = append(out, stage{folded: folds[:n], density: small})
		}
		if f == foldFlowing {
			out = append(out, stage{folded: folds[:n+1], apart: true, density: d})
		}
		out = append(out, stage{folded: folds[:n+1], density: d})
	}
	return append(out, stage{folded: folds, density: dense})
}()

// fit picks the first stage at which every car goes into the free height, in
// rem. Where there is none, whole cars are left out, those that no booth
// waits for first; they are told on the last line. A car that is higher than
// the wall by itself has its last seams told in one row.
func fit(jobs []Job, free float64, c clock) wall {
	var w wall
	for _, s := range stages {
		w = wall{jobs: s.apply(jobs, c), density: s.name}
		if s.high(w.jobs) <= free {
			return w
		}
	}
	return leaveOut(w.jobs, free)
}

func (s stage) apply(jobs []Job, c clock) []Job {
	out := make([]Job, 0, len(jobs))
	for _, j := range jobs {
		folded := s.folded
		if s.apart && j.Next {
			folded = folded[:len(folded)-1]
		}
		j.Seams = foldSeams(j, folded, c)
		out = append(out, j)
	}
	return out
}

// leaveOut takes cars until the wall is full: those that a booth waits for,
// then the others as they come. What is taken stays in its order.
func leaveOut(jobs []Job, free float64) wall {
	w := wall{density: dense.name}
	free -= dense.row // the line that tells the rest
	taken := make([]bool, len(jobs))
	for _, next := range []bool{true, false} {
		for i, j := range jobs {
			if j.Next != next {
				continue
			}
			high := dense.high([]Job{j})
			if high > free && !slices.Contains(taken, true) {
				jobs[i] = cutShort(j, int((free-dense.job)/dense.row)-1)
				high = dense.high(jobs[i : i+1])
			}
			if high > free {
				free = 0 // nothing behind it jumps the queue
				continue
			}
			taken[i], free = true, free-high
		}
	}
	for i, j := range jobs {
		if taken[i] {
			w.jobs = append(w.jobs, j)
		} else {
			w.left = append(w.left, j)
		}
	}
	return w
}

// cutShort keeps a car to so many rows, the last of which tells the rest;
// holds are kept as long as there is room.
func cutShort(j Job, rows int) Job {
	rows = max(rows, 1)
	var keep, rest []SeamRow
	for _, hold := range []bool{true, false} {
		for _, s := range j.Seams {
			switch {
			case (s.Mark == MarkHold) != hold:
			case len(keep) < rows-1:
				keep = append(keep, s)
			default:
				rest = append(rest, s)
			}
		}
	}
	more := SeamRow{ID: j.RO + ".more", Place: "and " + amountOf(len(rest), "row") + " more", Stage: "more"}
	var names []string
	for _, s := range rest {
		names = append(names, s.Place)
		if s.Mark == MarkHold {
			more.Mark = MarkHold
		}
	}
	if more.Note = strings.Join(names, " · "); more.Mark == MarkHold {
		more.Hold, more.Note = more.Note, ""
	}
	j.Seams = append(keep, more)
	return j
}

// moreCars is the line that tells the cars which the wall has no room for:
// "and 2 more cars: 2226 (1 on hold), 2219".
func moreCars(left []Job) string {
	var names []string
	for _, j := range left {
		holds := 0
		for _, s := range j.Seams {
			if s.Mark == MarkHold {
				holds++
			}
		}
		name := j.RO
		if holds > 0 {
			name += fmt.Sprintf(" (%d on hold)", holds)
		}
		names = append(names, name)
	}
	return "and " + amountOf(len(left), "more car") + ": " + strings.Join(names, ", ")
}
