// Command seamwright runs a shop, watches it, fills it from files and answers
// questions about sealer. It holds flags only; what the commands do is in
// package console.
//
// Exit statuses: 0 whenever an answer is given, 2 when what was asked is not
// well formed (one line on standard error names the file and line or the
// flag, the value and the limit), 3 when a plan is told that leaves a load
// without a place, 4 when a gate that was read holds and 5 when it is under an
// override, 1 for trouble with the shop's program or the machine that it runs
// on.
package main

import (
	"context"
	"fmt"
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"

	"github.com/alecthomas/kong"

	"seamwright/services/console"
	"seamwright/services/fault"
)

// commands are all that the program can do: one field and one Run method
// each, in a file for its family.
type commands struct {
	JSON bool `help:"Answer with one object of JSON."`

	Demo      demoCmd      `cmd:"" group:"A shop" help:"Show the invented shop at work, in simulated time."`
	Up        upCmd        `cmd:"" group:"A shop" help:"Open a shop in a folder and keep it open."`
	Serve     serveCmd     `cmd:"" group:"A shop" help:"Run some of a shop's services on a NATS server of its own, the others in processes of theirs."`
	Import    importCmd    `cmd:"" group:"A shop" help:"Tell a running shop what files say."`
	Watch     watchCmd     `cmd:"" group:"A shop" help:"Show a running shop's events as they come."`
	Journal   journalCmd   `cmd:"" group:"A shop" help:"Look after a shop's journal."`
	Lot       lotCmd       `cmd:"" group:"A shop" help:"Where did a lot go, and which seams does its recall hold?"`
	Invoice   invoiceCmd   `cmd:"" group:"A shop" help:"What did a job take: material, minutes, operations?"`
	Tell      tellCmd      `cmd:"" group:"A shop" help:"Tell a running shop a fact: a lot recalled, a stage reached, a fact withdrawn, any other."`
	Terminal  terminalCmd  `cmd:"" group:"A shop" help:"Tell a running shop which zone a terminal stands in."`
	Run       runCmd       `cmd:"" name:"run" group:"A shop" help:"In which order to lay what is prepped in a bay, out of which cartridges, through which nozzles?"`
	Stock     stockCmd     `cmd:"" group:"A shop" help:"What is used of each product, when to order, what will lapse?"`
	BoothPlan boothPlanCmd `cmd:"" name:"booth-plan" group:"A shop" help:"Which load is in which booth when, why, and what must be laid by when for it?"`
	WhatIf    whatIfCmd    `cmd:"" name:"what-if" group:"A shop" help:"What would the booth plan be if a seam waited, a booth closed, a car were promised otherwise?"`
	Place     placeCmd     `cmd:"" group:"A shop" help:"Put a load into a booth at a start by hand, or give it back to the planner."`
	Gate      gateCmd      `cmd:"" group:"A shop" help:"May the booth spray now? Read from the shop's bus."`
	BusUser   busUserCmd   `cmd:"" name:"bus-user" group:"A shop" help:"Let a probe, a reader or another process onto a shop's bus."`
	Person    personCmd    `cmd:"" group:"A shop" help:"Put somebody into a shop's list of people; the PIN is read from standard input."`

	Cure     cureCmd     `cmd:"" group:"Questions" help:"How far has a bead cured, and when will it have got there?"`
	Dewpoint dewpointCmd `cmd:"" group:"Questions" help:"May a surface be sealed in this air?"`
	Plan     planCmd     `cmd:"" group:"Questions" help:"Which load goes into which booth, and when?"`
	Soak     soakCmd     `cmd:"" group:"Questions" help:"Do simulated shops find anything wrong with the program in years of work?"`
	Bench    benchCmd    `cmd:"" group:"Questions" help:"Measure what the program reckons."`
	Spec     specCmd     `cmd:"" group:"Questions" help:"What goes on each seam of a survey?"`
	Bead     beadCmd     `cmd:"" group:"Questions" help:"How much material does a bead take?"`
	Fit      fitCmd      `cmd:"" group:"Questions" help:"Which activation energy do times at several temperatures give?"`
	Colour   colourCmd   `cmd:"" group:"Questions" help:"How far are two colours apart?"`
	VIN      vinCmd      `cmd:"" name:"vin" group:"Questions" help:"Is this a vehicle identification number?"`
}

// gcPercent lets the heap grow further between collections than Go does by
// itself: what a shop holds is tens of megabytes, and a collection costs those
// who wait for an answer more than room for some of them does.
const gcPercent = 400

func main() {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(gcPercent)
	}
	ctx, stop := signal.NotifyContext(context.Background(), ending()...)
	err := run(ctx, os.Args[1:])
	stop()
	if err == nil {
		return
	}
	line, status := console.Explain(err)
	fmt.Fprintln(os.Stderr, line)
	os.Exit(status)
}

// ending are the signals that end a command in good order: a window that is
// closed is one of them, unless the command was told to outlive it.
func ending() []os.Signal {
	out := []os.Signal{os.Interrupt, syscall.SIGTERM}
	if !signal.Ignored(syscall.SIGHUP) {
		out = append(out, syscall.SIGHUP)
	}
	return out
}

func run(ctx context.Context, args []string) error {
	var c commands
	parser, err := kong.New(&c, kong.Name("seamwright"),
		kong.Description("Seamwright keeps a body shop's seams: what goes on each, how far it has cured, and when the booth may spray."),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true}),
		kong.Vars{"grpc": console.DefaultGRPC, "screens": console.DefaultScreens},
		kong.BindTo(ctx, (*context.Context)(nil)))
	if err != nil {
		return fault.Wrap(err, fault.Internal, "flags", "")
	}
	if args, err = order(args, parser.Model.Node); err != nil {
		return err
	}
	k, err := parser.Parse(fieldsAsked(args))
	if err != nil {
		return refused(err)
	}
	return k.Run(console.Out{W: os.Stdout, JSON: c.JSON})
}
