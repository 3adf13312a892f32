package app

import (
	"crypto/rand"
	"log/slog"
	"path/filepath"

	"seamwright/services/access"
	"seamwright/services/clock"
	"seamwright/services/fault"
	"seamwright/services/journal"
	"seamwright/services/screens"
)

// Options of a shop's program.
type Options struct {
	Shop string // the shop's name in the journal; "shop" if empty

	// Dir is the folder of a real shop: its people, its journal, the proof
	// beside it. Without it the journal is in memory and gone at the end.
	Dir string

	// Addresses to listen at, "host:port", port 0 for any free one; an empty
	// one does not listen. Bus is NATS, and needs Dir.
	GRPC, Screens, Bus string

	// Clock is the process's clock; nil is the machine's. With a
	// *clock.Driven nothing happens by itself: see App.AdvanceTo.
	Clock clock.Clock

	// Holder is the name under which this process keeps permits alive; made up
	// at each start if empty, so that a new start takes the old permits back.
	Holder string

	// People are the people of the shop; nil: those in Dir, and in memory
	// nobody in particular, so that everybody is who they say.
	People *access.Shop

	// Source makes what feeds the screens, once the services run; nil: Feed,
	// the shop's own floor.
	Source func(*App) (screens.Source, error)

	// Speed is how many seconds of a driven clock pass in one of a viewer's,
	// for the countdowns on the screens; 0 counts as 1.
	Speed float64

	Log *slog.Logger // nil: slog.Default
}

// PeopleFile is where a shop's folder keeps its people.
func PeopleFile(dir string) string { return filepath.Join(dir, "people.yaml") }

// StoreFolder is where a shop's folder keeps its journal.
func StoreFolder(dir string) string { return filepath.Join(dir, "journal") }

// ProofFolder is where a shop's folder keeps the proof of its journal.
func ProofFolder(dir string) string { return filepath.Join(dir, "proof") }

func (o Options) withDefaults() Options {
	if o.Shop == "" {
		o.Shop = "shop"
	}
	if o.Clock == nil {
		o.Clock = clock.Wall{}
	}
	if o.Holder == "" {
		o.Holder = "gate-" + rand.Text()[:8]
	}
	if o.Source == nil {
		o.Source = Feed
	}
	if o.Log == nil {
		o.Log = slog.Default()
	}
	return o
}

func (o Options) check() error {
	if err := journal.CheckShop(o.Shop); err != nil {
		return err
	}
	if o.Bus != "" && o.Dir == "" {
		return fault.Bad("bus address", o.Bus, "none for a shop in memory, which has no bus; name a folder")
	}
	return nil
}
