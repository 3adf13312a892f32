package screens

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

const oneLane = wallFree - laneSpace - laneHigh

func galleryClock() clock { return clock{now: clockAt(10, 43)} }

// TestWallFolds fills the wall step by step with a car of holds and quiet
// seams: every hold keeps its row as long as the wall holds them, every seam
// is told, and nothing is higher than the wall.
func TestWallFolds(t *testing.T) {
	for seams := 1; seams < 60; seams++ {
		j := Job{RO: "1"}
		for i := range seams {
			m := []Mark{MarkHold, MarkFinished, MarkFinished, MarkTodo}[i%4]
			j.Seams = append(j.Seams, SeamRow{ID: strconv.Itoa(i), Place: "p" + strconv.Itoa(i), Mark: m})
		}
		w := fit([]Job{j}, oneLane, galleryClock())
		holds, words := 0, ""
		for _, s := range w.jobs[0].Seams {
			if s.Mark == MarkHold {
				holds++
			}
			words += s.Place + " · " + s.Note + " · "
		}
		if holds != (seams+3)/4 {
			t.Fatalf("%d seams: %d of %d holds are left", seams, holds, (seams+3)/4)
		}
		for _, s := range j.Seams {
			if !strings.Contains(words, s.Place+" ·") {
				t.Errorf("%d seams: %s is not told at all", seams, s.Place)
			}
		}
		if high := wallHigh(w); high > oneLane {
			t.Errorf("%d seams: %s is %.2f rem high, the wall %.2f", seams, w.density, high, oneLane)
		}
	}
}

// wallHigh is what a wall's cars and last line take, by the style sheet's
// measures of its density.
func wallHigh(w wall) float64 {
	for _, d := range []density{large, small, dense} {
		if d.name != w.density {
			continue
		}
		high := d.high(w.jobs)
		if len(w.left) > 0 {
			high += d.row
		}
		return high
	}
	return 1e9
}

// anyShop draws cars with seams of every mark.
func anyShop(t *rapid.T) []Job {
	marks := []Mark{MarkUnknown, MarkTodo, MarkLay, MarkFlowing, MarkOpen, MarkClosed, MarkHold, MarkCoated, MarkFinished}
	var jobs []Job
	for i := range rapid.IntRange(0, 14).Draw(t, "cars") {
		j := Job{RO: strconv.Itoa(2200 + i), Next: rapid.IntRange(0, 5).Draw(t, "next") == 0}
		for k := range rapid.IntRange(0, 45).Draw(t, "seams") {
			s := SeamRow{ID: fmt.Sprintf("%s.%d", j.RO, k), Place: fmt.Sprintf("seam %d", k), Mark: rapid.SampledFrom(marks).Draw(t, "mark")}
			at := clockAt(8, rapid.IntRange(0, 600).Draw(t, "at"))
			switch s.Mark {
			case MarkLay:
				s.LayBy = &LayBy{At: at}
			case MarkHold:
				s.Hold = "a foreman decides"
			case MarkFlowing, MarkOpen, MarkClosed:
				s.Exposed = s.Mark == MarkFlowing && rapid.Bool().Draw(t, "exposed")
				s.Strip = strip(at, at.Add(time.Hour), at.Add(2*time.Hour), at.Add(9*time.Hour), at.Add(10*time.Hour))
			}
			j.Seams = append(j.Seams, s)
		}
		jobs = append(jobs, j)
	}
	return jobs
}

// TestWallNeverOverflows: whatever is in work, what is shown fits, every car
// is shown or named, holds are folded on a wall of one car alone, and a car
// that a booth waits for is never left out for one that none waits for.
func TestWallNeverOverflows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		jobs := anyShop(t)
		free := wallFree - laneSpace - laneHigh*float64(rapid.IntRange(0, 4).Draw(t, "lanes"))
		w := fit(jobs, free, galleryClock())
		if high := wallHigh(w); high > free+1e-9 {
			t.Fatalf("%d cars at %s are %.2f rem high, the wall %.2f", len(w.jobs), w.density, high, free)
		}
		if len(w.jobs)+len(w.left) != len(jobs) || len(jobs) > 0 && len(w.jobs) == 0 {
			t.Fatalf("%d cars shown, %d named, of %d", len(w.jobs), len(w.left), len(jobs))
		}
		words := moreCars(w.left)
		for _, j := range w.left {
			if !strings.Contains(words, j.RO) {
				t.Errorf("%s is left out and not named: %q", j.RO, words)
			}
		}
		nextLeft := slices.ContainsFunc(w.left, func(j Job) bool { return j.Next })
		if nextLeft && slices.ContainsFunc(w.jobs, func(j Job) bool { return !j.Next }) {
			t.Error("a car that a booth waits for is left out, another is shown")
		}
		for _, j := range w.jobs {
			was := jobs[slices.IndexFunc(jobs, func(o Job) bool { return o.RO == j.RO })]
			if len(w.jobs) > 1 && holdsOf(j) != holdsOf(was) {
				t.Errorf("%s: %d of %d holds have rows", j.RO, holdsOf(j), holdsOf(was))
			}
		}
	})
}

func holdsOf(j Job) (n int) {
	for _, s := range j.Seams {
		if s.Hold != "" {
			n++
		}
	}
	return n
}

// TestWallIsStable: the same seams with the same marks are drawn in the same
// rows whatever the clock says, and a seam more never unfolds anything.
func TestWallIsStable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		jobs := anyShop(t)
		ids := func(at time.Time) string {
			w := fit(jobs, oneLane, clock{now: at})
			out := w.density
			for _, j := range w.jobs {
				for _, s := range j.Seams {
					out += " " + s.ID
				}
			}
			return out
		}
		if a, b := ids(clockAt(10, 43)), ids(clockAt(17, rapid.IntRange(0, 59).Draw(t, "minute"))); a != b {
			t.Errorf("the rows changed with the clock:\n%s\n%s", a, b)
		}
	})
	stageOf := func(seams int) int {
		j := Job{RO: "1"}
		for i := range seams {
			m := []Mark{MarkHold, MarkOpen, MarkTodo, MarkFlowing, MarkFlowing, MarkCoated}[i%6]
			j.Seams = append(j.Seams, SeamRow{ID: strconv.Itoa(i), Mark: m, Exposed: i%6 == 4})
		}
		for n, s := range stages {
			if s.high(s.apply([]Job{j}, galleryClock())) <= oneLane {
				return n
			}
		}
		return len(stages)
	}
	for seams := 1; seams < 200; seams++ {
		if stageOf(seams) < stageOf(seams-1) {
			t.Errorf("%d seams are folded less than %d", seams, seams-1)
		}
	}
}

// TestFoldTellsWhatGoverns folds three flowing seams by hand: the one that
// opens last is named, with its own strip, rounded up to the minute.
func TestFoldTellsWhatGoverns(t *testing.T) {
	at := func(open time.Time) []Segment {
		return strip(clockAt(10, 0), open.Add(-10*time.Minute), open, clockAt(20, 0), clockAt(21, 0))
	}
	j := Job{RO: "2207", Seams: []SeamRow{
		{Place: "Roof ditch L", Mark: MarkFlowing, Strip: at(clockAt(11, 7))},
		{Place: "Strut tower R", Mark: MarkHold, Hold: "bead disturbed"},
		{Place: "Quarter to wheelhouse L", Mark: MarkFlowing, Strip: at(clockAt(12, 3).Add(20 * time.Second))},
		{Place: "Roof ditch R", Mark: MarkFlowing, Strip: at(clockAt(11, 15))},
		{Place: "Boot floor", Mark: MarkFlowing, Exposed: true, Strip: at(clockAt(30, 0))},
	}}
	got := foldSeams(j, folds, galleryClock())
	if len(got) != 3 || got[1].Hold == "" || got[2].Place != "Boot floor" {
		t.Fatalf("rows: %+v", got)
	}
	f := got[0]
	if f.Place != "3 seams flowing" || f.Text != "last opens 12:04, Quarter to wheelhouse L" || !ready(f.Strip).Equal(ready(j.Seams[2].Strip)) {
		t.Errorf("%q %q opens %v", f.Place, f.Text, ready(f.Strip))
	}
	j.Seams[0].Strip, j.Seams[0].Silent = []Segment{{SegNotReady, clockAt(10, 0), time.Time{}}}, true
	if f = foldSeams(j, folds, galleryClock())[0]; f.Text != "last: no end in sight, too cold · Roof ditch L · probe silent" {
		t.Errorf("one that stands still: %q", f.Text)
	}
}
