package main

import (
	"context"
	"os"

	"seamwright/services/console"
)

type benchCmd struct {
	Shop     benchShopCmd     `cmd:"" default:"withargs" help:"How fast is a shop on this machine, against bare JetStream on the same disk?"`
	Plan     benchPlanCmd     `cmd:"" help:"How good and how fast is the planner on published instances?"`
	Policies benchPoliciesCmd `cmd:"" help:"How good is the booth's plan in the simulated shop, against first come, first served and earliest due date?"`
	Flood    benchFloodCmd    `cmd:"" hidden:"" help:"The flooding client of a measurement, told on its standard input when to go."`
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

type benchPoliciesCmd struct {
	Seeds    *int    `placeholder:"N" help:"Shops for each policy and load; 20 unless given."`
	First    *uint64 `placeholder:"S" help:"Seed of the first; 1 unless given."`
	Days     *int    `placeholder:"N" help:"Days that cars come in; 30 unless given."`
	Loads    string  `placeholder:"PERCENT,..." help:"How busy the booth is; 70,85,95 unless given."`
	Policies string  `placeholder:"POLICY,..." help:"Only these: plan, fcfs, edd."`
	Parallel *int    `placeholder:"N" help:"Shops side by side; as many as the machine has cores unless given."`
}

func (c benchPoliciesCmd) Run(ctx context.Context, o console.Out) error {
	q := console.BenchPolicies{Loads: c.Loads, Policies: c.Policies, Progress: os.Stderr}
	var err error
	if q.Seeds, err = typed("--seeds", c.Seeds, "1 to 1000"); err != nil {
		return err
	}
	if q.First, err = typed("--first", c.First, "1 or more"); err != nil {
		return err
	}
	if q.Days, err = typed("--days", c.Days, "1 to 365"); err != nil {
		return err
	}
	if q.Parallel, err = typed("--parallel", c.Parallel, "1 to 256 shops side by side"); err != nil {
		return err
	}
	return q.Run(ctx, o)
}

// Help is the longer text below the usage.
func (benchPoliciesCmd) Help() string {
	return `Runs the simulated shop with the same cars, the same days and the same luck under each policy, all of them behind the
same gate, and tells mean and standard deviation over the seeds. A shop is over when every car is delivered. Takes a
core some seconds for each month of a shop.

Example: seamwright bench policies --seeds 20 --days 30 --loads 70,85,95`
}
