package tree_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/mod/sumdb/tlog"

	"seamwright/services/fault"
	"seamwright/services/journal"
	"seamwright/services/journal/journaltest"
	"seamwright/services/journal/memory"
	"seamwright/services/journal/tree"
)

func open(t *testing.T, j journal.Journal, dir string) (*tree.Keeper, tree.Report) {
	t.Helper()
	k, rep, err := tree.Open(t.Context(), j, dir)
	if err != nil {
		t.Fatal(err)
	}
	return k, rep
}

// fill appends n records from number `from` on.
func fill(t *testing.T, j journal.Journal, from, n int) {
	t.Helper()
	for i := from; i < from+n; i++ {
		if _, err := j.Append(t.Context(), uint64(i-1), journaltest.Record(t, fmt.Sprintf("r-%d", i), i)); err != nil {
			t.Fatal(err)
		}
	}
}

// rootOf computes the root over a journal without the keeper's files.
func rootOf(t *testing.T, j journal.Journal) tree.Head {
	t.Helper()
	var f tree.Frontier
	if err := j.Read(t.Context(), 1, journal.End, func(r journal.Record) error {
		f.Push(tree.Leaf(r))
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	return f.Head()
}

func TestKeeperConforms(t *testing.T) {
	journaltest.Run(t, func(t *testing.T, o journaltest.Options) *journaltest.Harness {
		opts := memory.Options{}
		if o.ForgetSoon {
			opts.Remember = 4
		}
		j := memory.New(opts)
		k, _ := open(t, j, t.TempDir())
		return &journaltest.Harness{
			Open: func(*testing.T) journal.Journal { return k },
			Lose: func(_ *testing.T, seq, _ uint64) { j.Lose(seq) },
		}
	})
}

func TestHeadFollowsEveryAppend(t *testing.T) {
	dir := t.TempDir()
	j := memory.New(memory.Options{})
	k, _ := open(t, j, dir)
	check := func(size uint64) {
		t.Helper()
		rep, err := tree.Verify(t.Context(), j, dir)
		if err != nil || !rep.OK() {
			t.Fatalf("verify: %v %v", err, rep.Sentences())
		}
		if d := cmp.Diff(rootOf(t, j), rep.Head); d != "" || rep.Head.Size != size || k.Head() != rep.Head {
			t.Fatalf("head after %d records (-journal +file):\n%s", size, d)
		}
	}
	check(0)
	fill(t, k, 1, 3)
	check(3)
	if _, err := k.Append(t.Context(), 3, journaltest.Record(t, "a", 4), journaltest.Record(t, "b", 5)); err != nil {
		t.Fatal(err)
	}
	check(5)
	fill(t, j, 6, 4) // another process appends
	fill(t, k, 10, 1)
	check(10)
	if _, err := k.Append(t.Context(), 3, journaltest.Record(t, "c", 4)); !fault.Is(err, journal.ReasonConflict) {
		t.Fatal(err)
	}
	check(10)
	k2, rep := open(t, j, dir)
	if !rep.OK() || len(rep.Notes) != 0 || k2.Head() != k.Head() {
		t.Errorf("opened again: %v", rep.Sentences())
	}
}

func TestRunTakesInWhatOthersAppend(t *testing.T) {
	j := memory.New(memory.Options{})
	k, _ := open(t, j, t.TempDir())
	fill(t, j, 1, 7)
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- k.Run(ctx) }()
	for k.Head().Size < 7 {
		if err := k.Healthy(); err != nil {
			t.Fatal(err)
		}
	}
	cancel()
	<-ended
	if k.Head() != rootOf(t, j) {
		t.Error("the head is not the journal's")
	}
}

func TestEveryRecordCanBeProven(t *testing.T) {
	j := memory.New(memory.Options{})
	k, _ := open(t, j, t.TempDir())
	fill(t, k, 1, 37)
	h := k.Head()
	n := int64(h.Size)
	if err := j.Read(t.Context(), 1, journal.End, func(r journal.Record) error {
		i := int64(r.Seq) - 1
		p, err := tlog.ProveRecord(n, i, k)
		if err != nil {
			return err
		}
		r.Payload[0] ^= 1
		if tlog.CheckRecord(p, n, h.Root, i, tree.Leaf(r)) == nil {
			return fmt.Errorf("record %d: a changed one is proven", r.Seq)
		}
		r.Payload[0] ^= 1
		return tlog.CheckRecord(p, n, h.Root, i, tree.Leaf(r))
	}); err != nil {
		t.Fatal(err)
	}
}

func TestClosedKeeperAndBadFolder(t *testing.T) {
	k, _ := open(t, memory.New(memory.Options{}), t.TempDir())
	if err := k.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := k.Append(t.Context(), 0, journaltest.Record(t, "late", 1)); !fault.Is(err, journal.ReasonClosed) {
		t.Errorf("append after close: %v", err)
	}
	file := filepath.Join(t.TempDir(), "no-folder")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, _, err := tree.Open(t.Context(), memory.New(memory.Options{}), file); !fault.Is(err, "proof-files") {
		t.Errorf("a folder that is a file: %v", err)
	}
}

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

func copyHead(t *testing.T, dir, from string) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(from, "head"))
	if err == nil {
		err = os.WriteFile(filepath.Join(dir, "head"), b, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
}
