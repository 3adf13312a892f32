package app_test

import (
	"errors"
	"path/filepath"
	"strings"
	"testing"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"

	"seamwright/services/app"
	"seamwright/services/fault"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/journaltest"
	"seamwright/services/journal/memory"
	"seamwright/services/journal/tree"
)

// A service that keeps the proof begins no journal on a server that has lost
// it.
func TestAServerThatLostTheJournalIsRefused(t *testing.T) {
	url := serverOf(t)
	proof := filepath.Join(t.TempDir(), "proof")
	k, _, err := tree.Open(t.Context(), memory.New(memory.Options{}), proof)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := k.Append(t.Context(), 0, journaltest.Record(t, "r-1", 1)); err != nil {
		t.Fatal(err)
	}
	if err := k.Close(); err != nil {
		t.Fatal(err)
	}
	o := apart(url, "jobs")
	o.Apart.Proof = proof
	a, err := app.New(o)
	if err != nil {
		t.Fatal(err)
	}
	if err := a.Start(t.Context()); !fault.Is(err, tree.ReasonGone) || !strings.Contains(err.Error(), "1 records were acknowledged") {
		t.Errorf("it started beside a proof of a journal that is gone: %v", err)
	}
	nc, err := nats.Connect(url)
	if err != nil {
		t.Fatal(err)
	}
	defer nc.Close()
	js, err := jetstream.New(nc)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := js.Stream(t.Context(), jet.StreamName(o.Shop)); !errors.Is(err, jetstream.ErrStreamNotFound) {
		t.Errorf("a stream was begun: %v", err)
	}
}
