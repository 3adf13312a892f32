package main

import "seamwright/services/console"

type planCmd struct {
	File   string `arg:"" optional:"" placeholder:"FILE" help:"Plan problem (JSON)."`
	Budget string `default:"1s" placeholder:"TIME" help:"How long the search may take; it ends sooner when the plan is proved."`
	Seed   string `default:"1" placeholder:"N" help:"The same seed gives the same proved plan."`
	From   string `placeholder:"PLAN.json" help:"An earlier answer (--json): kept unless a change gains enough, changes are listed."`
	Keep   string `placeholder:"%" help:"With --from: gain in % of the earlier plan's cost from which loads are moved; 1 unless given."`
	SVG    bool   `name:"svg" help:"Draw the plan as SVG."`
}

func (c planCmd) Run(o console.Out) error { return console.Plan(c).Run(o) }

// Help is the longer text below the usage.
func (planCmd) Help() string {
	return `Says which load is sprayed when and in which booth, so that late cars and missed windows cost least, and when the
work before it is done. Exit status 3: the answer is given, but a load has no place.

Example: seamwright plan monday.json --budget 2s`
}
