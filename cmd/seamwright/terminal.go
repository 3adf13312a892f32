package main

import (
	"context"

	"seamwright/services/console"
)

// Help is the longer text below the usage.
func (importCmd) Help() string {
	return `All files are read and the loads checked before anything is stored. A load needs its survey: give it in the same command,
or import it before. With --people the zones have the terminals of that list; without it they keep those that they have.

Example: seamwright import --dir ./shop --products products --zones zones --booths booths --loads loads.csv survey.csv`
}

type terminalCmd struct {
	at   `embed:""`
	ID   string `name:"id" placeholder:"ID" help:"The terminal's identifier."`
	Zone string `placeholder:"ZONE" help:"The zone that it stands in; the shop must know it."`
	Name string `placeholder:"NAME" help:"Who says so in the journal; import unless given."`
}

func (c terminalCmd) Run(ctx context.Context, o console.Out) error {
	return console.Terminal{At: console.At(c.at), ID: c.ID, Zone: c.Zone, Name: c.Name}.Run(ctx, o)
}

// Help is the longer text below the usage.
func (terminalCmd) Help() string {
	return `The screens of the shop offer it at /bay from then on. A terminal stands in one zone: told again with another, it moves.

Example: seamwright terminal --dir ./shop --id bay-1-tablet --zone bay-1`
}
