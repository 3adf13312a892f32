package main

import (
	"context"

	"seamwright/services/console"
)

type boothPlanCmd struct {
	at     `embed:""`
	Follow bool `help:"Go on and tell what each new plan does otherwise; with --json one plan a line."`
}

func (c boothPlanCmd) Run(ctx context.Context, o console.Out) error {
	return console.BoothPlan{At: console.At(c.at), Follow: c.Follow}.Run(ctx, o)
}

// Help is the longer text below the usage.
func (boothPlanCmd) Help() string {
	return `For each load its booth, start and end, the latest start that its beads' windows leave it, what it may slip at no cost, and why it
stands there. For each bay what must be laid or scuffed by when. At the shift's end what is sprayed today or scuffed on the
next working day. Times are in the shop's own time zone where it is known, and the first line says which. With --follow a start is told
again when it has moved by 5 minutes or more. The plan moves nothing by itself: the gate alone gives leave to spray.

Example: seamwright booth-plan --dir ./shop --follow`
}

type whatIfCmd struct {
	at     `embed:""`
	Seam   string `placeholder:"SEAM" help:"This seam is not laid before --until."`
	Until  string `placeholder:"TIME" help:"See --seam. An hour of today in the time zone of booth-plan, like 14:00, or a whole time; so for all others."`
	Closed string `placeholder:"BOOTH" help:"This booth cannot be used --from now --to the end of the day unless given."`
	Open   string `placeholder:"BOOTH" help:"This booth can be used --from now unless given --to."`
	From   string `placeholder:"TIME" help:"See --closed and --open."`
	To     string `placeholder:"TIME" help:"See --closed and --open."`
	Load   string `placeholder:"LOAD" help:"This load is --due, or put by hand at --start."`
	Due    string `placeholder:"TIME" help:"When the load's car is promised."`
	Start  string `placeholder:"TIME" help:"When the load starts."`
	Booth  string `placeholder:"BOOTH" help:"In which booth; its own unless given."`
}

func (c whatIfCmd) Run(ctx context.Context, o console.Out) error {
	return console.WhatIf{
		At: console.At(c.at), Seam: c.Seam, Until: c.Until, Closed: c.Closed, Open: c.Open, From: c.From, To: c.To,
		Load: c.Load, Due: c.Due, Start: c.Start, Booth: c.Booth,
	}.Run(ctx, o)
}

// Help is the longer text below the usage.
func (whatIfCmd) Help() string {
	return `Answers with the booth plan that would be, what it does otherwise, and what that costs in weighted minutes of lateness. Several things
can be supposed at once. Nothing is recorded, and the plan stays as it is.

Examples: seamwright what-if --seam 2207/rd-l --until 14:00
          seamwright what-if --closed booth-2
          seamwright what-if --load 2207-A --due 2026-03-03T10:00:00Z`
}

type placeCmd struct {
	at     `embed:""`
	Load   string `arg:"" optional:"" placeholder:"LOAD" help:"The load."`
	Booth  string `placeholder:"BOOTH" help:"The booth that it stays in; its own unless given."`
	Start  string `placeholder:"TIME" help:"When it starts: an hour of today in the time zone of booth-plan, like 14:00, or a whole time. The planner's unless given."`
	Free   bool   `help:"Give it back to the planner."`
	Name   string `placeholder:"NAME" help:"The person who says so; it stands in the journal."`
	Reason string `placeholder:"TEXT" help:"Why."`
}

func (c placeCmd) Run(ctx context.Context, o console.Out) error {
	return console.Place{
		At: console.At(c.at), Load: c.Load, Booth: c.Booth, Start: c.Start, Free: c.Free, Name: c.Name, Reason: c.Reason,
	}.Run(ctx, o)
}

// Help is the longer text below the usage.
func (placeCmd) Help() string {
	return `The planner leaves a load in the booth and at the start that it is given here, and plans the others around it. Ask first what
that would cost: seamwright what-if --load LOAD --start TIME.

Example: seamwright place 2207-A --start 14:10 --name "Ansa Vellacorn" --reason "the owner waits"`
}
