package cures_test

import (
	"testing"

	"google.golang.org/protobuf/proto"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/clock"
	"seamwright/services/cures"
	"seamwright/services/journal/memory"
	"seamwright/services/record"
)

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

// A clock that is looked at anew takes the number of one that was forgotten:
// what a keeper holds grows with the clocks that run, not with what happens.
func TestNumbersOfForgottenClocksAreUsedAgain(t *testing.T) {
	var k *cures.Keeper
	y := newYard(t, memory.New(memory.Options{}), func(d *record.Desk) clock.Actor { k = cures.NewKeeper(d); return k })
	y.furnish()
	y.read("bay-1", 21)
	y.read("bay-2", 21)
	y.lay("2207/rd-l", "bay-1")
	y.rest()
	first, watched := k.Numbers(), len(k.Watched())
	if first == 0 || watched != first {
		t.Fatalf("%d numbers for %d clocks", first, watched)
	}
	for m := range 20 {
		y.until(float64(m) / 10)
		y.tell(&jobsv1.CarMoved{Ro: "2207", ZoneId: []string{"bay-2", "bay-1"}[m%2]})
		y.rest()
	}
	if got := k.Numbers(); got != first || len(k.Watched()) != watched {
		t.Errorf("%d numbers for %d clocks after moves, %d before", got, len(k.Watched()), first)
	}
}
