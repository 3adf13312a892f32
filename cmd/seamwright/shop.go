package main

import (
	"context"
	"log/slog"
	"os"

	"seamwright/services/console"
)

type upCmd struct {
	Dir     string `placeholder:"DIR" help:"The shop's folder; made if it is not there."`
	Shop    string `default:"shop" placeholder:"NAME" help:"The shop's name in its journal; shop unless given."`
	GRPC    string `name:"grpc" default:"${grpc}" placeholder:"HOST:PORT" help:"Where services listen; ${grpc} unless given, port 0: any free one."`
	Screens string `default:"${screens}" placeholder:"HOST:PORT" help:"Where the screens are; ${screens} unless given."`
	Bus     string `placeholder:"HOST:PORT" help:"Where the NATS bus listens; not at all unless given."`
	MQTT    string `name:"mqtt" placeholder:"HOST:PORT" help:"Where the bus takes MQTT, for probes and readers; not at all unless given."`
	NoPlan  bool   `name:"no-plan" help:"Keep no booth plan: loads stand where they are told."`
	Verbose bool   `help:"Log every call."`
}

func (c upCmd) Run(ctx context.Context, o console.Out) error {
	level := slog.LevelInfo
	if c.Verbose {
		level = slog.LevelDebug
	}
	log := slog.New(slog.NewTextHandler(os.Stderr, &slog.HandlerOptions{Level: level}))
	return console.Up{Dir: c.Dir, Shop: c.Shop, GRPC: c.GRPC, Screens: c.Screens, Bus: c.Bus, MQTT: c.MQTT, NoPlan: c.NoPlan, Log: log}.Run(ctx, o)
}

// at are the flags that say which running shop is meant.
type at struct {
	Address string `aliases:"grpc" placeholder:"HOST:PORT" help:"Address of the shop's services; ${grpc} unless given."`
	Dir     string `placeholder:"DIR" help:"Folder of a shop that runs on this machine, in place of its address."`
	NATS    string `name:"nats" placeholder:"URL" help:"NATS server of a shop whose services run apart, in place of its address."`
	Shop    string `placeholder:"NAME" help:"The shop's name at that server; shop unless given."`
}

type watchCmd struct {
	at   `embed:""`
	From string `placeholder:"N" help:"First event to show; what comes from now on unless given, with --stop all of them."`
	Stop bool   `help:"End at what is the newest event now."`
}

func (c watchCmd) Run(ctx context.Context, o console.Out) error {
	return console.Watch{At: console.At(c.at), From: c.From, Stop: c.Stop}.Run(ctx, o)
}

type importCmd struct {
	at       `embed:""`
	Survey   []string `arg:"" optional:"" placeholder:"SURVEY.csv" help:"Survey files (CSV)."`
	Products string   `placeholder:"DIR" help:"Folder of product files (YAML)."`
	Zones    string   `placeholder:"DIR" help:"Folder of zone files (YAML)."`
	Booths   string   `placeholder:"DIR" help:"Folder of booth files (YAML)."`
	Loads    string   `placeholder:"FILE" help:"File of loads (CSV)."`
	Lots     string   `placeholder:"FILE" help:"File of lots that came in (CSV): lot, product, expires, cartridges or received_ml, cost of one, currency."`
	Readings string   `placeholder:"DIR" help:"Folder of readings (CSV), each file named for its zone."`
	People   string   `placeholder:"FILE" help:"people.yaml that says which terminal stands in which zone."`
	Plan     bool     `help:"Plan the surveyed seams with these products; what a person must decide is listed."`
	Name     string   `placeholder:"NAME" help:"Who says so in the journal; import unless given."`
}

func (c importCmd) Run(ctx context.Context, o console.Out) error {
	return console.Import{
		At: console.At(c.at), Surveys: c.Survey, Products: c.Products, Zones: c.Zones, Booths: c.Booths,
		Loads: c.Loads, Lots: c.Lots, Readings: c.Readings, People: c.People, Plan: c.Plan, Name: c.Name,
	}.Run(ctx, o)
}

type journalCmd struct {
	Verify verifyCmd `cmd:"" help:"Is every event that was acknowledged there, unchanged?"`
	Accept acceptCmd `cmd:"" help:"Take a journal whose proof is gone, or that ends early, as it is, with a note of who did so and why."`
}

type verifyCmd struct {
	Dir   string `placeholder:"DIR" help:"The shop's folder; the shop must not be running."`
	Shop  string `default:"shop" placeholder:"NAME" help:"The shop's name in its journal."`
	NATS  string `name:"nats" placeholder:"URL" help:"Server of a shop whose services run apart, in place of --dir; they may be running."`
	Proof string `placeholder:"DIR" help:"Folder of that shop's proof."`
}

func (c verifyCmd) Run(ctx context.Context, o console.Out) error {
	return console.Verify(c).Run(ctx, o)
}

type acceptCmd struct {
	Dir     string `placeholder:"DIR" help:"The shop's folder; the shop must not be running."`
	Shop    string `default:"shop" placeholder:"NAME" help:"The shop's name in its journal."`
	NATS    string `name:"nats" placeholder:"URL" help:"Server of a shop whose services run apart, in place of --dir."`
	Proof   string `placeholder:"DIR" help:"Folder of that shop's proof; no service may keep it meanwhile."`
	Name    string `placeholder:"NAME" help:"Who accepts; kept beside the proof."`
	Reason  string `placeholder:"TEXT" help:"Why; kept beside the proof."`
	Damaged bool   `help:"Accept a journal that disagrees with its proof, if each of its records can be read; the note lists the troubles."`
}

func (c acceptCmd) Run(ctx context.Context, o console.Out) error {
	return console.Accept(c).Run(ctx, o)
}

// Help is the longer text below the usage.
func (acceptCmd) Help() string {
	return `A proof that is gone, or was never kept, is written anew over the records that stand. With --damaged so is one that disagrees
with them: the store came back from an older copy or lost its last records, or the proof is another journal's. What was
acknowledged and is not there is lost then, and the note says so. It mends nothing: where a record that the store knows of
cannot be read back, as after a changed byte or a torn file, nothing is accepted, with --damaged or without, for no shop
opens over a hole; restore journal and proof together from a copy.

Example: seamwright journal accept --dir ./shop --name 'Ansa Vellacorn' --reason 'the copy had no proof'`
}

type personCmd struct {
	Dir  string `placeholder:"DIR" help:"The shop's folder."`
	Name string `placeholder:"NAME" help:"The person's name."`
	Role string `placeholder:"ROLE" help:"technician, painter, foreman, materials or inspector."`
}

func (c personCmd) Run(o console.Out) error {
	return console.Person{Dir: c.Dir, Name: c.Name, Role: c.Role, In: os.Stdin}.Run(o)
}
