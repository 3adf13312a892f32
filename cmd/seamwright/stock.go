package main

import (
	"context"

	"seamwright/services/console"
)

type runCmd struct {
	at           `embed:""`
	Bay          string   `arg:"" optional:"" name:"bay" placeholder:"ZONE" help:"The bay, by its zone."`
	RO           []string `name:"ro" placeholder:"RO,..." help:"Of these repair orders only, and why, where their cars stand elsewhere; all that stand there unless given."`
	MMPerS       string   `name:"mm-per-s" placeholder:"N" help:"How fast a bead is laid, mm in a second; 20 unless given."`
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
beads. Read it from the top: a line with a number is a seam to lay, with the ml that go on it, when to begin (min:s after
the start) and what the cartridge holds afterwards; the line above it says which cartridge to take and which nozzle to
fit, and why, or how wide to cut the tip that is on. A tip is not cut back, so narrow beads come first; cutting it takes
15 s (common practice). "then" is what becomes of a cartridge afterwards, "not" is stock that is not used and why, "left out" is a
seam that cannot be laid now and what to do about it: prep it, wait for its primer, move its car into the bay, receive a
lot, purge less.

Nozzles are reckoned to gel at the warmest that the bay may be by its last reading; read it again and they may last
longer. A new nozzle takes --purge-ml and --hold-up-ml out of its cartridge before a bead can be laid: a rest that is no
more than these is of no use. What is taken lies on the seams, is tooled off them (--waste-percent), or is lost in
changes: purged, left in nozzles, squeezed out to bring sides level. A nozzle that is on counts as cut as wide as the
beads that were laid through it wanted. Nothing is stored: tell the bay's tablet what was really laid.

Examples:

    seamwright run bay-1 --dir ./shop

    seamwright run bay-1 --ro 2207,2214 --purge-ml 8 --hold-up-ml 6.5 --dir ./shop`
}

type stockCmd struct {
	at      `embed:""`
	Product string `arg:"" optional:"" placeholder:"PRODUCT" help:"This product only."`
	Weeks   string `placeholder:"N" help:"How many weeks back use is looked at, 2 to 260; 12 unless given."`
	Service string `placeholder:"CHANCE" help:"Chance that a delivery comes before the shelf is empty, 0.5 to 0.9999; 0.95 unless given."`
	Cover   string `name:"cover-weeks" placeholder:"N" help:"How many weeks an order lasts; 4 unless given."`
}

func (c stockCmd) Run(ctx context.Context, o console.Out) error {
	return console.Stock{At: console.At(c.at), Product: c.Product, Weeks: c.Weeks, Service: c.Service, Cover: c.Cover}.Run(ctx, o)
}

// Help is the longer text below the usage.
func (stockCmd) Help() string {
	return `For each product a line: unopened cartridges on the shelf that may be used, ml in opened ones, cartridges that a week
takes, at how many on the shelf to order, and how many to order now. Below it stand the reasons, until when the stock
lasts, and what has lapsed or will: unopened, by the date of its lot; opened, also by its life once opened.

What a week takes is known after two weeks. What was laid, purged, left in nozzles and thrown away counts in the week in
which it was, also when it is told later. It is time to order when the shelf holds no more than is used until a delivery
comes: the lead time of its sheet, and a day until somebody looks at the shelf. Beside it stands a safety for weeks that
take more; the higher --service, the larger that is. "-" is what cannot be said yet. An order lasts
--cover-weeks, and what is short of the point comes on top. What is on its way is not known here: take it off.

Examples:

    seamwright stock --dir ./shop

    seamwright stock mb-grey --weeks 26 --service 0.98 --cover-weeks 6 --dir ./shop`
}
