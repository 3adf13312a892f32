package main

import (
	"context"

	"seamwright/services/console"
)

// The small calculators. Flags are text here too: package console reads them.

type beadCmd struct {
	Profile      string `placeholder:"PROFILE" help:"round, ribbon, step, ripple, brushed, levelled or fillet."`
	WidthMM      string `name:"width-mm" placeholder:"MM" help:"Width across the bead; of a fillet one leg."`
	HeightMM     string `name:"height-mm" placeholder:"MM" help:"Height of the crown; depth of a levelled bead; the other leg of a fillet."`
	LengthMM     string `name:"length-mm" placeholder:"MM" help:"Length along the seam."`
	PitchMM      string `name:"pitch-mm" placeholder:"MM" help:"Of a ripple only: from crest to crest."`
	Bed          bool   `help:"A wet bed goes below the bead."`
	CartridgeML  string `name:"cartridge-ml" placeholder:"ML" help:"Size of a cartridge: tells how many it takes."`
	PurgeML      string `name:"purge-ml" placeholder:"ML" help:"Squeezed out through each new nozzle until it mixes evenly."`
	HoldUpML     string `name:"hold-up-ml" placeholder:"ML" help:"Left in each nozzle when it is thrown away."`
	WastePercent string `name:"waste-percent" placeholder:"%" help:"Of what is laid: tooled off, wiped up, left on tape."`
	Nozzles      string `placeholder:"N" help:"Nozzles that the work takes at least; 1 unless given."`
}

func (c beadCmd) Run(o console.Out) error { return console.Bead(c).Run(o) }

// Help is the longer text below the usage.
func (beadCmd) Help() string {
	return `Give profile, width, height and length; the answer is the area of the bead's section and its volume.
A round bead is at most half as high as it is wide. A ripple is reckoned as the mean over its pitch.

Example: seamwright bead --profile round --width-mm 8 --height-mm 2 --length-mm 1400 --cartridge-ml 200`
}

type colourCmd struct {
	A        string `arg:"" optional:"" name:"colour" help:"A colour in CIE L*a*b* under D65, as the instrument reads it, or sRGB as #rrggbb."`
	B        string `arg:"" optional:"" name:"other" help:"Another, to compare it with."`
	Products string `placeholder:"DIR" help:"Folder of product files: which sealer is nearest to the first colour?"`
}

func (c colourCmd) Run(o console.Out) error { return console.Colour(c).Run(o) }

// Help is the longer text below the usage.
func (colourCmd) Help() string {
	return `The answer is the colour difference CIEDE2000: 0 is equal, about 1 is where a trained eye begins to see it side by
side (common practice). No space after the commas. L is 0 to 100, a and b are -200 to 200.

Example: seamwright colour 50,-2.5,3 49,0,1`
}

type vinCmd struct {
	Number string `arg:"" optional:"" name:"vin" help:"The number as it was read, in capitals or not."`
}

func (c vinCmd) Run(o console.Out) error { return console.VIN(c).Run(o) }

// Help is the longer text below the usage.
func (vinCmd) Help() string {
	return `Checks length, letters and the check digit in position 9, and reads the model year. For a wrong number it tells
what it may have been meant for: a character misread, two swapped, one typed twice.

Example: seamwright vin 1M8GDM9AXKP042788`
}

type fitCmd struct {
	Points     string `arg:"" optional:"" placeholder:"POINTS.csv" help:"Times (CSV): stage, temp_c, minutes."`
	ReferenceC string `name:"reference-temp-c" placeholder:"°C" help:"Temperature that times are told at; 21 unless given."`
	Product    string `placeholder:"ID" help:"In place of a file: what people in a running shop saw of this product, beside its label."`
	at         `embed:""`
}

func (c fitCmd) Run(ctx context.Context, o console.Out) error {
	return console.Fit{Points: c.Points, ReferenceC: c.ReferenceC, Product: c.Product, At: console.At(c.at)}.Run(ctx, o)
}

// Help is the longer text below the usage.
func (fitCmd) Help() string {
	return `From times that a label or a trial gives at several temperatures: how strongly the cure depends on temperature (its
activation energy with the 95 % band) and each stage's time at the reference temperature. One stage needs two
temperatures at least; the band is known once there are two points more than stages.

With --product the times are those at which people saw a stage reached, each at the constant temperature that would
have brought the bead as far. The clocks go on by the label. To go by what was seen, a foreman puts the points that
are told here into the product's file and imports it.

Example: seamwright fit points.csv --reference-temp-c 21
         seamwright fit --product mb-grey`
}
