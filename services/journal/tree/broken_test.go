package tree

import (
	"testing"
	"time"

	"seamwright/services/fault"
	"seamwright/services/journal"
	"seamwright/services/journal/memory"
)

// The append that meets a file which cannot be written has stored its
// record and says so; the next one is refused, and nothing is stored.
func TestAppendIsRefusedWhenTheProofCannotBeWritten(t *testing.T) {
	dir := t.TempDir()
	j := memory.New(memory.Options{})
	k, _, err := Open(t.Context(), j, dir)
	if err != nil {
		t.Fatal(err)
	}
	rec := func(id string) journal.Record {
		return journal.Record{ID: id, Type: "t", Aggregate: "a", Time: time.Unix(1, 0)}
	}
	if err := k.files.leaves.Close(); err != nil { // every write fails from here on
		t.Fatal(err)
	}
	if last, err := k.Append(t.Context(), 0, rec("stored")); last != 1 || err != nil {
		t.Errorf("the append that met it: %d, %v; its record is stored", last, err)
	}
	if _, err := k.Append(t.Context(), 1, rec("refused")); !fault.Is(err, "proof-not-kept") || fault.KindOf(err) != fault.Unavailable {
		t.Errorf("the next append: %v", err)
	}
	if last, _ := j.Last(t.Context()); last != 1 {
		t.Errorf("the journal ends at %d, want 1", last)
	}
	again, rep, err := Open(t.Context(), j, dir)
	if err != nil || again.Head().Size != 1 {
		t.Errorf("opened again: %v %v", err, rep.Sentences())
	}
}
