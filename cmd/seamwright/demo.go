package main

import (
	"context"
	"log/slog"
	"os"

	"seamwright/services/console"
	"seamwright/services/fault"
)

// typed is the number that somebody gave, 0 when nobody did: the usual one is
// meant then. A zero or less that was typed is refused with the limit.
func typed[N int | uint64 | float64](flag string, n *N, limit string) (N, error) {
	if n == nil {
		return 0, nil
	}
	if !(*n > 0) { // NaN is not
		return 0, fault.Bad(flag, *n, limit)
	}
	return *n, nil
}

type demoCmd struct {
	Headless bool     `help:"Run some days as fast as they go and report; exit status 1 if anything was missed."`
	Days     *int     `placeholder:"N" help:"Days to run, headless; 5 unless given."`
	Seed     *uint64  `placeholder:"S" help:"The same seed gives the same shop; 1 unless given."`
	Pace     *float64 `placeholder:"X" help:"Simulated seconds in a real one; 20 unless given."`
	Policy   string   `placeholder:"POLICY" help:"What is sprayed and sealed next: plan, fcfs (first come, first served) or edd (earliest due date); plan unless given."`
	Load     *float64 `placeholder:"PERCENT" help:"Headless: cars are fixed beforehand so that the booth is busy for so much of its hours: 70, 85, 95."`
	Memory   bool     `help:"Keep the journal in memory instead of on the embedded server."`
	Screens  string   `default:"${screens}" placeholder:"HOST:PORT" help:"Where the screens are; port 0: any free one."`
}

func (c demoCmd) Run(ctx context.Context, o console.Out) error {
	days, err := typed("--days", c.Days, "1 to 365")
	if err != nil {
		return err
	}
	seed, err := typed("--seed", c.Seed, "1 or more")
	if err != nil {
		return err
	}
	pace, err := typed("--pace", c.Pace, "above 0 to 3600 simulated seconds in a real one")
	if err != nil {
		return err
	}
	load, err := typed("--load", c.Load, "10 to 120 per cent")
	if err != nil {
		return err
	}
	log := slog.New(slog.NewTextHandler(os.Stderr, &slog.HandlerOptions{Level: slog.LevelError}))
	return console.Demo{
		Headless: c.Headless, Days: days, Seed: seed, Pace: pace, Screens: c.Screens, Memory: c.Memory, Policy: c.Policy, Load: load, Log: log,
	}.Run(ctx, o)
}
