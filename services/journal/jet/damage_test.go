package jet_test

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/fault"
	"seamwright/services/journal"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/journaltest"
	"seamwright/services/journal/tree"
)

func (s *shop) proof() string { return filepath.Join(s.dir, "proof") }

// keep opens the journal with its proof and appends n records.
func (s *shop) keep(t *testing.T, n, payload int) {
	t.Helper()
	k, rep, err := tree.Open(t.Context(), s.open(t), s.proof())
	if err != nil {
		t.Fatal(err, rep.Sentences())
	}
	for i := 1; i <= n; i++ {
		r := journaltest.Record(t, fmt.Sprintf("r-%d", i), i)
		if payload > 0 {
			r.Payload = bytes.Repeat([]byte{byte(i)}, payload)
		}
		if _, err := k.Append(t.Context(), uint64(i-1), r); err != nil {
			t.Fatal(err)
		}
	}
	if err := k.Close(); err != nil {
		t.Fatal(err)
	}
}

// A real store on disk is damaged while the server is down; after the start
// the verification names the record.
func TestDamagedStoreIsNamed(t *testing.T) {
	const changed = "Record 5 (google.protobuf.StringValue) is not what was acknowledged: its bytes were changed."
	for name, c := range map[string]struct {
		damage func(t *testing.T, s *shop)
		want   []string
	}{
		"nothing":            {func(*testing.T, *shop) {}, nil},
		"nothing, no index":  {func(t *testing.T, s *shop) { s.dropIndex(t) }, nil},
		"a bit flipped":      {func(t *testing.T, s *shop) { s.flip(t, "r-5") }, []string{"Record 5 cannot be read back: it is missing or its bytes were changed; its leaf is in the proof."}},
		"the first flipped":  {func(t *testing.T, s *shop) { s.flip(t, "r-1") }, []string{"Record 1 cannot be read back: it is missing or its bytes were changed; its leaf is in the proof."}},
		"a byte forged":      {func(t *testing.T, s *shop) { s.forge(t, "r-5") }, []string{changed}},
		"forged, no index":   {func(t *testing.T, s *shop) { s.forge(t, "r-5"); s.dropIndex(t) }, []string{changed}},
		"the block cut":      {func(t *testing.T, s *shop) { s.truncate(t, "r-7") }, []string{"The journal ends at record 6, but 9 were acknowledged: what came after is lost."}},
		"bit flip, no index": {func(t *testing.T, s *shop) { s.flip(t, "r-5"); s.dropIndex(t) }, []string{"The journal ends at record 4, but 9 were acknowledged: what came after is lost."}},
		"the last flipped":   {func(t *testing.T, s *shop) { s.flip(t, "r-9"); s.dropIndex(t) }, []string{"The journal ends at record 8, but 9 were acknowledged: what came after is lost."}},
		"the block deleted": {
			func(t *testing.T, s *shop) { s.deleteBlock(t) }, // the index still tells of nine
			[]string{"Records 1 to 9 cannot be read back: they are missing or their bytes were changed; their leaves are in the proof."},
		},
		"the stream deleted": {
			func(t *testing.T, s *shop) {
				if err := os.RemoveAll(s.folder()); err != nil {
					t.Fatal(err)
				}
			},
			[]string{"The journal ends at record 0, but 9 were acknowledged: what came after is lost."},
		},
	} {
		t.Run(name, func(t *testing.T) {
			s := newShop(t, jet.Options{})
			s.keep(t, 9, 0)
			s.stop()
			c.damage(t, s)
			s.start(t)
			s.wantTroubles(t, c.want)
		})
	}
}

// wantTroubles verifies, and checks that a damaged journal takes no append.
func (s *shop) wantTroubles(t *testing.T, want []string) {
	t.Helper()
	j := s.open(t)
	rep, err := tree.Verify(t.Context(), j, s.proof())
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, tr := range rep.Troubles {
		got = append(got, tr.String())
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	k, _, err := tree.Open(t.Context(), j, s.proof())
	if want == nil && err != nil || want != nil && fault.KindOf(err) != fault.Corrupt {
		t.Errorf("open: %v", err)
	}
	if k != nil {
		k.Close()
	}
}

func (s *shop) deleteBlock(t *testing.T) {
	t.Helper()
	if err := os.Remove(s.block()); err != nil {
		t.Fatal(err)
	}
}

// A store of several blocks loses its first one: a hole at the beginning,
// while the rest is there.
func TestLostBlockIsNamed(t *testing.T) {
	const records, payload = 14, 800 << 10
	s := newShop(t, jet.Options{})
	s.keep(t, records, payload)
	s.stop()
	blocks, err := filepath.Glob(filepath.Join(s.folder(), "msgs", "*.blk"))
	if err != nil || len(blocks) < 2 {
		t.Fatalf("blocks %v, %v: the test needs two", blocks, err)
	}
	s.deleteBlock(t)
	s.start(t)
	var first uint64
	j := s.open(t)
	err = j.Read(t.Context(), 1, journal.End, func(journal.Record) error { return nil })
	if g, ok := err.(*journal.GapError); !ok || g.Want != 1 || g.Got < 2 || g.Got > records {
		t.Fatalf("read: %v, want a gap from 1 on", err)
	} else {
		first = g.Got
	}
	s.wantTroubles(t, []string{fmt.Sprintf("Records 1 to %d cannot be read back: they are missing or their bytes were changed; their leaves are in the proof.", first-1)})
}
