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

type vinCmd struct {
	Number string `arg:"" optional:"" placeholder:"VIN" help:"The number as it was read."`
}

func (c vinCmd) Run(o console.Out) error { return console.VIN(c).Run(o) }

type fitCmd struct {
	Points     string `arg:"" optional:"" placeholder:"POINTS.csv" help:"Times (CSV): stage, temp_c, minutes."`
	ReferenceC string `name:"reference-temp-c" default:"21" placeholder:"°C" help:"Temperature that times are told at."`
}

func (c fitCmd) Run(o console.Out) error { return console.Fit(c).Run(o) }

type colourCmd struct {
	A string `arg:"" optional:"" placeholder:"L,a,b" help:"A colour in CIE L*a*b* under D65."`
	B string `arg:"" optional:"" placeholder:"L,a,b" help:"Another."`
}

func (c colourCmd) Run(o console.Out) error { return console.Colour(c).Run(o) }

type beadCmd struct {
	Profile  string `placeholder:"PROFILE" help:"round, ribbon, step, ripple, brushed, levelled or fillet."`
	WidthMM  string `name:"width-mm" placeholder:"MM" help:"Width; of a fillet one leg."`
	HeightMM string `name:"height-mm" placeholder:"MM" help:"Height; of a fillet the other leg."`
	LengthMM string `name:"length-mm" placeholder:"MM" help:"Length of the seam."`
	PitchMM  string `name:"pitch-mm" placeholder:"MM" help:"Of a ripple: from crest to crest."`
}

func (c beadCmd) Run(o console.Out) error { return console.Bead(c).Run(o) }
