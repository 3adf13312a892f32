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
	return `Give profile, width, height and length; the answer is the area of the bead's section and its volume, and with the
size of a cartridge what the work takes in all. A round bead is at most half as high as it is wide. A ripple is reckoned
as the mean over its pitch.

A number alone is mm or ml. A unit may stand behind it, metric or US: 6mm, 0.25in, 1/2in, 10ft, 200ml, 6.8floz; with a
space between, or with the sign for inches, put it in quotes.

Examples:

    seamwright bead --profile round --width-mm 8 --height-mm 2 --length-mm 1400

    seamwright bead --profile ribbon --width-mm 0.5in --height-mm 2 \
        --length-mm 6ft --cartridge-ml 6.8floz --purge-ml 5 --waste-percent 10`
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

Examples:

    seamwright colour 50,-2.5,3 49,0,1

    seamwright colour 61.2,-0.4,-1.6 --products testdata/shop/products`
}

type vinCmd struct {
	Number string `arg:"" optional:"" name:"vin" help:"The number as it was read, in capitals or not."`
}

func (c vinCmd) Run(o console.Out) error { return console.VIN(c).Run(o) }

// Help is the longer text below the usage.
func (vinCmd) Help() string {
	return `Checks length, letters and the check digit in position 9, and reads the model year. For a wrong number it tells
what it may have been meant for: a character misread, two swapped, one typed twice. An I, O or Q, which no number
has, is put right first.

The check digit and the year's code hold for vehicles built for North America (first character 1 to 5; 49 CFR 565).
Elsewhere a number need have neither: the year is then a guess, and the answer says so.

Example:

    seamwright vin 1M8GDM9AXKP042788`
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

The reference temperature may have a unit: 21 or 21C, 70F. In the file temp_c is in °C. Each row is to be a trial of its
own: a row written twice makes the band look surer than it is, and the answer warns of it.

Examples:

    seamwright fit points.csv --reference-temp-c 70F

    seamwright fit --product mb-grey --dir ./shop`
}

// Help is the longer text below the usage.
func (dewpointCmd) Help() string {
	return `A surface that is to be sealed must be at least 3 K (5.4 °F) above the dew point of the air, and the air not above 85 %
relative humidity. Both are rules of painting: the 85 % stand in a specification of protective coatings; the 3 K
are ascribed to ISO 8502-4, though the clause was read in texts about that standard, not in it. The verdict is ok, or hold with its reasons; without the surface's own temperature it
is hold. Measure the surface on the joint: metal out of a cold yard is colder than the air.

A number alone is °C. A unit may stand behind it: 20C, 68F. Humidity is in per cent: 55, not 0.55.

Examples:

    seamwright dewpoint --temp-c 20 --rh 50 --surface-c 12

    seamwright dewpoint --temp-c 68F --rh 55 --surface-c 60F`
}

// Help is the longer text below the usage.
func (cureCmd) Help() string {
	return `How far a bead has come at the temperatures that were read in its zone. The air is known only within what the probe
and the time since its last reading allow, so the answer has two edges. What must be reached (flow-out, handling,
full-cure, coat-opens) counts along the cold edge and is reached only when that says yes; what must not be passed
(nozzle-gel, tooling, coat-closes) counts along the hot edge and is safe only while that says no. "maybe" is to be
taken as the unsafe of the two. Files are in metric units. Times need their offset: Z for UTC, or as -05:00.

The product's own sheet and the vehicle maker's procedure come first.

Examples:

    seamwright cure --product hb-white.yaml --zone bay-1.yaml --readings bay-1.csv \
        --laid 2026-03-02T08:00:00Z --stage handling --at 2026-03-02T09:00:00Z

    seamwright cure --product hb-white.yaml --zone bay-1.yaml --readings bay-1.csv \
        --begun 2026-03-02T07:58:00Z --laid 2026-03-02T08:00:00Z \
        --stage coat-closes --coat waterborne --at 2026-03-02T15:30:00Z`
}

// Help is the longer text below the usage.
func (specCmd) Help() string {
	return `For each seam of a survey: class of sealer and product, profile, technique and nozzle, the bead's size and what it
takes, with the reason and its source for each choice, what is wrong or must be decided, and the cautions. The vehicle
maker's repair procedure and the product's own sheet come first.

The survey is a table (CSV) with a row for each seam; needed are the columns ro, vehicle, seam, panel, place and
finish, lengths are in mm. The folder holds a file (YAML) for each product in stock.

Examples:

    seamwright spec survey.csv --products products

    seamwright spec testdata/shop/survey.csv --products testdata/shop/products --json`
}
