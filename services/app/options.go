package app

import (
	"crypto/rand"
	"log/slog"
	"path/filepath"
	"time"

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

	// Journal is one that the caller has opened and that the shop closes; nil:
	// that in Dir, or one in memory.
	Journal journal.Journal

	// MinFree is how many bytes must be free on the disk of Dir for the gate
	// to give leave; 0: health.MinFree.
	MinFree uint64

	// Addresses to listen at, "host:port", port 0 for any free one; an empty
	// one does not listen. Bus is NATS and MQTT its other door, for probes and
	// readers; both need Dir, and let in whom the file of the bus's users names.
	GRPC, Screens, Bus, MQTT string

	// Apart says that this process is one of several of a shop, on a server of
	// its own; nil: the shop is all here. Then Dir and Bus are of no use.
	Apart *Apart

	// Clock is the process's clock; nil is the machine's. With a
	// *clock.Driven nothing happens by itself: see App.AdvanceTo.
	Clock clock.Clock

	// Instance is this process's name among those of the shop, Holder the one
	// under which it keeps permits alive. They are made up at each start if
	// empty, so that a new start takes the old permits back.
	Instance, Holder string

	// People are the people of the shop; nil: those in Dir, and in memory
	// nobody in particular, so that everybody is who they say.
	People *access.Shop

	// Source makes what feeds the screens, once the services run; nil: Feed,
	// the shop's own floor.
	Source func(*App) (screens.Source, error)

	// Speed is how many seconds of a driven clock pass in one of a viewer's,
	// for the countdowns on the screens; 0 counts as 1.
	Speed float64

	// Beat is how often the gate looks at a permit that runs and says so; if 0
	// bus.BeatEvery, and in driven time, to whose beats nobody listens, a second.
	// Exercises there may look more rarely.
	Beat time.Duration

	// Plan lets the booth service keep the booth plan: it puts loads into
	// booths and in order, but for those whose place somebody has given. Without
	// it loads stay where they are told; what the plan would be can be asked
	// all the same. PlanRounds bounds each plan's search by rounds in place of
	// time, so that the same shop has the same plans; 0: time, but on a driven
	// clock DefaultPlanRounds.
	Plan       bool
	PlanRounds int

	// PlanEvery is how long the planner waits at least from one plan to the
	// next on a driven clock, a minute if 0; who asks for a plan that has seen
	// the newest event has it at once.
	PlanEvery time.Duration

	Log *slog.Logger // nil: slog.Default
}

// DefaultPlanRounds of search are enough for the loads of a shop of this size,
// and quick enough for months of simulated time.
const DefaultPlanRounds = 60

// PeopleFile is where a shop's folder keeps its people.
func PeopleFile(dir string) string { return filepath.Join(dir, "people.yaml") }

// StoreFolder is where a shop's folder keeps its journal.
func StoreFolder(dir string) string { return filepath.Join(dir, "journal") }

// ProofFolder is where a shop's folder keeps the proof of its journal.
func ProofFolder(dir string) string { return filepath.Join(dir, "proof") }

// HealthFolder is where a shop's folder keeps the file that is written to find
// out whether the disk takes it.
func HealthFolder(dir string) string { return filepath.Join(dir, "health") }

func (o Options) withDefaults() Options {
	if o.Shop == "" {
		o.Shop = "shop"
	}
	if o.Clock == nil {
		o.Clock = clock.Wall{}
	}
	if o.Instance == "" {
		o.Instance = rand.Text()[:8]
	}
	if o.Holder == "" {
		o.Holder = "gate-" + o.Instance
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
	if o.Bus+o.MQTT != "" && o.Dir == "" && o.Apart == nil {
		return fault.Bad("bus address", o.Bus+o.MQTT, "none for a shop in memory, which has no bus; name a folder")
	}
	if o.Apart != nil {
		return o.Apart.check(o)
	}
	return nil
}
