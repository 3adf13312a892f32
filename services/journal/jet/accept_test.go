package jet_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"seamwright/services/fault"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/journaltest"
	"seamwright/services/journal/tree"
)

// A real store loses its proof, or the proof's head, while the server is
// down. It does not open until somebody accepts it; then it does, goes on,
// and the note is there after the next start. With a byte changed as well it
// needs the word "damaged", and with a record that the store hides there is
// nothing to accept.
func TestAStoreWithoutItsProofIsAccepted(t *testing.T) {
	for name, c := range map[string]struct {
		damage  func(t *testing.T, s *shop)
		first   string // of the report
		refused string // reason without the word "damaged"; empty: accepted
		never   bool   // not with the word either
	}{
		"no proof": {
			func(t *testing.T, s *shop) { drop(t, s.proof()) },
			"9 records stand without a proof: whether one was changed or lost before now cannot be known.", "", false,
		},
		"no head": {
			func(t *testing.T, s *shop) { drop(t, filepath.Join(s.proof(), "head")) },
			"9 records stand without the head of the proof: whether one was changed or lost before now cannot be known, for nothing vouches for the leaves (9 are left).", "", false,
		},
		"forged": {
			func(t *testing.T, s *shop) { s.forge(t, "r-5") },
			"Record 5 (google.protobuf.StringValue) is not what was acknowledged: its bytes were changed.", "journal-damaged", false,
		},
		"cut": {
			func(t *testing.T, s *shop) { s.truncate(t, "r-7") },
			"The journal ends at record 6, but 9 were acknowledged: what came after is lost.", "journal-damaged", false,
		},
		"flipped": {
			func(t *testing.T, s *shop) { s.flip(t, "r-5") },
			"Record 5 cannot be read back: it is missing or its bytes were changed; its leaf is in the proof.", "journal-damaged", true,
		},
	} {
		t.Run(name, func(t *testing.T) {
			s := newShop(t, jet.Options{})
			s.keep(t, 9, 0)
			s.stop()
			c.damage(t, s)
			s.start(t)
			j := s.open(t)
			_, rep, err := tree.Open(t.Context(), j, s.proof())
			if fault.KindOf(err) != fault.Corrupt || rep.Sentences()[0] != c.first || strings.Contains(strings.Join(rep.Sentences(), " "), "unchanged") {
				t.Fatalf("open: %v, %q", err, rep.Sentences())
			}
			say := tree.Acceptance{At: time.Unix(1772539200, 0), Name: "Ansa Vellacorn", Reason: "there is no copy"}
			_, err = tree.Accept(t.Context(), j, s.proof(), say)
			if c.refused == "" && err != nil || c.refused != "" && !fault.Is(err, c.refused) {
				t.Fatalf("accept: %v, want %q", err, c.refused)
			}
			if c.refused != "" {
				say.Damaged = true
				if _, err = tree.Accept(t.Context(), j, s.proof(), say); (err != nil) != c.never {
					t.Fatalf("accept as damaged: %v", err)
				}
			}
			if !c.never {
				s.goOn(t, c.first)
			}
		})
	}
}

// goOn opens an accepted journal, appends to it and starts the server again:
// the journal is sound, and the note tells of the trouble.
func (s *shop) goOn(t *testing.T, trouble string) {
	t.Helper()
	k, rep, err := tree.Open(t.Context(), s.open(t), s.proof())
	if err != nil {
		t.Fatal(err, rep.Sentences())
	}
	if _, err := k.Append(t.Context(), rep.Stored, journaltest.Record(t, "later", 1)); err != nil {
		t.Fatal(err)
	}
	if err := k.Close(); err != nil {
		t.Fatal(err)
	}
	s.stop()
	s.start(t)
	again, err := tree.Verify(t.Context(), s.open(t), s.proof())
	if err != nil || !again.OK() || again.Stored != rep.Stored+1 || len(again.Accepted) != 1 || again.Accepted[0].Troubles[0] != trouble {
		t.Errorf("later: %v %q", err, again.Sentences())
	}
}

func drop(t *testing.T, path string) {
	t.Helper()
	if err := os.RemoveAll(path); err != nil {
		t.Fatal(err)
	}
}
