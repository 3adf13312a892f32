package console_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"seamwright/services/access"
	"seamwright/services/console"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// A first start that fails leaves no list of people behind, whose PIN nobody
// was told: the start after it makes one and shows it.
func TestAFailedFirstStartKeepsNoForeman(t *testing.T) {
	t.Parallel()
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	dir := t.TempDir()
	people := filepath.Join(dir, "people.yaml")
	q := console.Up{Dir: dir, Shop: "demo", GRPC: taken.Addr().String(), Log: slog.New(slog.DiscardHandler)}
	if err := q.Run(t.Context(), console.Out{W: io.Discard}); err == nil {
		t.Fatal("it opened on a port that is taken")
	}
	if _, err := os.Stat(people); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a list of people was left behind: %v", err)
	}
	q.GRPC = "127.0.0.1:0"
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	out := &firstWrite{then: stop}
	if err := q.Run(ctx, console.Out{W: out, JSON: true}); err != nil {
		t.Fatal(err)
	}
	var said struct{ Foreman, PIN string }
	if err := json.Unmarshal(out.Bytes(), &said); err != nil || said.Foreman == "" || said.PIN == "" {
		t.Errorf("the start after it says %v %s", err, out)
	}
	if list, err := access.Load(people); err != nil || !list.CanSign() {
		t.Errorf("the list of a shop that opened: %v", err)
	}

	// A list that was there before stays, whatever becomes of the start.
	if err := os.Remove(people); err != nil {
		t.Fatal(err)
	}
	if _, err := access.Enrol(people, access.Person{Name: "Ansa Vellacorn", Role: floor.Foreman}, "2468"); err != nil {
		t.Fatal(err)
	}
	q.GRPC = taken.Addr().String()
	if err := q.Run(t.Context(), console.Out{W: io.Discard}); err == nil {
		t.Fatal("it opened on a port that is taken")
	}
	if _, err := os.Stat(people); err != nil {
		t.Errorf("the shop's own list of people: %v", err)
	}
}

// A journal that is gone beside its proof is told, and nothing is begun in its
// place.
func TestUpBeginsNoJournalBesideAProof(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	stop := openUpIn(t, dir, "127.0.0.1:0")
	zones := console.Import{At: console.At{Dir: dir}, Zones: filepath.Join("..", "..", "testdata", "shop", "zones")}
	err := zones.Run(t.Context(), console.Out{W: io.Discard})
	stop()
	if err != nil {
		t.Fatal(err)
	}
	store := filepath.Join(dir, "journal")
	if err := os.RemoveAll(store); err != nil {
		t.Fatal(err)
	}
	q := console.Up{Dir: dir, Shop: "demo", GRPC: "127.0.0.1:0", Log: slog.New(slog.DiscardHandler)}
	for range 2 {
		err = q.Run(t.Context(), console.Out{W: io.Discard})
		if !fault.Is(err, "journal-gone") || !strings.Contains(err.Error(), "6 records were acknowledged") { // its six zones
			t.Errorf("without its journal: %v", err)
		}
		if _, err := os.Stat(store); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("a store was begun: %v", err)
		}
	}
	if err := os.Rename(filepath.Join(dir, "proof"), filepath.Join(dir, "proof-of-before")); err != nil { // knowingly
		t.Fatal(err)
	}
	openUpIn(t, dir, "127.0.0.1:0")()
}

// firstWrite keeps what is written and calls then after the first of it.
type firstWrite struct {
	bytes.Buffer
	then func()
}

func (w *firstWrite) Write(b []byte) (int, error) {
	n, err := w.Buffer.Write(b)
	w.then()
	return n, err
}
