package console_test

import (
	"log/slog"
	"testing"
	"time"

	"seamwright/services/app"
	"seamwright/services/clock"
	"seamwright/services/console"
)

// plannedShop is the invented shop in driven time, without readings, whose
// booths are planned. It is stopped at the end of the test.
func plannedShop(t *testing.T) (*app.App, *clock.Driven, console.At) {
	t.Helper()
	c := clock.NewDriven(time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC))
	a, err := app.New(app.Options{GRPC: "127.0.0.1:0", Clock: c, Plan: true, Log: slog.New(slog.DiscardHandler)})
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
	at := console.At{Address: a.Addr().GRPC}
	all := demo(at)
	all.Readings = ""
	run(t, all)
	return a, c, at
}
