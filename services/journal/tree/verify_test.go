package tree_test

import (
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

// damage is done to a journal of nine records with its proof; what Verify
// must say is the whole list of troubles.
func TestVerifyNamesTheTrouble(t *testing.T) {
	for name, c := range map[string]struct {
		damage func(t *testing.T, j *memory.Journal, dir string)
		want   []string
	}{
		"nothing": {func(*testing.T, *memory.Journal, string) {}, nil},
		"a hole": {
			func(_ *testing.T, j *memory.Journal, _ string) { j.Lose(4) },
			[]string{"Record 4 cannot be read back: it is missing or its bytes were changed; its leaf is in the proof."},
		},
		"a wide hole and another": {
			func(_ *testing.T, j *memory.Journal, _ string) {
				for _, n := range []uint64{1, 2, 3, 7} {
					j.Lose(n)
				}
			},
			[]string{
				"Records 1 to 3 cannot be read back: they are missing or their bytes were changed; their leaves are in the proof.",
				"Record 7 cannot be read back: it is missing or its bytes were changed; its leaf is in the proof.",
			},
		},
		"the last one is a hole": {
			func(_ *testing.T, j *memory.Journal, _ string) { j.Lose(9) },
			[]string{"Record 9 cannot be read back: it is missing or its bytes were changed; its leaf is in the proof."},
		},
		"a changed byte": {
			func(_ *testing.T, j *memory.Journal, _ string) {
				j.Change(5, func(r *journal.Record) { r.Payload[3] ^= 0x10 })
			},
			[]string{"Record 5 (google.protobuf.StringValue) is not what was acknowledged: its bytes were changed."},
		},
		"changed bytes one after the other": {
			func(_ *testing.T, j *memory.Journal, _ string) {
				for _, n := range []uint64{3, 4, 5, 8} {
					j.Change(n, func(r *journal.Record) { r.Payload[3] ^= 0x10 })
				}
			},
			[]string{
				"Records 3 to 5 (google.protobuf.StringValue) are not what was acknowledged: their bytes were changed.",
				"Record 8 (google.protobuf.StringValue) is not what was acknowledged: its bytes were changed.",
			},
		},
		"changed records of several types": {
			func(_ *testing.T, j *memory.Journal, _ string) {
				j.Change(6, func(r *journal.Record) { r.ID += "x" })
				j.Change(7, func(r *journal.Record) { r.Type = "google.protobuf.BytesValue" })
			},
			[]string{"Records 6 to 7 are not what was acknowledged: their bytes were changed."},
		},
		"the first three changed": { // not the great part
			func(_ *testing.T, j *memory.Journal, _ string) {
				for n := range uint64(3) {
					j.Change(n+1, func(r *journal.Record) { r.ID += "x" })
				}
			},
			[]string{"Records 1 to 3 (google.protobuf.StringValue) are not what was acknowledged: their bytes were changed."},
		},
		"the proof of another journal": {
			func(t *testing.T, _ *memory.Journal, dir string) { copyProof(t, dir, otherTree(t, 9)) },
			[]string{"Records 1 to 9 (google.protobuf.StringValue) differ from what was acknowledged: the proof is probably another journal's."},
		},
		"the longer proof of another journal, and a hole": {
			func(t *testing.T, j *memory.Journal, dir string) { copyProof(t, dir, otherTree(t, 12)); j.Lose(7) },
			[]string{
				"Records 1 to 6 (google.protobuf.StringValue) differ from what was acknowledged: the proof is probably another journal's.",
				"Record 7 cannot be read back: it is missing or its bytes were changed; its leaf is in the proof.",
				"Records 8 to 9 (google.protobuf.StringValue) differ from what was acknowledged.",
				"The journal ends at record 9, but 12 were acknowledged: what came after is lost.",
			},
		},
		"a changed actor": {
			func(_ *testing.T, j *memory.Journal, _ string) {
				j.Change(2, func(r *journal.Record) { r.Attrs["actor"] = "Somebody Else" })
			},
			[]string{"Record 2 (google.protobuf.StringValue) is not what was acknowledged: its bytes were changed."},
		},
		"a lost tail": {
			func(_ *testing.T, j *memory.Journal, _ string) { j.Cut(7) },
			[]string{"The journal ends at record 7, but 9 were acknowledged: what came after is lost."},
		},
		"everything lost": {
			func(_ *testing.T, j *memory.Journal, _ string) { j.Cut(0) },
			[]string{"The journal ends at record 0, but 9 were acknowledged: what came after is lost."},
		},
		"a lost tail and no file of leaves": {
			func(t *testing.T, j *memory.Journal, dir string) { j.Cut(7); remove(t, dir, "leaves") },
			[]string{"The journal ends at record 7, but 9 were acknowledged: what came after is lost."},
		},
		"a lost tail and no head": {
			func(t *testing.T, j *memory.Journal, dir string) { j.Cut(7); remove(t, dir, "head") },
			[]string{
				"7 records stand without the head of the proof: whether one was changed or lost before now cannot be known, for nothing vouches for the leaves (9 are left).",
				"The journal ends at record 7, but 9 were acknowledged: what came after is lost.",
			},
		},
		"no head": {
			func(t *testing.T, _ *memory.Journal, dir string) { remove(t, dir, "head") },
			[]string{"9 records stand without the head of the proof: whether one was changed or lost before now cannot be known, for nothing vouches for the leaves (9 are left)."},
		},
		"a torn head in both slots": {
			func(t *testing.T, _ *memory.Journal, dir string) {
				if err := os.WriteFile(filepath.Join(dir, "head"), make([]byte, 576), 0o600); err != nil {
					t.Fatal(err)
				}
			},
			[]string{"9 records stand without the head of the proof: whether one was changed or lost before now cannot be known, for nothing vouches for the leaves (9 are left)."},
		},
		"no proof": {
			func(t *testing.T, _ *memory.Journal, dir string) { remove(t, dir, "") },
			[]string{"9 records stand without a proof: whether one was changed or lost before now cannot be known."},
		},
		"no proof and no last three": {
			func(t *testing.T, j *memory.Journal, dir string) {
				remove(t, dir, "")
				for n := range uint64(3) {
					j.Lose(7 + n)
				}
			},
			[]string{
				"6 records stand without a proof: whether one was changed or lost before now cannot be known.",
				"Records 7 to 9 cannot be read back: they are missing or their bytes were changed; the proof has no leaves of them.",
			},
		},
		"a changed record and no head": {
			func(t *testing.T, j *memory.Journal, dir string) {
				j.Change(5, func(r *journal.Record) { r.Payload[3] ^= 0x10 })
				remove(t, dir, "head")
			},
			[]string{
				"9 records stand without the head of the proof: whether one was changed or lost before now cannot be known, for nothing vouches for the leaves (9 are left).",
				"Record 5 (google.protobuf.StringValue) is not what was acknowledged: its bytes were changed.",
			},
		},
		"a head of another tree": {
			func(t *testing.T, _ *memory.Journal, dir string) { copyHead(t, dir, otherTree(t, 9)) },
			[]string{"The head over 9 records matches neither the records nor the leaves: a record or the proof itself was changed."},
		},
		"a changed record and its leaf": {
			func(t *testing.T, j *memory.Journal, dir string) {
				j.Change(5, func(r *journal.Record) { r.Payload[3] ^= 0x10 })
				remove(t, dir, "leaves")
			},
			[]string{"The head over 9 records matches neither the records nor the leaves: a record or the proof itself was changed."},
		},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			j := memory.New(memory.Options{})
			k, _ := open(t, j, dir)
			fill(t, k, 1, 9)
			c.damage(t, j, dir)
			rep, err := tree.Verify(t.Context(), j, dir)
			if err != nil {
				t.Fatal(err)
			}
			var got []string
			for _, tr := range rep.Troubles {
				got = append(got, tr.String())
			}
			if d := cmp.Diff(c.want, got); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
			_, _, err = tree.Open(t.Context(), j, dir)
			if (err == nil) != (c.want == nil) {
				t.Errorf("open: %v", err)
			}
			if c.want != nil && (fault.KindOf(err) != fault.Corrupt || !strings.Contains(err.Error(), strings.TrimSuffix(c.want[0], "."))) {
				t.Errorf("open's error does not tell the trouble: %v", err)
			}
		})
	}
}

func remove(t *testing.T, dir, name string) {
	t.Helper()
	if err := os.RemoveAll(filepath.Join(dir, name)); err != nil {
		t.Fatal(err)
	}
}

// otherTree is the folder of a proof over n other records.
func otherTree(t *testing.T, n int) string {
	t.Helper()
	dir := t.TempDir()
	k, _ := open(t, memory.New(memory.Options{Shop: "another"}), dir)
	fill(t, k, 1, n)
	return dir
}

func copyHead(t *testing.T, dir, from string) { t.Helper(); copyFile(t, dir, from, "head") }

func copyProof(t *testing.T, dir, from string) {
	t.Helper()
	copyHead(t, dir, from)
	copyFile(t, dir, from, "leaves")
}

func copyFile(t *testing.T, dir, from, name string) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(from, name))
	if err != nil {
		t.Fatal(err)
	}
	write(t, dir, name, b)
}

// A proof that lags by more than a crash leaves is told; one that lags by a few
// records, or is older than nothing, is not.
func TestAProofFarBehindIsTold(t *testing.T) {
	j, dir := nine(t)
	rep := func() tree.Report {
		t.Helper()
		r, err := tree.Verify(t.Context(), j, dir)
		if err != nil || !r.OK() {
			t.Fatal(err, r.Sentences())
		}
		return r
	}
	if far := rep().FarBehind(); far != "" {
		t.Errorf("up to date: %s", far)
	}
	fill(t, j, 10, 1000)
	if far := rep().FarBehind(); far != "" {
		t.Errorf("1000 behind: %s", far)
	}
	fill(t, j, 1010, 1)
	if far := rep().FarBehind(); !strings.HasPrefix(far, "ATTENTION: 1001 records stand behind") {
		t.Errorf("1001 behind: %q", far)
	}
	j.Cut(0)
	r, err := tree.Verify(t.Context(), j, dir)
	if err != nil || r.FarBehind() != "" {
		t.Errorf("nothing left: %v %q", err, r.FarBehind())
	}
}
