package cures_test

import (
	"slices"
	"testing"

	"google.golang.org/protobuf/proto"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
)

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
