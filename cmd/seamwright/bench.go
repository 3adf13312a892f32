package main

import (
	"context"
	"os"

	"seamwright/services/console"
)

type benchCmd struct {
	Shop  benchShopCmd  `cmd:"" default:"withargs" help:"How fast is a shop on this machine, against bare JetStream on the same disk?"`
	Plan  benchPlanCmd  `cmd:"" help:"How good and how fast is the planner on published instances?"`
	Flood benchFloodCmd `cmd:"" hidden:"" help:"The flooding client of a measurement, told on its standard input when to go."`
}

type benchShopCmd struct {
	Quick bool   `help:"Few samples, seconds in place of minutes; nothing is judged."`
	Only  string `placeholder:"NAMES" help:"Only these, separated by commas: post-to-ack, appenders, posters, post-to-screen, reading, clock-memory, replay, start, flood."`
	Dir   string `placeholder:"DIR" help:"A folder on the disk to be measured; that of temporary files unless given."`
}

func (c benchShopCmd) Run(ctx context.Context, o console.Out) error {
	return console.Bench{Quick: c.Quick, Only: c.Only, Dir: c.Dir, Progress: os.Stderr}.Run(ctx, o)
}

// Help is the longer text below the usage.
func (benchShopCmd) Help() string {
	return `Opens real shops in temporary folders and measures them: posting, appending, screens, clocks, replay, start, a flood.
The two sides of a comparison take turns; medians are told. Let nothing else run meanwhile.

Example: seamwright bench --only post-to-ack,appenders`
}

type benchFloodCmd struct {
	Address string `placeholder:"HOST:PORT" help:"Address of the shop that is measured."`
}

func (c benchFloodCmd) Run(ctx context.Context, o console.Out) error {
	return console.BenchFlood{Address: c.Address, In: os.Stdin}.Run(ctx, o)
}

type benchPlanCmd struct {
	Dir    string `arg:"" optional:"" default:"testdata/benchmarks" placeholder:"DIR" help:"Folder with the published instances."`
	Budget string `placeholder:"TIME" help:"Search time for each instance; that in which the set is to be reached unless given."`
	Every  string `default:"1" placeholder:"N" help:"Take only every so many-th instance."`
	Seed   string `default:"1" placeholder:"N" help:"Seed of the search."`
	Set    string `placeholder:"SET" help:"Only this set: wt40, wt50, wt100, wtsds, wtsds-5s, j10, ubo10, booth12, booth16 or replan40."`
	Wall   bool   `help:"Times of the clock on the wall, not the program's own on the processor."`
}

func (c benchPlanCmd) Run(o console.Out) error {
	return console.BenchPlan{Dir: c.Dir, Budget: c.Budget, Every: c.Every, Seed: c.Seed, Set: c.Set, Wall: c.Wall, Progress: os.Stderr}.Run(o)
}

// Help is the longer text below the usage.
func (benchPlanCmd) Help() string {
	return `Tells for each set how many instances reach the best known value, the mean gap to it in %, the same for first come,
first served and for earliest due date first, how long it took, and what is to be reached. One instance after the other,
one thread. Costs below the best known are listed. About 6 minutes; wtsds-5s, which takes 10 more, only when it is asked for.

Example: seamwright bench plan testdata/benchmarks --every 5`
}
