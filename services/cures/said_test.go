package cures_test

import (
	"fmt"
	"strings"
	"time"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/floor"
	"seamwright/services/record/recordtest"
)

// said lists what the keeper told, in the journal's order: the moment in
// minutes, what happened, to what.
func (y *yard) said() []string {
	var out []string
	y.Writer.View(func(seq uint64) {
		for n := uint64(1); n <= seq; n++ {
			ev, _, _ := y.Floor.Event(n)
			if line := announcementLine(ev); line != "" {
				out = append(out, line)
			}
		}
	})
	return out
}

func announcementLine(ev floor.Event) string {
	at := func(t time.Time) float64 { return t.Sub(recordtest.Monday).Minutes() }
	switch b := ev.Body.(type) {
	case *curesv1.WindowOpened:
		return fmt.Sprintf("%.1f %s %s opened", at(b.GetDue().AsTime()), b.GetSeamId(), floor.Word(b.GetClock()))
	case *curesv1.WindowClosed:
		return fmt.Sprintf("%.1f %s%s %s closed", at(b.GetDue().AsTime()), b.GetSeamId(), b.GetNozzleId(), floor.Word(b.GetClock()))
	case *curesv1.WindowRetracted:
		return fmt.Sprintf("%.1f %s%s %s back by %d", at(ev.Received), b.GetSeamId(), b.GetNozzleId(), floor.Word(b.GetClock()), b.GetCause())
	}
	return ""
}

// about keeps the lines that hold a word.
func about(lines []string, word string) []string {
	var out []string
	for _, l := range lines {
		if strings.Contains(l, word) {
			out = append(out, l)
		}
	}
	return out
}

// plain compares what was announced with what the floor answers about each
// clock by itself at this moment, and asks that each end stands once.
func (y *yard) plain() {
	y.t.Helper()
	y.Writer.View(func(uint64) {
		now := y.time.Now()
		check := func(name string, c floor.ClockState) {
			if (c.Reached == cure.Yes) != (c.Announced != 0) {
				y.t.Errorf("at minute %.3f %s %s is %s (cold %.3f, hot %.3f of %.0f s, due %s/%s) and announced by event %d",
					now.Sub(recordtest.Monday).Minutes(), name, floor.Word(c.ClockID.Clock), c.Reached, c.AgeColdS, c.AgeHotS, c.NeededS, c.DueHot, c.DueCold, c.Announced)
			}
		}
		for _, s := range y.Floor.Seams() {
			for _, c := range y.Floor.Clocks(s, now) {
				check(string(s), c)
			}
		}
		for _, id := range y.Floor.Cartridges() {
			if c, ok := y.Floor.Gel(id, now); ok {
				check(string(id), c)
			}
		}
		y.once()
	})
}

// once asks that no clock ended twice without having been taken back, none
// before it began, and none later than it was heard.
func (y *yard) once() {
	y.t.Helper()
	running := map[string]uint64{}
	by := map[uint64]string{}
	for n := uint64(1); n <= y.Floor.Seq(); n++ {
		ev, _, _ := y.Floor.Event(n)
		var key string
		var due time.Time
		switch b := ev.Body.(type) {
		case *curesv1.WindowOpened:
			key, due = fmt.Sprint(b.GetSeamId(), b.GetClock(), b.GetCoat(), b.GetBegan()), b.GetDue().AsTime()
		case *curesv1.WindowClosed:
			key, due = fmt.Sprint(b.GetSeamId(), b.GetNozzleId(), b.GetClock(), b.GetCoat(), b.GetBegan()), b.GetDue().AsTime()
		case *curesv1.WindowRetracted:
			delete(running, by[b.GetAnnounced()])
			if by[b.GetAnnounced()] == "" {
				y.t.Errorf("event %d takes back %d, which announced nothing", n, b.GetAnnounced())
			}
			continue
		default:
			continue
		}
		if first, ok := running[key]; ok {
			y.t.Errorf("event %d ends %s a second time, after %d", n, key, first)
		}
		if due.After(ev.Received) || ev.Occurred.After(ev.Received) {
			y.t.Errorf("event %d is due %s, heard %s", n, due, ev.Received)
		}
		running[key], by[n] = n, key
	}
}
