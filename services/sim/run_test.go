package sim_test

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/grpc"

	"seamwright/services/app"
	"seamwright/services/clock"
	"seamwright/services/console"
	"seamwright/services/sim"
)

var monday = time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)

const shop = "../../testdata/shop/"

// driven is the shop's clock as a simulation moves it.
type driven struct {
	*app.App
	clock *clock.Driven
}

func (d driven) Now() time.Time { return d.clock.Now() }

// simulate runs a shop from the demonstration's files. bug, if any, stands
// between the simulation and the shop.
func simulate(t *testing.T, o sim.Options, bug func(grpc.ClientConnInterface) grpc.ClientConnInterface, during ...context.Context) *sim.Report {
	t.Helper()
	d := clock.NewDriven(monday)
	a, err := app.New(app.Options{Clock: d, GRPC: "127.0.0.1:0", Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	if err != nil {
		t.Fatal(err)
	}
	if err := a.Start(t.Context()); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := a.Stop(); err != nil {
			t.Error(err)
		}
	})
	conn, err := a.Dial()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	var c grpc.ClientConnInterface = conn
	if bug != nil {
		c = bug(conn)
	}
	o.Start, o.Clients, o.Time = monday, sim.Over(c), driven{a, d}
	if o.Inspect == nil {
		o.Inspect = a.Inspect()
	}
	o.Import = func(ctx context.Context) error {
		return console.Import{
			At: console.At{Address: a.Addr().GRPC}, Surveys: []string{shop + "survey.csv"}, Products: shop + "products",
			Zones: shop + "zones", Booths: shop + "booths", Loads: shop + "loads.csv", People: shop + "people.yaml",
		}.Run(ctx, console.Out{W: io.Discard})
	}
	ctx := t.Context()
	if len(during) > 0 {
		ctx = during[0]
	}
	r, err := sim.Run(ctx, o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// The whole shop over five days: nothing broken, nothing missing, nothing
// extra, and every kind of mishap that can be planted in that time was.
func TestFiveDays(t *testing.T) {
	if testing.Short() {
		t.Skip("takes half a minute")
	}
	for _, seed := range seeds() {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			begun := time.Now()
			r := simulate(t, sim.Options{Seed: seed, Days: 5}, nil)
			t.Logf("took %s\n%s", time.Since(begun).Round(time.Second), r)
			if !r.Sound() {
				t.Errorf("%s\n%s", r, strings.Join(r.Log, "\n"))
			}
		})
	}
}

// The same seed gives the same report, byte for byte, another seed another.
func TestASeedIsOneShop(t *testing.T) {
	if testing.Short() {
		t.Skip("runs three days")
	}
	day := func(seed uint64) string { return simulate(t, sim.Options{Seed: seed, Days: 1}, nil).String() }
	first := day(2)
	if diff := cmp.Diff(first, day(2)); diff != "" {
		t.Errorf("the same seed twice (-first +second):\n%s", diff)
	}
	if first == day(3) {
		t.Error("two seeds give one report")
	}
}

// A living shop begins to run at its pace when several seams flow and loads
// wait, and ends with its context without an error.
func TestALivingShopIsJoinedAtWork(t *testing.T) {
	ctx, end := context.WithCancel(t.Context())
	defer end()
	joined := 0
	r := simulate(t, sim.Options{
		Seed: 1, Pace: 20, LiveFrom: monday.Add(10*time.Hour + 20*time.Minute), Live: func() { joined++; end() },
	}, nil, ctx)
	if joined != 1 || r.Beads < 10 || r.Holds["coat-not-open"] == 0 || r.Holds["open-stop"] == 0 || !r.Sound() {
		t.Errorf("joined %d times at:\n%s", joined, r)
	}
}

// seeds are those that SEEDS names, "1 2 3"; one unless given.
func seeds() []uint64 {
	var out []uint64
	for _, f := range strings.Fields(os.Getenv("SEEDS")) {
		if n, err := strconv.ParseUint(f, 10, 64); err == nil {
			out = append(out, n)
		}
	}
	if len(out) == 0 {
		out = []uint64{1}
	}
	return out
}
