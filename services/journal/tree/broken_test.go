package tree

import (
	"os"
	"path/filepath"
	"strings"
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

// Files of the proof that were moved away while the program runs go on taking
// in leaves, for nobody. It is seen, and nothing more is recorded.
func TestAProofThatIsTakenAwayIsSeen(t *testing.T) {
	for _, name := range []string{"leaves", "head"} {
		dir := t.TempDir()
		k, _, err := Open(t.Context(), memory.New(memory.Options{}), dir)
		if err != nil {
			t.Fatal(err)
		}
		if err := k.Look(); err != nil {
			t.Errorf("in its place: %v", err)
		}
		if err := os.Rename(filepath.Join(dir, name), filepath.Join(dir, "elsewhere")); err != nil {
			t.Fatal(err)
		}
		if err := k.Look(); !fault.Is(err, "proof-not-kept") || !strings.Contains(err.Error(), name) {
			t.Errorf("without %s: %v", name, err)
		}
		if _, err := k.Append(t.Context(), 0, journal.Record{ID: "c-1", Type: "t", Aggregate: "a", Time: time.Unix(1, 0)}); !fault.Is(err, "proof-not-kept") {
			t.Errorf("without %s a record is taken: %v", name, err)
		}
		if err := k.Close(); err != nil {
			t.Error(err)
		}
	}
}
