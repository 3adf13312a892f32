package record_test

import (
	"testing"
	"time"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/record"
	"seamwright/services/record/recordtest"
)

func TestFactIsWhatIsSet(t *testing.T) {
	want := &jobsv1.JobOpened{Ro: "2207"}
	if got := record.Fact(&jobsv1.RecordRequest{Fact: &jobsv1.RecordRequest_JobOpened{JobOpened: want}}); got != want {
		t.Errorf("got %v", got)
	}
	if got := record.Fact(&jobsv1.RecordRequest{}); got != nil {
		t.Errorf("an empty request holds %v", got)
	}
	if got := record.Fact(&jobsv1.GetJobRequest{}); got != nil {
		t.Errorf("a query holds the fact %v", got)
	}
}

func TestACommandWithoutAFactIsRefused(t *testing.T) {
	s := recordtest.New()
	_, err := s.Record(t.Context(), floor.Command{Stamp: s.Stamp(floorv1.Role_ROLE_TECHNICIAN)},
		func(f *floor.Floor, c floor.Command, at time.Time) (floor.Event, error) { return f.Decide(c, at) })
	if fault.KindOf(err) != fault.Invalid || s.Writer.Seq() != 0 {
		t.Errorf("got %v", err)
	}
}

// An answer never speaks of a moment before the newest event, even when the
// machine's clock was set back in between.
func TestAViewIsNeverBeforeTheNewestEvent(t *testing.T) {
	s := recordtest.New()
	if err := s.Time.Advance(time.Hour); err != nil {
		t.Fatal(err)
	}
	s.Tell(t, &jobsv1.JobOpened{Ro: "2207", Vehicle: "blue hatchback"})
	s.Clock = setBack{recordtest.Monday}
	err := s.View(t.Context(), 1, func(_ *floor.Floor, now time.Time) {
		if !now.Equal(recordtest.Monday.Add(time.Hour)) {
			t.Errorf("the answer is for %s, the newest event of 08:30", now)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
}

type setBack struct{ at time.Time }

func (c setBack) Now() time.Time { return c.at }
