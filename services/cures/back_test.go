package cures_test

import (
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/proto"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/journal/memory"
	"seamwright/services/record/recordtest"
)

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

// A second probe that begins to speak is not bound by what the first one said:
// the bay was as cold as it says all the while since.
func TestAProbeThatJoinsTakesAnAnnouncementBack(t *testing.T) {
	y := open(t)
	y.read("bay-1", 21)
	y.lay("2207/rd-l", "bay-1")
	y.steadily("bay-1", 21, 10)
	y.until(26)
	if got := about(y.said(), "flow-out"); len(got) != 1 {
		t.Fatalf("flow-out before the second probe: %v", y.said())
	}
	joins := y.tell(&curesv1.ReadingTaken{ZoneId: "bay-1", ProbeId: "p2", TempC: 11})
	y.rest()
	y.plain()
	if diff := cmp.Diff([]string{"opened", "back"}, endings(about(y.said(), "flow-out"))); diff != "" {
		t.Errorf("flow-out (-want +got):\n%s\n%v", diff, y.said())
	}
	y.causes(joins)
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
	below := y.read("bay-1", 4.6)
	y.rest()
	y.plain()
	y.causes(below)
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

// What was taken back may come to be due sooner than it was told first: it is
// told again, and that stands.
func TestWhatWasTakenBackIsToldAgainAsDueSooner(t *testing.T) {
	y := open(t)
	y.read("bay-1", 21)
	y.lay("2207/rd-l", "bay-1")
	y.steadily("bay-1", 21, 20)
	for _, c := range []float64{8, 25} {
		y.correctAll(c)
		y.rest()
		y.plain()
	}
	got := about(y.said(), "flow-out")
	if !slices.Equal(endings(got), []string{"opened", "back", "opened"}) || got[2] >= got[0] {
		t.Errorf("flow-out: %v, want it told again, due sooner", got)
	}
}

// correctAll corrects every reading to one temperature.
func (y *yard) correctAll(c float64) {
	y.t.Helper()
	for seq := uint64(1); seq <= y.Writer.Seq(); seq++ {
		ev, _, _ := y.Floor.Event(seq)
		if r, ok := ev.Body.(*curesv1.ReadingTaken); ok {
			y.correct(seq, &curesv1.ReadingTaken{ZoneId: r.ZoneId, ProbeId: r.ProbeId, TempC: c})
		}
	}
}
