package tree_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/mod/sumdb/tlog"

	"seamwright/services/fault"
	"seamwright/services/floor"
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

// What is opened hands on every record that it read, once and in order, with
// its event; of a damaged journal it does so as well, up to the damage and
// behind it, and then refuses it.
func TestOpenHandsOnWhatItReads(t *testing.T) {
	j, dir := nine(t)
	read := func() (got []string, err error) {
		k, _, err := tree.OpenEach(t.Context(), j, dir, func(r journal.Record, e floor.Event, err error) {
			if err != nil || e.Seq != r.Seq || e.CommandID != r.ID {
				t.Errorf("record %d: event %+v, %v", r.Seq, e, err)
			}
			got = append(got, r.ID)
		})
		if (k == nil) != (err != nil) {
			t.Errorf("keeper %v, %v", k, err)
		}
		return got, err
	}
	want := []string{"r-1", "r-2", "r-3", "r-4", "r-5", "r-6", "r-7", "r-8", "r-9"}
	if got, err := read(); err != nil || cmp.Diff(want, got) != "" {
		t.Errorf("sound: %v, %v", got, err)
	}
	j.Lose(4)
	want = slices.Delete(want, 3, 4)
	if got, err := read(); fault.KindOf(err) != fault.Corrupt || cmp.Diff(want, got) != "" {
		t.Errorf("with a hole: %v, %v", got, err)
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
		changed := r.Clone()
		changed.Payload[0] ^= 1
		if tlog.CheckRecord(p, n, h.Root, i, tree.Leaf(changed)) == nil {
			return fmt.Errorf("record %d: a changed one is proven", r.Seq)
		}
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
