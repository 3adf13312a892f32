package cures_test

import (
	"context"
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
	"seamwright/services/fault"
	"seamwright/services/journal"
	"seamwright/services/journal/memory"
	"seamwright/services/record"
	"seamwright/services/record/recordtest"
)

// restarting begins anew at every step, as if the program had been started
// again before each.
func restarting(d *record.Desk) clock.Actor {
	return clock.Func(func(ctx context.Context, now time.Time) (time.Time, error) {
		return cures.NewKeeper(d).Step(ctx, now)
	})
}

// day is a scenario with everything in it that begins, ends and takes back a
// clock. After each fact, look lets the shop come to rest.
func day(y *yard, look func()) {
	y.furnish()
	y.read("bay-1", 21)
	y.read("bay-2", 24)
	look()
	y.lay("2207/rd-l", "bay-1")
	look()
	y.lay("2207/floor", "bay-1")
	look()
	y.until(4)
	y.say(tell{body: &jobsv1.HeatApplied{SeamIds: []string{"2207/rd-l"}, SourceTempC: proto.Float64(40)}, terminal: "bay-1-tablet"})
	look()
	y.until(8)
	y.read("bay-1", 21)
	look()
	y.until(17)
	last := y.read("bay-1", 22)
	look()
	y.until(21)
	y.ago(9*time.Minute, &curesv1.ReadingTaken{ZoneId: "bay-1", ProbeId: "p2", TempC: 9})
	look()
	y.withdraw(last)
	look()
	y.until(26)
	y.read("bay-1", 21)
	look()
	y.until(40)
	y.tell(&jobsv1.CarMoved{Ro: "2207", ZoneId: "bay-2"})
	look()
	y.read("bay-2", 24)
	y.read("bay-1", 20)
	look()
	y.say(tell{body: &jobsv1.SeamReworked{SeamId: "2207/rd-l"}, terminal: "bay-2-tablet"})
	look()
	y.lay("2207/rd-l", "bay-2")
	look()
	y.until(75)
	y.read("bay-2", 24)
	y.read("bay-1", 20)
	look()
	y.tell(&materialsv1.NozzleRemoved{NozzleId: "N1"})
	look()
	y.until(120)
	y.read("bay-2", 2)
	look()
	y.until(130)
	y.read("bay-2", 24)
	look()
	y.until(180)
	y.read("bay-2", 25)
	look()
	y.tell(&jobsv1.SeamScuffed{SeamId: "2207/rd-l"})
	look()
	y.until(240)
	y.tell(&jobsv1.CoatApplied{SeamIds: []string{"2207/rd-l"}, Layer: &jobsv1.CoatApplied_Over{Over: floorv1.Coat_COAT_WATERBORNE}})
	look()
	y.until(60 * 40)
}

func TestAKeeperThatIsStartedAnewAtEveryStepTellsTheSame(t *testing.T) {
	play := func(steps func(*record.Desk) clock.Actor) []string {
		y := newYard(t, memory.New(memory.Options{}), steps)
		day(y, func() { y.rest(); y.plain() })
		y.plain()
		return y.said()
	}
	kept, anew := play(steady), play(restarting)
	if len(kept) < 15 || len(about(kept, "back by")) < 2 {
		t.Errorf("the scenario tells too little: %v", kept)
	}
	if diff := cmp.Diff(kept, anew); diff != "" {
		t.Errorf("one keeper (-) and one started anew at every step (+) differ:\n%s", diff)
	}
}

// A keeper that comes late to a finished day has nothing to add but what was
// never told.
func TestAKeeperThatWasAwayTellsWhatIsTrueNow(t *testing.T) {
	away := newYard(t, memory.New(memory.Options{}), func(d *record.Desk) clock.Actor {
		k := cures.NewKeeper(d)
		return clock.Func(func(ctx context.Context, now time.Time) (time.Time, error) {
			if now.Before(recordtest.Monday.Add(39 * time.Hour)) {
				return recordtest.Monday.Add(39 * time.Hour), nil
			}
			return k.Step(ctx, now)
		})
	})
	day(away, func() { away.rest() })
	away.plain()
	if len(about(away.said(), "back by")) != 0 {
		t.Errorf("took back what it never told: %v", away.said())
	}
}

// broken is a journal that fails at times: before it stored, or after it
// stored and before it could say so.
type broken struct {
	journal.Journal
	before, after bool
}

func (b *broken) Append(ctx context.Context, expect uint64, recs ...journal.Record) (uint64, error) {
	if b.before {
		return 0, journal.Unsure(expect, context.DeadlineExceeded)
	}
	last, err := b.Journal.Append(ctx, expect, recs...)
	if err == nil && b.after {
		return 0, journal.Unsure(expect, context.DeadlineExceeded)
	}
	return last, err
}

func TestNoClockIsLostWhenTheJournalFails(t *testing.T) {
	for name, fail := range map[string]func(*broken, bool){
		"before storing": func(b *broken, on bool) { b.before = on },
		"after storing":  func(b *broken, on bool) { b.after = on },
	} {
		t.Run(name, func(t *testing.T) {
			j := &broken{Journal: memory.New(memory.Options{})}
			var k *cures.Keeper
			y := newYard(t, j, func(d *record.Desk) clock.Actor { k = cures.NewKeeper(d); return k })
			y.furnish()
			y.read("bay-1", 21)
			y.lay("2207/rd-l", "bay-1")
			y.lay("2207/rd-r", "bay-1")
			y.rest()
			if err := y.time.Advance(30 * time.Minute); err != nil {
				t.Fatal(err)
			}
			y.read("bay-1", 21)
			step := func(on bool) {
				t.Helper()
				fail(j, on)
				for range 10 {
					_, err := k.Step(t.Context(), y.time.Now())
					if on && fault.KindOf(err) != fault.Unavailable || !on && err != nil {
						t.Fatalf("failing %v: %v", on, err)
					}
					if err := y.Writer.Step(t.Context()); err != nil {
						t.Fatal(err)
					}
					if on {
						return
					}
				}
			}
			step(true)
			step(false)
			y.plain()
			if got := about(y.said(), "tooling"); len(got) != 2 {
				t.Errorf("tooling of two beads: %v", got)
			}
			y.late("bay-1", 6, 15)
			late := y.late("bay-1", 6, 5)
			step(true) // what is to be taken back is not lost either
			step(false)
			y.plain()
			if got := about(y.said(), "back by"); len(got) != 2 {
				t.Errorf("taken back by the late reading %d: %v", late, got)
			}
		})
	}
}
