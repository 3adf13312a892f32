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
	if _, err := past.Fill(t.Context(), j, 7, n); err != nil {
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
	again, made := past.New(7), floor.New()
	for range n {
		ev, err := again.Next()
		if err != nil {
			t.Fatal(err)
		}
		if err := made.Apply(ev); err != nil {
			t.Fatal(err)
		}
	}
	if f.Seq() != n || f.Hash() != made.Hash() {
		t.Errorf("read back: event %d, hash %s; made again: %s", f.Seq(), f.Hash(), made.Hash())
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
