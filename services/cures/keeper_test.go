package cures_test

import (
	"context"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/proto"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/floor"
	"seamwright/services/journal/memory"
	"seamwright/services/record/recordtest"
)

func (y *yard) ctx() context.Context { return context.Background() }

func open(t *testing.T) *yard {
	y := newYard(t, memory.New(memory.Options{}), steady)
	y.furnish()
	return y
}

// A label at 21 °C: gel 5, tooling 6, flow-out 15, handling 50, waterborne 60
// to 2880, tolerance 10 %. The probe errs by 0.5 K and the dead band by 0.2 K,
// so at 21 °C the cold side runs at 20.3 °C and slower, the hot side at 21.7 °C
// and faster, by exp(54000/8.314462618 (1/294.15 - 1/T)): 0.9487 and 1.0538
// right at a reading, and the cone of 0.2 K/min over two minutes lies between.
func TestClocksOfABeadEndOnceInTheOrderOfItsLife(t *testing.T) {
	y := open(t)
	y.read("bay-1", 21)
	y.until(2)
	y.read("bay-1", 21)
	y.lay("2207/rd-l", "bay-1")
	y.steadily("bay-1", 21, 82)
	y.plain()
	got := y.said()
	var order []string
	for _, l := range got {
		order = append(order, l[slices.Index([]byte(l), ' ')+1:])
	}
	if diff := cmp.Diff([]string{
		"2207/rd-l tooling closed", "N1 nozzle-gel closed", "2207/rd-l flow-out opened", "2207/rd-l handling opened", "2207/rd-l coat-opens opened",
	}, order); diff != "" {
		t.Errorf("announced (-want +got):\n%s", diff)
	}
	// 16.5 min at the cold end: longer than at the reading itself, shorter than
	// 0.4 K below it, where the cone has gone after two minutes (0.9205).
	y.between("flow-out", 2+16.5/0.9487, 2+16.5/0.9205)
	y.between("handling", 2+55/0.9487, 2+55/0.9205)
	y.between("coat-opens", 2+66/0.9487, 2+66/0.9205)
	// At the hot end likewise, 0.4 K above the reading's edge (1.0857).
	y.between("nozzle-gel", 2+4.5/1.0857, 2+4.5/1.0538) // from the end of laying
	y.between("tooling", 1+5.4/1.0857, 1+5.4/1.0538)    // from its begin, a minute before
}

// between asks that one clock of all was announced as due within minutes of
// the beginning.
func (y *yard) between(word string, low, high float64) {
	y.t.Helper()
	n := 0
	y.Writer.View(func(seq uint64) {
		for i := uint64(1); i <= seq; i++ {
			ev, _, _ := y.Floor.Event(i)
			var due time.Time
			switch b := ev.Body.(type) {
			case *curesv1.WindowOpened:
				if floor.Word(b.GetClock()) == word {
					due = b.GetDue().AsTime()
				}
			case *curesv1.WindowClosed:
				if floor.Word(b.GetClock()) == word {
					due = b.GetDue().AsTime()
				}
			}
			if due.IsZero() {
				continue
			}
			n++
			if m := due.Sub(recordtest.Monday).Minutes(); m < low || m > high {
				y.t.Errorf("%s is due at minute %.3f, want %.3f to %.3f", word, m, low, high)
			}
			if due != due.Truncate(time.Millisecond) {
				y.t.Errorf("%s is due at %s, want whole milliseconds", word, due)
			}
		}
	})
	if n != 1 {
		y.t.Errorf("%s was announced %d times, want once", word, n)
	}
}

// What must be reached is never told before it is: the moment is rounded up.
func TestADueTimeIsRoundedToTheSafeSide(t *testing.T) {
	y := open(t)
	y.read("bay-1", 20.3)
	y.lay("2207/rd-l", "bay-1")
	y.until(30)
	y.read("bay-1", 20.7)
	y.until(400)
	y.read("bay-1", 21)
	y.rest()
	seen := 0
	y.Writer.View(func(seq uint64) {
		for n := uint64(1); n <= seq; n++ {
			ev, _, _ := y.Floor.Event(n)
			b, ok := ev.Body.(*curesv1.WindowOpened)
			if !ok {
				continue
			}
			seen++
			for _, c := range y.Floor.Clocks("2207/rd-l", ev.Received) {
				if c.ClockID.Clock == b.GetClock() && b.GetDue().AsTime().Before(c.DueCold) {
					t.Errorf("%s told as reached at %s, it was at %s", floor.Word(b.GetClock()), b.GetDue().AsTime(), c.DueCold)
				}
			}
		}
	})
	if seen < 3 {
		t.Errorf("only %d clocks were reached", seen)
	}
}

func TestAnExposedSeamHasNoCoatClocks(t *testing.T) {
	y := open(t)
	y.read("bay-1", 21)
	y.lay("2207/floor", "bay-1")
	y.steadily("bay-1", 21, 90)
	y.plain()
	if got := about(y.said(), "coat-"); len(got) != 0 {
		t.Errorf("an exposed seam: %v", got)
	}
	if got := about(y.said(), "2207/floor"); len(got) != 3 {
		t.Errorf("want tooling, flow-out and handling: %v", got)
	}
}

// A scuff opens the window again for the product's time after it.
func TestAScuffedWindowClosesAgain(t *testing.T) {
	y := newYard(t, memory.New(memory.Options{}), steady)
	y.tell(zoneOf("bay-1"))
	p := recordtest.Levelling()
	p.Cure.Over[0].ClosesMin, p.Cure.AfterScuffClosesMin = 90, proto.Float64(30)
	y.tell(p)
	y.tell(&materialsv1.LotReceived{LotId: "L1", ProductId: "sl", Cartridges: 6})
	y.cartridge("C1", "N1")
	y.job("2207", "rd-l")
	y.read("bay-1", 21)
	y.lay("2207/rd-l", "bay-1")
	y.steadily("bay-1", 21, 90)
	y.plain()
	y.tell(&jobsv1.SeamScuffed{SeamId: "2207/rd-l"})
	y.rest()
	y.plain()
	y.steadily("bay-1", 21, 130)
	y.plain()
	got := about(y.said(), "coat-closes")
	if !slices.Equal(endings(got), []string{"closed", "closed"}) {
		t.Fatalf("coat closes: %v", got)
	}
	var stage floor.Stage
	y.Writer.View(func(uint64) { stage = y.Floor.Seam("2207/rd-l").Stage })
	if stage != floor.Closed {
		t.Errorf("stage %s, want closed", stage)
	}
}

func TestAStageOfNoMinutesIsDueAtOnce(t *testing.T) {
	y := newYard(t, memory.New(memory.Options{}), steady)
	y.tell(zoneOf("bay-1"))
	p := recordtest.Levelling()
	p.Cure.FlowOutMin, p.Cure.Over[0].OpensMin = nil, 0
	p.Class = floorv1.SealerClass_SEALER_CLASS_HEAVY_BODIED
	y.tell(p)
	y.tell(&materialsv1.LotReceived{LotId: "L1", ProductId: "sl", Cartridges: 6})
	y.cartridge("C1", "N1")
	y.job("2207", "rd-l")
	y.until(5)
	y.lay("2207/rd-l", "bay-1") // without any reading
	y.rest()
	y.plain()
	if diff := cmp.Diff([]string{"5.0 2207/rd-l coat-opens opened"}, y.said()); diff != "" {
		t.Errorf("announced (-want +got):\n%s", diff)
	}
}

// The hot bound of a bead laid through a nozzle that has long been idle is
// passed before the bead was laid, and before the seam was reworked. It is
// told once, and the bead keeps what was told.
func TestAWindowThatClosedBeforeTheBeadIsToldOnce(t *testing.T) {
	y := open(t)
	y.read("bay-1", 21)
	y.lay("2207/rd-l", "bay-1")
	y.steadily("bay-1", 21, 30)
	y.say(tell{body: &jobsv1.SeamReworked{SeamId: "2207/rd-l"}, terminal: "bay-1-tablet"})
	y.rest()
	y.until(31)
	y.lay("2207/rd-l", "bay-1") // the nozzle's last flow was half an hour ago
	y.rest()
	y.plain()
	if got := about(y.said(), "tooling"); len(got) != 2 {
		t.Errorf("tooling of two beads: %v", got)
	}
}
