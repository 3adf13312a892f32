package main

import "seamwright/services/console"

// Flags are text here: package console reads them and says what is wrong.

type cureCmd struct {
	Product   string `placeholder:"FILE" help:"Product file (YAML)."`
	Zone      string `placeholder:"FILE" help:"Zone file (YAML)."`
	Readings  string `placeholder:"FILE" help:"Readings of the zone (CSV)."`
	Laid      string `placeholder:"TIME" help:"When laying ended."`
	Begun     string `placeholder:"TIME" help:"When material first moved; as --laid unless given."`
	Stage     string `placeholder:"STAGE" help:"nozzle-gel, tooling, flow-out, handling, full-cure, coat-opens or coat-closes."`
	Coat      string `placeholder:"COAT" help:"For coat windows: primer-surfacer, undercoat, solventborne or waterborne."`
	At        string `placeholder:"TIME" help:"The moment that is asked about; later readings are ignored."`
	Hindsight bool   `help:"Use later readings too."`
}

func (c cureCmd) Run(o console.Out) error { return console.Cure(c).Run(o) }

type dewpointCmd struct {
	TempC    string `name:"temp-c" placeholder:"°C" help:"Temperature of the air."`
	RH       string `name:"rh" placeholder:"%" help:"Relative humidity."`
	SurfaceC string `name:"surface-c" placeholder:"°C" help:"Temperature of the surface."`
}

func (c dewpointCmd) Run(o console.Out) error { return console.DewPoint(c).Run(o) }

type specCmd struct {
	Survey   string `arg:"" optional:"" placeholder:"SURVEY.csv" help:"Survey file (CSV)."`
	Products string `placeholder:"DIR" help:"Folder of product files."`
}

func (c specCmd) Run(o console.Out) error { return console.Spec(c).Run(o) }
