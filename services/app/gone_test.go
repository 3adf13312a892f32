package app_test

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"

	"seamwright/services/app"
	"seamwright/services/clock"
	"seamwright/services/fault"
	"seamwright/services/journal"
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

// short is a journal as it was at an earlier record.
type short struct {
	journal.Journal
	n uint64
}

func (s short) Last(context.Context) (uint64, error) { return s.n, nil }

// A shop in a folder that is opened beside a proof of long ago opens, for the
// proof may lag, and says how far, and that this is more than a crash leaves.
func TestAnOldProofIsTold(t *testing.T) {
	k := keep(t, 1, 1600)
	a, err := k.open(t, k.dir)
	if err != nil {
		t.Fatal(err)
	}
	var checks []func()
	for _, was := range []struct {
		records uint64
		told    string
	}{{599, "ATTENTION: 1001 records stand behind"}, {600, ""}} {
		proof := filepath.Join(t.TempDir(), "proof")
		word := tree.Acceptance{At: k.at, Name: "Ansa Vellacorn", Reason: "a proof of then"}
		if _, err := tree.Accept(t.Context(), short{a.Journal(), was.records}, proof, word); err != nil {
			t.Fatal(err)
		}
		dir := filepath.Join(t.TempDir(), "shop")
		if err := os.CopyFS(app.ProofFolder(dir), os.DirFS(proof)); err != nil {
			t.Fatal(err)
		}
		checks = append(checks, func() {
			if err := os.CopyFS(app.StoreFolder(dir), os.DirFS(app.StoreFolder(k.dir))); err != nil {
				t.Fatal(err)
			}
			var log bytes.Buffer
			b, err := app.New(app.Options{Dir: dir, Log: slog.New(slog.NewTextHandler(&log, nil)), Clock: clock.NewDriven(k.at)})
			if err != nil {
				t.Fatal(err)
			}
			if err := b.Start(t.Context()); err != nil {
				t.Fatal(err)
			}
			if err := b.Stop(); err != nil {
				t.Error(err)
			}
			if told := strings.Contains(log.String(), "ATTENTION"); told != (was.told != "") || !strings.Contains(log.String(), was.told) {
				t.Errorf("beside a proof of %d of 1600 records it says:\n%s", was.records, log.String())
			}
		})
	}
	if err := a.Stop(); err != nil { // before its store is copied
		t.Fatal(err)
	}
	for _, check := range checks {
		check()
	}
}
