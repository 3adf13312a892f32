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
	"seamwright/services/clock"
	"seamwright/services/cures"
	"seamwright/services/floor"
	"seamwright/services/journal/memory"
	"seamwright/services/record"
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

func TestALateReadingTakesAnAnnouncementBackAndNamesItself(t *testing.T) {
	y := open(t)
	y.read("bay-1", 21)
	y.lay("2207/rd-l", "bay-1")
	y.until(20)
	y.read("bay-1", 21)
	y.until(21)
	late := y.ago(11*time.Minute, &curesv1.ReadingTaken{ZoneId: "bay-1", ProbeId: "p2", TempC: 8})
	y.rest()
	y.plain()
	y.steadily("bay-1", 21, 60)
	y.plain()
	if diff := cmp.Diff([]string{"opened", "back", "opened"}, endings(about(y.said(), "flow-out"))); diff != "" {
		t.Errorf("flow-out (-want +got):\n%s\n%v", diff, y.said())
	}
	y.causes(late)
}

// causes asks that every retraction names one event.
func (y *yard) causes(want uint64) {
	y.t.Helper()
	y.Writer.View(func(seq uint64) {
		for n := uint64(1); n <= seq; n++ {
			ev, _, _ := y.Floor.Event(n)
			if b, ok := ev.Body.(*curesv1.WindowRetracted); ok && b.GetCause() != want {
				y.t.Errorf("event %d (%s) blames event %d, want %d", n, b.GetWhy(), b.GetCause(), want)
			}
		}
	})
}

func endings(lines []string) []string {
	var out []string
	for _, l := range lines {
		for _, w := range []string{"opened", "closed", "back"} {
			if len(about([]string{l}, " "+w)) > 0 {
				out = append(out, w)
			}
		}
	}
	return out
}

// A reading that jumps more than the air can makes the set the hull of both:
// flow-out is taken back, and told again once it is sure again.
func TestASpikeTakesBackAndTheClockRunsOn(t *testing.T) {
	y := open(t)
	y.read("bay-1", 21)
	y.lay("2207/rd-l", "bay-1")
	y.steadily("bay-1", 21, 16)
	y.until(18.2)
	if got := about(y.said(), "flow-out"); len(got) != 1 {
		t.Fatalf("before the spike: %v", got)
	}
	y.read("bay-1", 6)
	y.rest()
	y.plain()
	y.steadily("bay-1", 21, 90)
	y.plain()
	if diff := cmp.Diff([]string{"opened", "back", "opened"}, endings(about(y.said(), "flow-out"))); diff != "" {
		t.Errorf("flow-out (-want +got):\n%s\n%v", diff, y.said())
	}
}

// A reading just beyond the zone's limits is no jump, but the cold side was
// reckoned with the limit.
func TestAReadingBeyondTheLimitsTakesBack(t *testing.T) {
	y := open(t)
	y.read("bay-1", 6)
	y.lay("2207/rd-l", "bay-1")
	for y.time.Now().Before(recordtest.Monday.Add(5*time.Hour)) && len(about(y.said(), "flow-out")) == 0 {
		y.until(y.time.Now().Sub(recordtest.Monday).Minutes() + 0.25)
	}
	if len(about(y.said(), "flow-out")) != 1 {
		t.Fatal("flow-out was not reached")
	}
	y.read("bay-1", 4.6)
	y.rest()
	y.plain()
	if got := about(y.said(), "flow-out"); len(got) != 2 {
		t.Errorf("flow-out after a reading below the limit: %v", got)
	}
}

func TestWithdrawnAndCorrectedReadings(t *testing.T) {
	y := open(t)
	cold := y.read("bay-1", 12)
	y.lay("2207/rd-l", "bay-1")
	y.until(20)
	warm := y.read("bay-1", 12)
	y.until(25)
	y.plain()
	y.correct(cold, &curesv1.ReadingTaken{ZoneId: "bay-1", ProbeId: "p-bay-1", TempC: 25})
	y.correct(warm, &curesv1.ReadingTaken{ZoneId: "bay-1", ProbeId: "p-bay-1", TempC: 25})
	y.rest()
	y.plain()
	if got := endings(about(y.said(), "flow-out")); !slices.Equal(got, []string{"opened"}) {
		t.Errorf("after the correction to 25 °C: %v", y.said())
	}
	y.withdraw(warm)
	y.withdraw(cold)
	y.rest()
	y.plain()
	if got := endings(about(y.said(), "flow-out")); !slices.Equal(got, []string{"opened", "back"}) {
		t.Errorf("after both were withdrawn: %v", y.said())
	}
}

func TestACorrectedProductMovesTheAnchor(t *testing.T) {
	y := newYard(t, memory.New(memory.Options{}), steady)
	y.tell(zoneOf("bay-1"))
	product := y.tell(recordtest.Levelling())
	y.tell(&materialsv1.LotReceived{LotId: "L1", ProductId: "sl", Cartridges: 6})
	y.cartridge("C1", "N1")
	y.job("2207", "rd-l")
	y.read("bay-1", 21)
	y.lay("2207/rd-l", "bay-1")
	y.steadily("bay-1", 21, 20)
	slow := recordtest.Levelling()
	slow.Cure.FlowOutMin, slow.Cure.NozzleGelMin = proto.Float64(25), proto.Float64(40)
	y.correct(product, slow)
	y.rest()
	y.plain()
	if got := endings(about(y.said(), "flow-out")); !slices.Equal(got, []string{"opened", "back"}) {
		t.Errorf("flow-out after the correction to 25 min: %v", y.said())
	}
	if got := endings(about(y.said(), "nozzle-gel")); !slices.Equal(got, []string{"closed", "back"}) {
		t.Errorf("nozzle gel after the correction to 40 min: %v", y.said())
	}
	y.steadily("bay-1", 21, 60)
	y.plain()
	// A new revision is no correction: what runs keeps the one it began under.
	slower := recordtest.Levelling()
	slower.Cure.FlowOutMin, slower.Cure.NozzleGelMin = proto.Float64(80), proto.Float64(80)
	y.tell(slower)
	y.rest()
	y.plain()
	for _, word := range []string{"flow-out", "nozzle-gel"} {
		if got := about(y.said(), word); len(got) != 3 {
			t.Errorf("%s after a new revision: %v", word, got)
		}
	}
}

// The nozzle's clock begins again with each flow and ends when it comes off,
// also when nobody told of its fitting.
func TestNozzleClock(t *testing.T) {
	y := open(t)
	y.tell(&materialsv1.CartridgeOpened{CartridgeId: "C2", LotId: "L1"})
	y.read("bay-1", 21)
	purge := func(c string) {
		y.say(tell{body: &materialsv1.CartridgePurged{CartridgeId: c, VolumeMl: proto.Float64(1)}, terminal: "bay-1-tablet"})
	}
	purge("C1")
	untold := bead("2207/rd-r")
	untold.CartridgeId, untold.NozzleId = "C2", "N7"
	y.say(tell{body: untold, terminal: "bay-1-tablet"})
	y.steadily("bay-1", 21, 3)
	purge("C1") // begins again
	y.steadily("bay-1", 21, 6)
	if got := about(y.said(), "nozzle-gel"); len(got) != 1 || len(about(got, "N7")) != 1 {
		t.Errorf("6 minutes after the first, 3 after the second flow: %v, want N7 only", got)
	}
	y.plain()
	y.tell(&materialsv1.NozzleRemoved{NozzleId: "N1"})
	y.tell(&materialsv1.NozzleFitted{CartridgeId: "C2", NozzleId: "N1", Kind: "round"}) // before the keeper looks
	y.steadily("bay-1", 21, 30)
	y.plain()
	if got := about(y.said(), "N1"); len(got) != 0 {
		t.Errorf("a nozzle that was taken off gelled: %v", got)
	}
}

// What was told about a nozzle whose fitting nobody told is taken back too.
func TestAGelOfAnUntoldNozzleIsTakenBack(t *testing.T) {
	y := open(t)
	y.tell(&materialsv1.CartridgeOpened{CartridgeId: "C2", LotId: "L1"})
	warm := y.read("bay-1", 30)
	untold := bead("2207/rd-r")
	untold.CartridgeId, untold.NozzleId = "C2", "N7"
	y.say(tell{body: untold, terminal: "bay-1-tablet"})
	y.until(4)
	last := y.read("bay-1", 30)
	y.rest()
	y.plain()
	for _, seq := range []uint64{warm, last} {
		y.correct(seq, &curesv1.ReadingTaken{ZoneId: "bay-1", ProbeId: "p-bay-1", TempC: 7})
	}
	y.rest()
	y.plain()
	if got := endings(about(y.said(), "N7")); !slices.Equal(got, []string{"closed", "back"}) {
		t.Errorf("gel: %v", got)
	}
}

// A nozzle that was fitted to one cartridge and then laid with on another.
func TestANozzleOnAnotherCartridgeThanTold(t *testing.T) {
	y := open(t)
	y.tell(&materialsv1.CartridgeOpened{CartridgeId: "C2", LotId: "L1"})
	y.read("bay-1", 21)
	b := bead("2207/rd-r")
	b.CartridgeId = "C2" // through N1, which was fitted to C1
	y.say(tell{body: b, terminal: "bay-1-tablet"})
	y.steadily("bay-1", 21, 10)
	y.plain()
	if got := about(y.said(), "N1 nozzle-gel"); len(got) != 1 {
		t.Errorf("gel: %v", got)
	}
}

// Where no terminal tells, the nozzle is where the car is, and goes with it.
func TestTheNozzleGoesWithTheCar(t *testing.T) {
	y := open(t)
	y.read("bay-1", 8)
	y.read("bay-2", 30)
	y.tell(&jobsv1.CarMoved{Ro: "2207", ZoneId: "bay-1"})
	y.say(tell{body: bead("2207/rd-l"), terminal: "desk"})
	y.until(2)
	y.read("bay-1", 8)
	y.rest()
	y.tell(&jobsv1.CarMoved{Ro: "2207", ZoneId: "bay-2"})
	y.rest()
	y.until(4)
	y.read("bay-1", 8)
	y.read("bay-2", 30)
	y.rest()
	y.plain()
	if got := about(y.said(), "nozzle-gel"); len(got) != 1 {
		t.Errorf("gel in the warm bay: %v", got)
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

// A car that is moved during flow-out settles: it is judged alone, then goes
// back into a heap.
func TestAMovedCarSettlesAndGoesBackIntoAHeap(t *testing.T) {
	var k *cures.Keeper
	y := newYard(t, memory.New(memory.Options{}), func(d *record.Desk) clock.Actor { k = cures.NewKeeper(d); return k })
	y.furnish()
	y.read("bay-1", 21)
	y.read("bay-2", 15)
	y.lay("2207/rd-l", "bay-1")
	y.rest()
	if got := k.Alone(); len(got) != 0 {
		t.Errorf("in one bay, before the move: alone %v", got)
	}
	y.until(8)
	y.read("bay-1", 21)
	y.tell(&jobsv1.CarMoved{Ro: "2207", ZoneId: "bay-2"})
	y.rest()
	if got := k.Alone(); len(got) == 0 {
		t.Error("settling, and in a heap")
	}
	for m := 10.0; m <= 44; m += 2 {
		y.until(m)
		y.read("bay-1", 21)
		y.read("bay-2", 15)
		y.rest()
		y.plain()
	}
	if got := k.Alone(); len(got) != 0 {
		t.Errorf("36 minutes after the move, settling 30: alone %v", got)
	}
	y.steadily("bay-2", 15, 200)
	y.plain()
	for _, word := range []string{"flow-out", "handling", "coat-opens"} {
		if got := about(y.said(), word); len(got) != 1 {
			t.Errorf("%s: %v", word, got)
		}
	}
}

// A surface that was measured, and heat, are part of the way; the clocks go
// back into the heap behind them.
func TestHeatAndMeasuredSurfaces(t *testing.T) {
	var k *cures.Keeper
	y := newYard(t, memory.New(memory.Options{}), func(d *record.Desk) clock.Actor { k = cures.NewKeeper(d); return k })
	y.furnish()
	y.read("bay-1", 21)
	b := bead("2207/rd-l")
	b.SurfaceTempC = proto.Float64(20)
	y.say(tell{body: b, terminal: "bay-1-tablet"})
	y.rest()
	y.until(4)
	y.say(tell{body: &jobsv1.HeatApplied{SeamIds: []string{"2207/rd-l"}, SurfaceTempC: proto.Float64(45)}, terminal: "bay-1-tablet"})
	for m := 6.0; m <= 60; m += 2 {
		y.until(m)
		y.read("bay-1", 21)
		y.rest()
		y.plain()
	}
	if got := k.Alone(); len(got) != 0 {
		t.Errorf("long after the heat: alone %v", got)
	}
}

// One reading costs no look at each of a thousand beads.
func TestAReadingDoesNotLookAtEveryBead(t *testing.T) {
	var k *cures.Keeper
	y := newYard(t, memory.New(memory.Options{}), func(d *record.Desk) clock.Actor { k = cures.NewKeeper(d); return k })
	y.furnish()
	y.read("bay-1", 21)
	for n := range 100 {
		ro := string(rune('A'+n/10)) + string(rune('0'+n%10))
		y.job(ro, "a", "b", "c", "d", "e", "f", "g", "h", "i", "j")
		run := &jobsv1.RunLaid{CartridgeId: "C1", NozzleId: "N1"}
		for _, s := range "abcdefghij" {
			run.Passes = append(run.Passes, &jobsv1.RunLaid_Pass{SeamId: ro + "/" + string(s), Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(1)})
		}
		y.say(tell{body: run, terminal: "bay-1-tablet"})
	}
	y.rest()
	before := k.Watched()
	if len(before) < 6000 || len(k.Alone()) > 0 {
		t.Fatalf("%d clocks watched, %d of them alone", len(before), len(k.Alone()))
	}
	y.until(2)
	y.read("bay-1", 21)
	y.rest()
	for key, was := range k.Watched() {
		if before[key] != was {
			t.Fatalf("%s was looked at anew for a reading in order", key)
		}
	}
}

// A clock that was set back takes nothing back.
func TestAClockSetBackTakesNothingBack(t *testing.T) {
	j := memory.New(memory.Options{})
	y := newYard(t, j, steady)
	y.furnish()
	y.read("bay-1", 21)
	y.lay("2207/rd-l", "bay-1")
	y.steadily("bay-1", 21, 20)
	back := newYard(t, j, steady) // at the beginning again
	if err := back.Writer.Step(t.Context()); err != nil {
		t.Fatal(err)
	}
	back.rest()
	if got := about(back.said(), "back by"); len(got) != 0 {
		t.Errorf("taken back: %v", got)
	}
}
