package sim_test

import (
	"context"
	"io"
	"log/slog"
	"maps"
	"math/rand/v2"
	"slices"
	"testing"

	"seamwright/services/app"
	"seamwright/services/clock"
	"seamwright/services/console"
	"seamwright/services/floor"
	"seamwright/services/floor/floortest"
	"seamwright/services/sim"
)

// What the floor says about commands that do not depend on each other holds
// for those of a whole simulated day.
func TestReachHoldsInASimulatedShop(t *testing.T) {
	if testing.Short() {
		t.Skip("runs a day")
	}
	events := simulatedDay(t)
	var told []floortest.Told
	var behind []int
	for i, ev := range events {
		if c, ok := floortest.Retell(ev); ok {
			told, behind = append(told, floortest.Told{Command: c, At: ev.Received}), append(behind, i)
		}
	}
	count, r := map[string]int{}, rand.New(rand.NewPCG(1, 1))
	window := func(from int) []floortest.Told {
		out := slices.Clone(told[from:min(from+60, len(told))])
		r.Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
		return out
	}
	reach := floortest.Reach(func(f *floor.Floor, ev floor.Event) ([]string, []string, bool) { return f.Reach(ev) })
	for i := 50; i < len(told)-60; i += max(1, len(told)/12) {
		wrong, err := reach.Before(events[:behind[i]], window(i)[:25], window(i), count)
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range wrong[:min(len(wrong), 3)] {
			t.Error(w)
		}
	}
	total := 0
	for _, k := range slices.Sorted(maps.Keys(count)) {
		t.Logf("%6d %s", count[k], k)
		total += count[k]
	}
	t.Logf("%d events, %d pairs of %d kinds", len(events), total, len(count))
	if total < 1000 || len(count) < 30 {
		t.Errorf("%d pairs of %d kinds, want at least 1000 of 30", total, len(count))
	}
}

// simulatedDay is what the journal holds after a day.
func simulatedDay(t *testing.T) (events []floor.Event) {
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
	a.Desk().Writer.Listen(func(seq uint64) {
		ev, _, _ := a.Desk().Floor.Event(seq)
		events = append(events, ev)
	})
	conn, err := a.Dial()
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	if _, err := sim.Run(t.Context(), sim.Options{
		Seed: 1, Days: 1, Start: monday, Clients: sim.Over(conn), Time: driven{a, d},
		Import: func(ctx context.Context) error {
			return console.Import{
				At: console.At{Address: a.Addr().GRPC}, Surveys: []string{shop + "survey.csv"}, Products: shop + "products",
				Zones: shop + "zones", Booths: shop + "booths", Loads: shop + "loads.csv", People: shop + "people.yaml",
			}.Run(ctx, console.Out{W: io.Discard})
		},
	}); err != nil {
		t.Fatal(err)
	}
	a.Desk().Writer.View(func(uint64) { events = slices.Clip(events) })
	return events
}
