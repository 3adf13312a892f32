package cures_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/clock"
	"seamwright/services/journal/memory"
	"seamwright/services/record"
)

// What a bead has not come to when its car leaves is never said: the car is in
// other air. Once the delivery turns out not to have happened, it is.
func TestClocksEndWithTheJob(t *testing.T) {
	for name, steps := range map[string]func(*record.Desk) clock.Actor{"one keeper": steady, "begun anew at every step": restarting} {
		t.Run(name, func(t *testing.T) {
			y := newYard(t, memory.New(memory.Options{}), steps)
			y.furnish()
			y.read("bay-1", 21)
			y.lay("2207/rd-l", "bay-1")
			y.steadily("bay-1", 21, 30)
			left := y.tell(&jobsv1.JobDelivered{Ro: "2207"})
			y.steadily("bay-1", 21, 100)
			if got := about(y.said(), "handling"); len(got) != 0 {
				t.Errorf("said of a car that has left: %v", got)
			}
			if got := about(y.said(), "flow-out"); len(got) != 1 {
				t.Errorf("said before it left: %v", y.said())
			}
			y.withdraw(left)
			y.rest()
			if got := about(y.said(), "handling"); len(got) != 1 {
				t.Errorf("said of a car that did not leave: %v", y.said())
			}
			y.plain()
		})
	}
}

// A keeper that was away says of a car that has left meanwhile what its bead
// had come to when it left, and no more.
func TestWhatAClockHadComeToWhenTheCarLeftIsOwed(t *testing.T) {
	away := true
	y := newYard(t, memory.New(memory.Options{}), func(d *record.Desk) clock.Actor { return &absent{away: &away, Actor: steady(d)} })
	y.furnish()
	y.read("bay-1", 21)
	y.lay("2207/rd-l", "bay-1")
	y.steadily("bay-1", 21, 30) // the sealer has flowed out after 17 minutes
	y.tell(&jobsv1.JobCancelled{Ro: "2207", Why: "towed to another shop"})
	y.steadily("bay-1", 21, 100) // an hour on it could have been handled
	if got := y.said(); len(got) != 0 {
		t.Fatalf("said by nobody: %v", got)
	}
	away = false
	y.until(101)
	y.rest()
	var got []string
	for _, l := range about(y.said(), "2207/rd-l") {
		got = append(got, l[strings.IndexByte(l, ' ')+1:])
	}
	if d := cmp.Diff([]string{"2207/rd-l tooling closed", "2207/rd-l flow-out opened"}, got); d != "" {
		t.Errorf("owed (-want +got):\n%s", d)
	}
}

// absent is a keeper that may be away.
type absent struct {
	away *bool
	clock.Actor
}

func (a *absent) Step(ctx context.Context, now time.Time) (time.Time, error) {
	if *a.away {
		return time.Time{}, nil
	}
	return a.Actor.Step(ctx, now)
}

// What leant on a fact about a car that has left is taken back with it.
func TestAFactOfAnEndedJobIsTakenBack(t *testing.T) {
	y := open(t)
	y.read("bay-1", 21)
	y.steadily("bay-1", 21, 20)
	laid := y.ago(19*time.Minute, bead("2207/rd-l"))
	y.rest()
	y.tell(&jobsv1.JobDelivered{Ro: "2207"})
	y.rest()
	if got := about(y.said(), "flow-out"); len(got) != 1 {
		t.Fatalf("said before the car left: %v", y.said())
	}
	amended := y.tell(&jobsv1.FactCorrected{Sequence: laid, Why: "it was laid just now", Retime: true})
	y.rest()
	if d := cmp.Diff([]string{"opened", "back"}, endings(about(y.said(), "flow-out"))); d != "" {
		t.Errorf("flow-out (-want +got):\n%s\n%v", d, y.said())
	}
	y.causes(amended)
}
