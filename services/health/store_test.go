package health_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"seamwright/services/fault"
	"seamwright/services/health"
	"seamwright/services/journal"
	"seamwright/services/journal/memory"
	"seamwright/services/journal/tree"
)

func TestADiskThatTakesNothingIsTrouble(t *testing.T) {
	dir := t.TempDir()
	sound := &health.Disk{Dir: filepath.Join(dir, "health"), MinFree: 1}
	for range 3 {
		if err := sound.Look(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	if b, err := os.ReadFile(filepath.Join(dir, "health", "written")); err != nil || string(b) != "3\n" {
		t.Errorf("the file holds %q, %v", b, err)
	}
	short := &health.Disk{Dir: dir, MinFree: 1 << 62}
	if err := short.Look(t.Context()); !fault.Is(err, health.DiskFull) {
		t.Errorf("less free than wanted: %v", err)
	}
	file := filepath.Join(dir, "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := short.Room(); !fault.Is(err, health.DiskFull) {
		t.Errorf("room for facts on a full disk: %v", err)
	}
	if err := sound.Room(); err != nil {
		t.Errorf("no room on a sound disk: %v", err)
	}
	var st syscall.Statfs_t
	if err := syscall.Statfs(dir, &st); err != nil {
		t.Fatal(err)
	}
	some := &health.Disk{Dir: dir, MinFree: 2 * st.Bavail * uint64(st.Bsize)} // half of it is there
	if err := some.Look(t.Context()); !fault.Is(err, health.DiskFull) || some.Room() != nil {
		t.Errorf("with half of the least free: %v, and room: %v", err, some.Room())
	}
	blocked := &health.Disk{Dir: filepath.Join(file, "health"), MinFree: 1}
	if err := blocked.Look(t.Context()); !fault.Is(err, health.Unwritable) {
		t.Errorf("a folder that cannot be: %v", err)
	}
	taken := &health.Disk{Dir: filepath.Join(dir, "taken"), MinFree: 1}
	if err := os.MkdirAll(filepath.Join(dir, "taken", "written"), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := taken.Look(t.Context()); !fault.Is(err, health.Unwritable) {
		t.Errorf("a file that cannot be written: %v", err)
	}
}

// proved is a journal of records with its proof.
func proved(t *testing.T, n int) (*memory.Journal, *tree.Keeper) {
	t.Helper()
	m := memory.New(memory.Options{})
	k, _, err := tree.Open(t.Context(), m, t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = k.Close() })
	for i := range n {
		r := journal.Record{ID: fmt.Sprintf("c-%d", i), Type: "test", Aggregate: "seam.a", Time: noon, Payload: []byte{1, 2, 3}}
		if _, err := k.Append(t.Context(), uint64(i), r); err != nil {
			t.Fatal(err)
		}
	}
	return m, k
}

// Every record is read again before long, the newest at once; whatever is
// wrong with one is named and stays named.
func TestRecordsAreReadAgain(t *testing.T) {
	const n = 3250
	for name, c := range map[string]struct {
		spoil func(*memory.Journal)
		want  string
		looks int
	}{
		"an old record changed": {func(m *memory.Journal) { m.Change(2500, flip) }, health.RecordChanged, 3},
		"the newest changed":    {func(m *memory.Journal) { m.Change(n, flip) }, health.RecordChanged, 1},
		"an old one is gone":    {func(m *memory.Journal) { m.Lose(1250) }, journal.ReasonGap, 2},
		"the tail is gone":      {func(m *memory.Journal) { m.Cut(n - 1) }, health.RecordsLost, 1},
		"more than the tail":    {func(m *memory.Journal) { m.Cut(750) }, health.RecordsLost, 1},
		"another attribute": {func(m *memory.Journal) {
			m.Change(3, func(r *journal.Record) { r.Attrs = map[string]string{"a": "b"} })
		}, health.RecordChanged, 1},
		"nothing, four rounds long": {func(*memory.Journal) {}, "", 16},
	} {
		t.Run(name, func(t *testing.T) {
			m, k := proved(t, n)
			s := &health.Scrub{Journal: m, Proof: k}
			c.spoil(m)
			var err error
			for range c.looks {
				err = s.Look(t.Context())
			}
			if got := s.Sound(); !errors.Is(got, err) {
				t.Errorf("a look says %v, and facts are refused by %v", err, got)
			}
			if c.want == "" {
				if err != nil {
					t.Errorf("a sound journal: %v", err)
				}
				return
			}
			if !fault.Is(err, c.want) {
				t.Fatalf("after %d looks: %v, want %s", c.looks, err, c.want)
			}
			if again := s.Look(t.Context()); !errors.Is(again, err) {
				t.Errorf("at the next look: %v", again)
			}
		})
	}
}

func flip(r *journal.Record) { r.Payload[1] ^= 4 }

func TestPosition(t *testing.T) {
	m, _ := proved(t, 5)
	now, folded := time.Duration(0), uint64(5)
	p := &health.Position{Last: m.Last, Folded: func() uint64 { return folded }, Running: func() time.Duration { return now }}
	look := func(when, want string) {
		t.Helper()
		if err := p.Look(t.Context()); fault.ReasonOf(orNone(err)) != want {
			t.Errorf("%s: %v, want %q", when, err, want)
		}
	}
	look("at the end", "")
	folded = 4
	look("one behind, just now", "")
	now += health.Grace + time.Millisecond
	look("one behind for too long", health.FollowerBehind)
	folded = 5
	look("caught up", "")
	folded = 6
	look("ahead of the journal", health.RecordsLost)
	folded = 5
	if err := m.Close(); err != nil {
		t.Fatal(err)
	}
	look("closed", health.JournalSilent)
}

func orNone(err error) error {
	if err == nil {
		return errors.New("none")
	}
	return err
}
