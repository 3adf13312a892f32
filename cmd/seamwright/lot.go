package main

import (
	"context"

	"seamwright/services/console"
)

type lotCmd struct {
	at  `embed:""`
	Lot string `arg:"" optional:"" placeholder:"LOT" help:"The lot number on the box."`
}

func (c lotCmd) Run(ctx context.Context, o console.Out) error {
	return console.Lot{At: console.At(c.at), Lot: c.Lot}.Run(ctx, o)
}

// Help is the longer text below the usage.
func (lotCmd) Help() string {
	return `Every layer that was laid of the lot, with its seam and job, and the balance of the lot. Of a recalled lot it says which seams are
on hold for the recall, which were answered for by whom, which were taken off, and which cars were delivered.

A weight or a mark of a cartridge corrects what was laid from it "as planned" since the one before; what was told stands.
One that is more than can be in the cartridge, beyond 2 ml of a scale or 5 ml of a mark, is a query and corrects nothing while
it stands. Volumes are shown to a tenth of a millilitre; --json has them as they are kept.

A lot is called back with: seamwright tell lot-recalled lot_id=L-2601 why=lumps --name 'Dov Pennywhin' --role materials --dir ./shop
and a recall or a receipt that was a mistake is taken back by its number: seamwright tell --help

Example: seamwright lot L-2601 --dir ./shop`
}

type invoiceCmd struct {
	at       `embed:""`
	RO       string `arg:"" optional:"" name:"ro" placeholder:"RO" help:"The job's repair-order number."`
	Rate     string `placeholder:"AMOUNT" help:"What an hour of labour costs; labour has no amount unless given."`
	Currency string `placeholder:"CODE" help:"Currency of --rate, like USD."`
	CSV      bool   `name:"csv" help:"Answer with lines of CSV."`
}

func (c invoiceCmd) Run(ctx context.Context, o console.Out) error {
	return console.Invoice{At: console.At(c.at), RO: c.RO, Rate: c.Rate, Currency: c.Currency, CSV: c.CSV}.Run(ctx, o)
}

// Help is the longer text below the usage.
func (invoiceCmd) Help() string {
	return `Material is what was laid, purged and left in nozzles, at the price of the lot's product; minutes are those told, else those
since the same person's fact before where they are at most 20, else unknown: the note of each line says which. Work on a
bead that was taken off is shown in brackets and not billed. Where more was told than a cartridge held, the note names the
query that is open about it, and what it did not hold is billed only once a foreman has answered. Nothing is rounded before
the sum.

Example: seamwright invoice 2207 --dir ./shop --rate 95.00 --currency USD`
}
