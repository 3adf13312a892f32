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

// A disk that is all but full refuses facts at once, and stores nothing of
// them; what the gate must record is not asked about.
func TestAFactIsRefusedWithoutRoom(t *testing.T) {
	s := recordtest.New()
	full := fault.New(fault.Unavailable, "disk-full", "the disk is full", "free some space")
	s.Room = func() error { return full }
	c := floor.Command{Stamp: s.Stamp(floorv1.Role_ROLE_FOREMAN), Body: &jobsv1.JobOpened{Ro: "2207", Vehicle: "blue hatchback"}}
	decide := func(f *floor.Floor, c floor.Command, at time.Time) (floor.Event, error) { return f.Decide(c, at) }
	if _, err := s.Record(t.Context(), c, decide); !fault.Is(err, "disk-full") || s.Writer.Seq() != 0 {
		t.Errorf("on a full disk: %v, and event %d is stored", err, s.Writer.Seq())
	}
	s.Room = nil
	if _, err := s.Record(t.Context(), c, decide); err != nil || s.Writer.Seq() != 1 {
		t.Errorf("told again with room: %v, and event %d is stored", err, s.Writer.Seq())
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

// The same command id for the same fact is answered with the first receipt;
// for another fact, of whatever type, it is refused, since that fact would be
// lost otherwise.
func TestACommandIDIsForOneFact(t *testing.T) {
	s := recordtest.New()
	stamp := s.Stamp(floorv1.Role_ROLE_TECHNICIAN)
	tell := func(ro string) (*floorv1.Receipt, error) {
		return s.Record(t.Context(), floor.Command{Stamp: stamp, Body: &jobsv1.JobOpened{Ro: ro, Vehicle: "blue hatchback", Vin: "0ZZEST4DZPA002214"}},
			func(f *floor.Floor, c floor.Command, at time.Time) (floor.Event, error) { return f.Decide(c, at) })
	}
	first, err := tell("2207")
	if err != nil || first.GetRepeated() || len(first.GetFindings()) == 0 {
		t.Fatalf("first told: %v, %v; want a receipt with a finding", first, err)
	}
	again, err := tell("2207")
	if err != nil || !again.GetRepeated() || again.GetSequence() != first.GetSequence() {
		t.Errorf("told again: %v, %v; want the first receipt", again, err)
	}
	if _, err := tell("2208"); fault.KindOf(err) != fault.Exists || !fault.Is(err, "command-id-reused") {
		t.Errorf("another job under the same id: %v; want command-id-reused", err)
	}
	if s.Writer.Seq() != first.GetSequence() {
		t.Errorf("the journal stands at %d, want %d", s.Writer.Seq(), first.GetSequence())
	}
}
