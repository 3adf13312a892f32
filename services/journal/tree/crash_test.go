package tree_test

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"golang.org/x/mod/sumdb/tlog"

	"seamwright/services/fault"
	"seamwright/services/journal/memory"
	"seamwright/services/journal/tree"
)

type disk struct{ leaves, head []byte }

func readDisk(t *testing.T, dir string) disk {
	t.Helper()
	leaves, err := os.ReadFile(filepath.Join(dir, "leaves"))
	if err != nil {
		t.Fatal(err)
	}
	head, err := os.ReadFile(filepath.Join(dir, "head"))
	if err != nil {
		t.Fatal(err)
	}
	return disk{leaves, head}
}

func (d disk) folder(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	for name, b := range map[string][]byte{"leaves": d.leaves, "head": d.head} {
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// What a crash may leave: each file as it was before the last append, as it
// is after it, or torn at any byte between; the store has all nine records.
// Every mixture is sound and is extended to the journal's end.
// So is it at the very first record, whose only older head is the one over
// nothing.
func TestEveryTornWriteIsSound(t *testing.T) {
	t.Run("ninth", func(t *testing.T) { tornWrites(t, 8) })
	t.Run("first", func(t *testing.T) { tornWrites(t, 0) })
}

func tornWrites(t *testing.T, stored int) {
	dir := t.TempDir()
	j := memory.New(memory.Options{})
	k, _ := open(t, j, dir)
	fill(t, k, 1, stored)
	before := readDisk(t, dir)
	fill(t, k, stored+1, 1)
	after := readDisk(t, dir)
	want := k.Head()
	var cases []disk
	for cut := 0; cut <= tlog.HashSize; cut++ { // the last leaf
		leaves := after.leaves[:len(before.leaves)+cut]
		cases = append(cases, disk{leaves, before.head}, disk{leaves, after.head})
	}
	for cut := range len(after.head) + 1 { // the head, torn anywhere
		head := append([]byte(nil), before.head...)
		copy(head, after.head[:cut])
		cases = append(cases, disk{after.leaves, head})
	}
	zeros := append(append([]byte(nil), before.leaves...), make([]byte, tlog.HashSize)...)
	cases = append(
		cases,
		disk{zeros, after.head}, disk{make([]byte, len(after.leaves)), after.head}, // room that was never written
		disk{nil, after.head}, disk{nil, before.head},
	)
	for i, d := range cases {
		folder := d.folder(t)
		k, rep, err := tree.Open(t.Context(), j, folder)
		if err != nil {
			t.Fatalf("case %d: %v", i, err)
		}
		if k.Head() != want {
			t.Errorf("case %d: head %v, want %v", i, k.Head(), want)
		}
		again, err := tree.Verify(t.Context(), j, folder)
		if err != nil || !again.OK() || again.Head != want || len(again.Notes) != 0 {
			t.Errorf("case %d: after opening (%v): %v %v", i, rep.Sentences(), err, again.Sentences())
		}
	}
}

// The head over nothing is on disk before the first record is: a store with
// records whose proof has no head, or is not there, was not left by a crash.
// It does not open, and the files stay as they are.
func TestNoCrashLeavesRecordsWithoutAHead(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "proof")
	j := memory.New(memory.Options{})
	k, _ := open(t, j, dir)
	if d := readDisk(t, dir); len(d.head) == 0 {
		t.Fatal("no head stands before the first record")
	}
	fill(t, k, 1, 9)
	sound := readDisk(t, dir)
	for name, d := range map[string]disk{
		"no head": {sound.leaves, nil}, "zeros": {sound.leaves, make([]byte, len(sound.head))}, "empty files": {nil, nil},
	} {
		folder := d.folder(t)
		if _, _, err := tree.Open(t.Context(), j, folder); !fault.Is(err, "journal-unproven") || fault.KindOf(err) != fault.Corrupt {
			t.Errorf("%s: open: %v", name, err)
		}
		if got := readDisk(t, folder); !bytes.Equal(got.head, d.head) || !bytes.Equal(got.leaves, d.leaves) {
			t.Errorf("%s: the files were written", name)
		}
	}
	if err := os.RemoveAll(dir); err != nil {
		t.Fatal(err)
	}
	if _, _, err := tree.Open(t.Context(), j, dir); !fault.Is(err, "journal-unproven") {
		t.Errorf("no folder: open: %v", err)
	}
	if _, err := os.Stat(dir); !os.IsNotExist(err) {
		t.Errorf("the folder was made: %v", err)
	}
}

// A single turned bit in the files is met with the other slot, or with the
// journal's own records; it is never taken for damage of the journal.
func TestFlippedBitInTheProofIsRepaired(t *testing.T) {
	dir := t.TempDir()
	j := memory.New(memory.Options{})
	k, _ := open(t, j, dir)
	fill(t, k, 1, 5)
	sound := readDisk(t, dir)
	for at := range len(sound.leaves) {
		d := disk{append([]byte(nil), sound.leaves...), sound.head}
		d.leaves[at] ^= 4
		rep, err := tree.Verify(t.Context(), j, d.folder(t))
		if err != nil || !rep.OK() || len(rep.Notes) == 0 {
			t.Fatalf("leaves, byte %d: %v %v", at, err, rep.Sentences())
		}
	}
	for at := range len(sound.head) {
		d := disk{sound.leaves, append([]byte(nil), sound.head...)}
		d.head[at] ^= 4
		rep, err := tree.Verify(t.Context(), j, d.folder(t))
		if err != nil || !rep.OK() || rep.Head.Size < 4 {
			t.Fatalf("head, byte %d: %v %v", at, err, rep.Sentences())
		}
	}
}
