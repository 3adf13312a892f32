package tree_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/fault"
	"seamwright/services/journal"
	"seamwright/services/journal/memory"
	"seamwright/services/journal/tree"
)

// accepted is a journal of nine records that was accepted without its proof,
// and went on by one record.
func accepted(t *testing.T) (*memory.Journal, string) {
	t.Helper()
	j, dir := nine(t)
	remove(t, dir, "")
	if _, err := tree.Accept(t.Context(), j, dir, word(false)); err != nil {
		t.Fatal(err)
	}
	k, _ := open(t, j, dir)
	fill(t, k, 10, 1)
	return j, dir
}

func notesOf(t *testing.T, dir string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(dir, "accepted.jsonl"))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func write(t *testing.T, dir, name string, b []byte) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(dir, name), b, 0o600); err != nil {
		t.Fatal(err)
	}
}

func verify(t *testing.T, j journal.Journal, dir string) tree.Report {
	t.Helper()
	rep, err := tree.Verify(t.Context(), j, dir)
	if err != nil {
		t.Fatal(err)
	}
	return rep
}

const (
	knows = "; the head of the proof knows of 1 acceptance, the last one at 2026-03-03T12:00:00Z of 9 records."
	since = "All 10 records are there and unchanged, the first 9 since they were accepted at 2026-03-03T12:00:00Z."
)

// Whatever becomes of the file of acceptances is a trouble by its name, and
// does not take away that the records stand since they were accepted. The
// journal opens, says it again, and is sound once the file is back or somebody
// has accepted anew.
func TestALostFileOfAcceptancesIsTold(t *testing.T) {
	for name, c := range map[string]struct {
		damage func(t *testing.T, dir string)
		want   string
	}{
		"gone":  {func(t *testing.T, dir string) { remove(t, dir, "accepted.jsonl") }, "is gone"},
		"empty": {func(t *testing.T, dir string) { write(t, dir, "accepted.jsonl", nil) }, "is empty"},
		"zeroed": {func(t *testing.T, dir string) {
			write(t, dir, "accepted.jsonl", make([]byte, len(notesOf(t, dir))))
		}, "was changed"},
		"a bit of the reason": {func(t *testing.T, dir string) {
			write(t, dir, "accepted.jsonl", bytes.Replace(notesOf(t, dir), []byte("copy"), []byte("cops"), 1))
		}, "was changed"},
		"half": {func(t *testing.T, dir string) {
			write(t, dir, "accepted.jsonl", notesOf(t, dir)[:100])
		}, "has lost its end: 100 bytes of "},
	} {
		t.Run(name, func(t *testing.T) {
			j, dir := accepted(t)
			sound := notesOf(t, dir)
			c.damage(t, dir)
			for range 2 { // and after it was opened and went on
				rep := verify(t, j, dir)
				said := rep.Sentences()
				if rep.OK() || !rep.Proved() || len(rep.Troubles) != 1 || rep.Troubles[0].Kind != tree.BadNotes ||
					!strings.HasPrefix(said[0], "The file of acceptances (accepted.jsonl) "+c.want) || !strings.HasSuffix(said[0], knows) {
					t.Fatalf("troubles %q", said)
				}
				if d := cmp.Diff(strings.Replace(since, "10", counted(rep.Stored), 1), said[1]); d != "" {
					t.Errorf("(-want +got):\n%s", d)
				}
				if err := rep.Err(); fault.KindOf(err) != fault.Corrupt || !fault.Is(err, tree.ReasonNotes) || !strings.Contains(err.Error(), "journal accept --dir DIR") {
					t.Errorf("error %v", err)
				}
				k, opened := open(t, j, dir)
				if last := opened.Accepted[len(opened.Accepted)-1]; !last.Unnamed || !strings.Contains(last.String(), "the file of acceptances (accepted.jsonl) is not what it was") {
					t.Errorf("opened with %q", last)
				}
				fill(t, k, int(rep.Stored)+1, 1)
			}
			here := notesOrNone(t, dir)
			write(t, dir, "accepted.jsonl", sound)
			if rep := verify(t, j, dir); !rep.OK() {
				t.Errorf("with the file back: %q", rep.Sentences())
			}
			if write(t, dir, "accepted.jsonl", here); here == nil {
				remove(t, dir, "accepted.jsonl")
			}
			rep, err := tree.Accept(t.Context(), j, dir, word(false))
			if err != nil || !rep.OK() {
				t.Fatalf("accepted anew: %v %q", err, rep.Sentences())
			}
			last := rep.Accepted[len(rep.Accepted)-1]
			if last.Records != 12 || len(last.Troubles) != 1 || !strings.Contains(last.Troubles[0], c.want) {
				t.Errorf("the new note: %+v", last)
			}
			for _, a := range rep.Accepted[:len(rep.Accepted)-1] {
				if !a.Unvouched || !strings.Contains(a.String(), "NOBODY VOUCHES FOR THIS LINE") {
					t.Errorf("of what stood in the file before it: %q", a)
				}
			}
			if last.Unvouched {
				t.Errorf("nobody vouches for %q", last)
			}
		})
	}
}

func counted(n uint64) string { return map[uint64]string{10: "10", 11: "11"}[n] }

func notesOrNone(t *testing.T, dir string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(dir, "accepted.jsonl"))
	if err != nil && !os.IsNotExist(err) {
		t.Fatal(err)
	}
	return b
}

// A note that a crash kept from being bound does not count, and is no trouble.
func TestANoteWithoutItsHeadIsNoTrouble(t *testing.T) {
	j, dir := accepted(t)
	whole := notesOf(t, dir)
	line := bytes.Replace(whole, []byte("Ansa"), []byte("Orlo"), 1)
	for _, cut := range []int{1, len(line) / 2, len(line)} {
		write(t, dir, "accepted.jsonl", append(bytes.Clone(whole), line[:cut]...))
		rep := verify(t, j, dir)
		if !rep.OK() || len(rep.Accepted) != 1 || rep.Sentences()[0] != since ||
			len(rep.Notes) != 1 || !strings.Contains(rep.Notes[0], "(accepted.jsonl) goes on by ") {
			t.Errorf("%d bytes more: %q", cut, rep.Sentences())
		}
	}
}

// Once somebody accepts again, a line that the head never knew stands in the
// file that is vouched for, and is told apart from the others.
func TestALineThatWasAddedIsNotVouchedFor(t *testing.T) {
	_, dir := accepted(t)
	whole := notesOf(t, dir)
	added := bytes.Replace(whole, []byte("Ansa"), []byte("Orlo"), 1)
	write(t, dir, "accepted.jsonl", append(bytes.Clone(whole), added...))
	older, _ := nine(t) // without the last record
	rep, err := tree.Accept(t.Context(), older, dir, word(true))
	if err != nil || len(rep.Accepted) != 3 {
		t.Fatalf("%v: %q", err, rep.Sentences())
	}
	for i, want := range []bool{false, true, false} {
		if a := rep.Accepted[i]; a.Unvouched != want {
			t.Errorf("line %d: %q, unvouched %v", i+1, a, a.Unvouched)
		}
	}
}

// before writes the head as programs did that bound nothing: magic, size,
// root, half a checksum.
func before(t *testing.T, dir string, h tree.Head) {
	t.Helper()
	one := binary.BigEndian.AppendUint64([]byte("SWHEAD1\n"), h.Size)
	one = append(one, h.Root[:]...)
	sum := sha256.Sum256(one)
	one = append(one, sum[:16]...)
	two := make([]byte, 512, 576)
	copy(two, one)
	write(t, dir, "head", append(two, one...))
}

// The head of a program of before opens beside its file of acceptances, which
// is taken at its word and bound from then on.
func TestAHeadOfBeforeOpensAndBinds(t *testing.T) {
	j, dir := accepted(t)
	before(t, dir, rootOf(t, j))
	if rep := verify(t, j, dir); !rep.OK() || rep.Sentences()[0] != since {
		t.Fatalf("as it was: %q", rep.Sentences())
	}
	sound := notesOf(t, dir)
	remove(t, dir, "accepted.jsonl")
	if rep := verify(t, j, dir); !rep.OK() {
		t.Errorf("nothing is bound: %q", rep.Sentences())
	}
	write(t, dir, "accepted.jsonl", sound)
	open(t, j, dir)
	remove(t, dir, "accepted.jsonl")
	if rep := verify(t, j, dir); rep.OK() || rep.Troubles[0].Kind != tree.BadNotes {
		t.Errorf("after it was opened: %q", rep.Sentences())
	}
}

// A journal that nobody had to accept keeps the head that programs of before
// know.
func TestWithoutAcceptancesTheHeadIsAsBefore(t *testing.T) {
	j, dir := nine(t)
	got := readDisk(t, dir).head
	before(t, dir, rootOf(t, j))
	if want := readDisk(t, dir).head[:64]; !bytes.HasPrefix(got, want) && !bytes.Equal(got[512:], want) {
		t.Errorf("the head is %x", got)
	}
}

// A torn or turned byte in a head that binds is met with the other slot.
func TestAFlippedBitInAHeadThatBindsIsMet(t *testing.T) {
	j, dir := accepted(t)
	sound := readDisk(t, dir).head
	for at := range sound {
		b := bytes.Clone(sound)
		b[at] ^= 4
		write(t, dir, "head", b)
		if rep := verify(t, j, dir); !rep.OK() || rep.Head.Size < 9 || !strings.Contains(rep.Sentences()[0], "the first 9 since they were accepted") {
			t.Fatalf("byte %d: %q", at, rep.Sentences())
		}
	}
}
