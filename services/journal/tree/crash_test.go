package tree_test

import (
	"os"
	"path/filepath"
	"testing"

	"golang.org/x/mod/sumdb/tlog"

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
func TestEveryTornWriteIsSound(t *testing.T) {
	dir := t.TempDir()
	j := memory.New(memory.Options{})
	k, _ := open(t, j, dir)
	fill(t, k, 1, 8)
	before := readDisk(t, dir)
	fill(t, k, 9, 1)
	after := readDisk(t, dir)
	want := k.Head()
	var cases []disk
	for cut := 0; cut <= tlog.HashSize; cut++ { // the ninth leaf
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
		disk{nil, after.head}, disk{after.leaves, nil}, disk{nil, nil},
		disk{before.leaves, make([]byte, len(after.head))},
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
