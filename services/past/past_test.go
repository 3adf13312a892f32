package past_test

import (
	"testing"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	"seamwright/services/floor"
	"seamwright/services/journal"
	"seamwright/services/journal/memory"
	"seamwright/services/past"
)

// A past is the same for the same seed, what a journal keeps of it folds to
// the same floor, and about two thirds of it are readings.
func TestAPastIsSoundAndRepeats(t *testing.T) {
	const n = 8000
	j := memory.New(memory.Options{})
	s, err := past.Fill(t.Context(), j, 7, n)
	if err != nil {
		t.Fatal(err)
	}
	kinds, f := map[string]int{}, floor.New()
	if err := j.Read(t.Context(), 1, journal.End, func(r journal.Record) error {
		ev, err := journal.Decode(r)
		if err != nil {
			return err
		}
		kinds[string(ev.Body.ProtoReflect().Descriptor().Name())]++
		return f.Apply(ev)
	}); err != nil {
		t.Fatal(err)
	}
	again := past.New(7)
	for again.Floor().Seq() < s.Floor().Seq() {
		if _, err := again.Next(); err != nil {
			t.Fatal(err)
		}
	}
	if s.Floor().Seq() != n || f.Hash() != s.Floor().Hash() || f.Hash() != again.Floor().Hash() {
		t.Errorf("event %d, hash %s; read back %s; made again %s", s.Floor().Seq(), s.Floor().Hash(), f.Hash(), again.Floor().Hash())
	}
	var read *curesv1.ReadingTaken
	name := string(read.ProtoReflect().Descriptor().Name())
	if share := float64(kinds[name]) / n; share < 0.55 || share > 0.75 {
		t.Errorf("%.0f %% of the events are readings, of %v", 100*share, kinds)
	}
	for _, want := range []string{"WindowOpened", "WindowClosed", "PermitIssued", "SprayStarted", "RunLaid", "JobDelivered", "FactWithdrawn", "FactCorrected"} {
		if kinds[want] == 0 {
			t.Errorf("no %s among %v", want, kinds)
		}
	}
}
