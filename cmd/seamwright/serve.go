package main

import (
	"context"
	"log/slog"
	"os"

	"seamwright/services/console"
)

type serveCmd struct {
	Services  []string `arg:"" name:"service" enum:"jobs,materials,cures,booth,board" help:"What this process runs: jobs, materials, cures, booth, board; one or several."`
	NATS      string   `name:"nats" placeholder:"URL" env:"SEAMWRIGHT_NATS" help:"The shop's NATS server, with user and password if it wants them; of several servers each, with commas."`
	Monitor   string   `placeholder:"URL" help:"HTTP monitoring of that server, to see that it syncs before it acknowledges; of several servers each, with commas."`
	Replicas  int      `default:"1" placeholder:"N" help:"Servers that keep the journal together: 1, 3 or 5; 1 unless given. The first process that starts makes the journal so."`
	Shop      string   `default:"shop" placeholder:"NAME" help:"The shop's name in its journal; shop unless given."`
	GRPC      string   `name:"grpc" default:"127.0.0.1:0" placeholder:"HOST:PORT" help:"Where services listen; 127.0.0.1:0 unless given, port 0: any free one."`
	Advertise string   `placeholder:"HOST:PORT" help:"How the other processes reach that; as it listens unless given."`
	Screens   string   `placeholder:"HOST:PORT" help:"Where the board's screens are; ${screens} unless given."`
	Proof     string   `placeholder:"DIR" help:"Folder of the journal's proof: one process of a shop keeps it."`
	People    string   `placeholder:"FILE" help:"people.yaml of the shop."`
	Dir       string   `placeholder:"DIR" help:"Folder that has the people.yaml, in place of --people."`
	NoPlan    bool     `name:"no-plan" help:"Keep no booth plan: loads stand where they are told. For every process that runs booth."`
	Verbose   bool     `help:"Log every call."`
}

func (c serveCmd) Run(ctx context.Context, o console.Out) error {
	level := slog.LevelInfo
	if c.Verbose {
		level = slog.LevelDebug
	}
	return console.Serve{
		Services: c.Services, NATS: c.NATS, Monitor: c.Monitor, Replicas: c.Replicas, Shop: c.Shop, GRPC: c.GRPC, Advertise: c.Advertise,
		Screens: c.Screens, Proof: c.Proof, People: c.People, Dir: c.Dir, NoPlan: c.NoPlan,
		Log: slog.New(slog.NewTextHandler(os.Stderr, &slog.HandlerOptions{Level: level})),
	}.Run(ctx, o)
}
