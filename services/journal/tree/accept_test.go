package tree_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/fault"
	"seamwright/services/journal"
	"seamwright/services/journal/memory"
	"seamwright/services/journal/tree"
)

// word is what a person says who accepts.
func word(damaged bool) tree.Acceptance {
	return tree.Acceptance{
		At: time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC), Name: "Ansa Vellacorn",
		Reason: "the folder came back from a copy without its proof.", Damaged: damaged,
	}
}

// nine is a journal of nine records with its proof.
func nine(t *testing.T) (*memory.Journal, string) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "proof")
	j := memory.New(memory.Options{})
	k, _ := open(t, j, dir)
	fill(t, k, 1, 9)
	return j, dir
}

const noProof = "9 records stand without a proof: whether one was changed or lost before now cannot be known."

func TestAcceptedRecordsOpenAndTheNoteStays(t *testing.T) {
	j, dir := nine(t)
	remove(t, dir, "")
	rep, err := tree.Accept(t.Context(), j, dir, word(false))
	if err != nil {
		t.Fatal(err)
	}
	note := "At 2026-03-03T12:00:00Z Ansa Vellacorn accepted 9 records as they stood; " +
		"reason: the folder came back from a copy without its proof. Trouble at that time: " + noProof
	want := []string{"All 9 records are there and unchanged since they were accepted at 2026-03-03T12:00:00Z.", note}
	if d := cmp.Diff(want, rep.Sentences()); d != "" {
		t.Errorf("after accepting (-want +got):\n%s", d)
	}
	if rep.Head != rootOf(t, j) || rep.Accepted[0].Records != 9 || rep.Accepted[0].Root != rep.Head.Root {
		t.Errorf("head %v, accepted %+v, journal %v", rep.Head, rep.Accepted, rootOf(t, j))
	}
	k, _ := open(t, j, dir)
	fill(t, k, 10, 2)
	if rep, err = tree.Verify(t.Context(), j, dir); err != nil {
		t.Fatal(err)
	}
	want[0] = "All 11 records are there and unchanged, the first 9 since they were accepted at 2026-03-03T12:00:00Z."
	if d := cmp.Diff(want, rep.Sentences()); d != "" {
		t.Errorf("after two more (-want +got):\n%s", d)
	}
	j.Change(3, func(r *journal.Record) { r.Payload[3] ^= 1 }) // the new proof proves
	if rep, err = tree.Verify(t.Context(), j, dir); err != nil || rep.OK() || rep.Troubles[0].From != 3 {
		t.Errorf("a change after accepting: %v %v", err, rep.Sentences())
	}
}

// What disagrees with a proof is accepted only as damaged, and the note lists
// the troubles.
func TestADisagreeingProofNeedsTheWordDamaged(t *testing.T) {
	for name, damage := range map[string]func(t *testing.T, j *memory.Journal, dir string){
		"changed": func(_ *testing.T, j *memory.Journal, _ string) {
			j.Change(5, func(r *journal.Record) { r.Payload[3] ^= 1 })
		},
		"tail lost":    func(_ *testing.T, j *memory.Journal, _ string) { j.Cut(7) },
		"another head": func(t *testing.T, _ *memory.Journal, dir string) { copyHead(t, dir, otherTree(t, 9)) },
		"head, changed": func(t *testing.T, j *memory.Journal, dir string) {
			j.Change(5, func(r *journal.Record) { r.ID += "x" })
			remove(t, dir, "head")
		},
	} {
		t.Run(name, func(t *testing.T) {
			j, dir := nine(t)
			damage(t, j, dir)
			before, err := tree.Verify(t.Context(), j, dir)
			if err != nil || before.OK() {
				t.Fatalf("damaged: %v %v", err, before.Sentences())
			}
			if _, err := tree.Accept(t.Context(), j, dir, word(false)); !fault.Is(err, "journal-damaged") || !strings.Contains(err.Error(), "--damaged") {
				t.Errorf("accepted without the word: %v", err)
			}
			if same, err := tree.Verify(t.Context(), j, dir); err != nil || cmp.Diff(before, same) != "" {
				t.Errorf("the refusal changed something: %v %v", err, same.Sentences())
			}
			rep, err := tree.Accept(t.Context(), j, dir, word(true))
			if err != nil || !rep.OK() || rep.Head != rootOf(t, j) {
				t.Fatalf("accepted: %v %v", err, rep.Sentences())
			}
			var want []string
			for _, tr := range before.Troubles {
				want = append(want, tr.String())
			}
			if d := cmp.Diff(want, rep.Accepted[0].Troubles); d != "" {
				t.Errorf("the note's troubles (-want +got):\n%s", d)
			}
			k, _ := open(t, j, dir)
			fill(t, k, int(rep.Stored)+1, 1)
		})
	}
}

func TestWhatIsNotAccepted(t *testing.T) {
	j, dir := nine(t)
	if _, err := tree.Accept(t.Context(), j, dir, word(true)); !fault.Is(err, "nothing-to-accept") {
		t.Errorf("a sound journal: %v", err)
	}
	for _, a := range []tree.Acceptance{{Reason: "x"}, {Name: "x"}, {Name: " ", Reason: "x"}, {Name: "x\ny", Reason: "x"}} {
		if _, err := tree.Accept(t.Context(), j, dir, a); fault.KindOf(err) != fault.Invalid {
			t.Errorf("%+v: %v", a, err)
		}
	}
	remove(t, dir, "")
	j.Lose(9) // no shop opens over a hole
	_, err := tree.Accept(t.Context(), j, dir, word(true))
	if !fault.Is(err, "journal-damaged") || !strings.Contains(err.Error(), "Record 9 cannot be read back") || strings.Contains(err.Error(), "--damaged") {
		t.Errorf("a hole: %v", err)
	}
	if _, err := os.Stat(dir); !os.IsNotExist(err) {
		t.Errorf("the folder was made: %v", err)
	}
}

// A crash while accepting leaves the journal as it was or accepted, and a
// torn note does not spoil those around it.
// Nothing at all is not accepted either, where the proof knows of records.
func TestNoRecordIsNoJournal(t *testing.T) {
	j, dir := nine(t)
	j.Cut(0)
	before, err := tree.Verify(t.Context(), j, dir)
	if err != nil {
		t.Fatal(err)
	}
	_, err = tree.Accept(t.Context(), j, dir, word(true))
	if !fault.Is(err, tree.ReasonGone) || !strings.Contains(err.Error(), "9 were acknowledged") || !strings.Contains(err.Error(), "from a copy") || strings.Contains(err.Error(), "--damaged") {
		t.Errorf("accepted nothing for nine records: %v", err)
	}
	if after, err := tree.Verify(t.Context(), j, dir); err != nil || cmp.Diff(before, after) != "" {
		t.Errorf("the refusal changed something: %v %v", err, after.Sentences())
	}
	if n, err := tree.Acknowledged(dir); err != nil || n != 9 {
		t.Errorf("the proof knows of %d records: %v", n, err)
	}
}

func TestAcceptingIsTakenUpAfterACrash(t *testing.T) {
	j, dir := nine(t)
	remove(t, dir, "")
	if _, err := tree.Accept(t.Context(), j, dir, word(false)); err != nil {
		t.Fatal(err)
	}
	notes := filepath.Join(dir, "accepted.jsonl")
	whole, err := os.ReadFile(notes)
	if err != nil {
		t.Fatal(err)
	}
	for _, cut := range []int{0, 1, len(whole) / 2, len(whole) - 1} { // the head was to come last
		remove(t, dir, "head")
		if err := os.WriteFile(notes, whole[:cut], 0o600); err != nil {
			t.Fatal(err)
		}
		if rep, err := tree.Verify(t.Context(), j, dir); err != nil || rep.OK() {
			t.Errorf("cut at %d: %v %v", cut, err, rep.Sentences())
		}
		rep, err := tree.Accept(t.Context(), j, dir, word(false))
		if err != nil || !rep.OK() {
			t.Fatalf("cut at %d: %v %v", cut, err, rep.Sentences())
		}
		accepted, unread := 1, 1 // the new note stands, a torn one is told of
		switch cut {
		case 0:
			unread = 0
		case len(whole) - 1: // only its line's end was missing
			accepted, unread = 2, 0
		}
		if len(rep.Accepted) != accepted || len(rep.Notes) != unread {
			t.Errorf("cut at %d: accepted %+v, notes %q", cut, rep.Accepted, rep.Notes)
		}
	}
}

// Records that the proof has not taken in are not called unchanged.
func TestUnchangedIsSaidOfProvenRecordsOnly(t *testing.T) {
	dir := t.TempDir()
	j := memory.New(memory.Options{})
	k, _ := open(t, j, dir)
	empty := readDisk(t, dir)
	fill(t, k, 1, 8)
	eight := readDisk(t, dir)
	fill(t, j, 9, 3) // a power cut kept the proof from following
	for want, d := range map[string]disk{
		"Records 1 to 8 are there and unchanged; the proof has not taken in those after them, up to 11, yet.":            eight,
		"All 11 records are there; the proof has taken in none of them yet, so whether one was changed cannot be known.": empty,
	} {
		rep, err := tree.Verify(t.Context(), j, d.folder(t))
		if err != nil || !rep.OK() || rep.Sentences()[0] != want {
			t.Errorf("%v %q, want %q", err, rep.Sentences(), want)
		}
	}
}
