package main

import (
	"context"
	"os"

	"seamwright/services/console"
)

type soakCmd struct {
	Years    *int    `placeholder:"N" help:"Shop-years to run; 20 unless given."`
	Seed     *uint64 `placeholder:"S" help:"Seed of the first shop; 1 unless given."`
	Parallel *int    `placeholder:"N" help:"Shops side by side; as many as the machine has cores unless given."`
}

func (c soakCmd) Run(ctx context.Context, o console.Out) error {
	years, err := typed("--years", c.Years, "1 to 100000")
	if err != nil {
		return err
	}
	seed, err := typed("--seed", c.Seed, "1 or more")
	if err != nil {
		return err
	}
	parallel, err := typed("--parallel", c.Parallel, "1 to 256 shops side by side")
	if err != nil {
		return err
	}
	return console.Soak{Years: years, Seed: seed, Parallel: parallel, Progress: os.Stderr}.Run(ctx, o)
}

// Help is the longer text below the usage.
func (soakCmd) Help() string {
	return `Small shops are run for years on journals in memory, as fast as the machine goes. What happens in them
comes from their seeds, mistakes and faults included. Everything that the program says is compared with an
account that shares no code with it, and what must always hold is checked from outside. The first thing that
is wrong ends the run with exit status 1 and the one command that shows it again.

Example: seamwright soak --years 1000`
}
