package main

import (
	"context"
	"log/slog"
	"os"

	"seamwright/services/console"
)

type demoCmd struct {
	Headless bool    `help:"Run some days as fast as they go and report; exit status 1 if anything was missed."`
	Days     int     `placeholder:"N" help:"Days to run, headless; 5 unless given."`
	Seed     uint64  `placeholder:"S" help:"The same seed gives the same shop; 1 unless given."`
	Pace     float64 `placeholder:"X" help:"Simulated seconds in a real one; 20 unless given."`
	Memory   bool    `help:"Keep the journal in memory instead of on the embedded server."`
	Screens  string  `default:"${screens}" placeholder:"HOST:PORT" help:"Where the screens are; port 0: any free one."`
}

func (c demoCmd) Run(ctx context.Context, o console.Out) error {
	log := slog.New(slog.NewTextHandler(os.Stderr, &slog.HandlerOptions{Level: slog.LevelError}))
	return console.Demo{Headless: c.Headless, Days: c.Days, Seed: c.Seed, Pace: c.Pace, Screens: c.Screens, Memory: c.Memory, Log: log}.Run(ctx, o)
}
