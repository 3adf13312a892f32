package main

import (
	"context"

	"seamwright/services/console"
)

type runCmd struct {
	at           `embed:""`
	Bay          string   `arg:"" optional:"" name:"bay" placeholder:"ZONE" help:"The bay, by its zone."`
	RO           []string `name:"ro" placeholder:"RO,..." help:"Of these repair orders only; all that stand there unless given."`
	MMPerS       string   `name:"mm-per-s" placeholder:"N" help:"How fast a bead is laid; 20 unless given."`
	PurgeML      string   `name:"purge-ml" placeholder:"ML" help:"Squeezed out through each new nozzle; 5 unless given."`
	HoldUpML     string   `name:"hold-up-ml" placeholder:"ML" help:"Left in each nozzle when it is thrown away; 5 unless given."`
	WastePercent string   `name:"waste-percent" placeholder:"%" help:"Of what is laid: tooled off, wiped up; 5 unless given."`
	EqualiseML   string   `name:"equalise-ml" placeholder:"ML" help:"Squeezed out of a new cartridge until both sides are level; 1 unless given."`
}

func (c runCmd) Run(ctx context.Context, o console.Out) error {
	return console.SealingRun{
		At: console.At(c.at), Bay: c.Bay, ROs: c.RO, MMPerS: c.MMPerS, PurgeML: c.PurgeML, HoldUp: c.HoldUpML, Waste: c.WastePercent, Equal: c.EqualiseML,
	}.Run(ctx, o)
}

// Help is the longer text below the usage.
func (runCmd) Help() string {
	return `For the seams that are prepped in a bay: in which order to lay them, out of which cartridges and through which
nozzles, so that the fewest nozzles are used up, old stock goes first, little is lost and no nozzle gels between two
beads at the bay's temperature. Each change of a nozzle or cartridge has its reason. Nothing is stored: the bay's tablet
is told what was really laid.

Example: seamwright run bay-1 --dir ./shop`
}

type stockCmd struct {
	at      `embed:""`
	Product string `arg:"" optional:"" placeholder:"PRODUCT" help:"This product only."`
	Weeks   string `placeholder:"N" help:"How far back use is looked at; 12 unless given."`
	Service string `placeholder:"CHANCE" help:"Chance that a delivery comes before the shelf is empty; 0.95 unless given."`
	Cover   string `name:"cover-weeks" placeholder:"N" help:"How long an order lasts; 4 weeks unless given."`
}

func (c stockCmd) Run(ctx context.Context, o console.Out) error {
	return console.Stock{At: console.At(c.at), Product: c.Product, Weeks: c.Weeks, Service: c.Service, Cover: c.Cover}.Run(ctx, o)
}

// Help is the longer text below the usage.
func (stockCmd) Help() string {
	return `For each product: what is on the shelf and in opened cartridges, what a week takes by the journal, when to order
(use until the delivery and a safety for the chance that is asked for; Poisson where less than a cartridge a week is used),
how much, and what will expire, or pass its life once opened, before it is used, first expired first out.

Example: seamwright stock --dir ./shop --service 0.98`
}
