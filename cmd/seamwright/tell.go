package main

import (
	"context"
	"os"
	"slices"
	"strings"

	"seamwright/services/console"
)

type tellCmd struct {
	at       `embed:""`
	Kind     string   `arg:"" optional:"" placeholder:"KIND" help:"What happened, like lot-recalled; without it the kinds are listed, alone its fields."`
	Fields   []string `arg:"" optional:"" name:"field=value" placeholder:"FIELD=VALUE" help:"A field of it with its value; a list has its field once for each." sep:"none"`
	Name     string   `placeholder:"NAME" help:"The name of the person who says so; it stands in the journal."`
	Role     string   `placeholder:"ROLE" help:"What that person is to the shop: technician, painter, foreman, materials or inspector; machine for a device."`
	Terminal string   `placeholder:"ID" help:"Where it is told; desk unless given."`
	Ago      string   `placeholder:"TIME" help:"How long ago it happened, like '20 min'; now unless given."`
	ID       string   `name:"id" placeholder:"ID" help:"Of a fact whose answer did not come, as it was said then: told again with it, it counts once."`
}

func (c tellCmd) Run(ctx context.Context, o console.Out) error {
	return console.Tell{
		At: console.At(c.at), Kind: c.Kind, Fields: c.Fields, Name: c.Name, Role: c.Role, Terminal: c.Terminal, Ago: c.Ago, ID: c.ID, In: os.Stdin,
	}.Run(ctx, o)
}

// Help is the longer text below the usage.
func (tellCmd) Help() string {
	return `Any fact that a service takes, in the words of the journal. A value is text, a number, yes or no, a word as the shop's files spell
it, a moment, or a length of time. What lies within another field is told by its path (reference.source=none), the members of a
list of such with their number (passes.1.seam_id=2207/rd-l). Numbers, yes and no must be said unless the field may be left out.

How long ago (--ago) counts to the safe side only. Each run tells a fact of its own. Where no answer came it is not known whether
it was recorded: told again with the --id that is said then, it counts once. A fact told by mistake is withdrawn by its number, and
one that was otherwise is corrected: body.FIELD is what should have been told, the rest stays as it was. What stands under which
number shows seamwright watch --from 1 --stop. A foreman's answer to a finding (finding-disposed) takes the PIN from standard
input, and --dir.

Examples:
  a lot is called back:      seamwright tell lot-recalled lot_id=L-2601 why=lumps --name 'Dov Pennywhin' --role materials --dir ./shop
  a stage was seen reached:  seamwright tell stage-observed seam_id=2207/rd-l clock=handling --ago '5 min' --name 'Tamsin Orrable' --role technician --dir ./shop
  that never happened:       seamwright tell fact-withdrawn sequence=41 why='another lot' --name 'Dov Pennywhin' --role materials --dir ./shop
  it was 50 ml, not 5000:    seamwright tell fact-corrected sequence=58 why=mistyped retime=no body.volume_ml=50 --name 'Tamsin Orrable' --role technician --dir ./shop
  both sides brought level:  seamwright tell cartridge-equalised cartridge_id=C1 volume_ml=1 --name 'Tamsin Orrable' --role technician --dir ./shop
  a nozzle, hold-up weighed: seamwright tell nozzle-fitted nozzle_id=N7 cartridge_id=C1 hold_up_ml=6.5 --name 'Tamsin Orrable' --role technician --dir ./shop`
}

// fieldsAsked turns "tell KIND --help" into "tell KIND", which lists the
// fields of the kind. The arguments are in order, words first.
func fieldsAsked(args []string) []string {
	if len(args) < 2 || args[0] != "tell" || strings.HasPrefix(args[1], "-") || !slices.Contains(args, "--help") && !slices.Contains(args, "-h") {
		return args
	}
	out := args[:2:2]
	if slices.Contains(args, "--json") {
		out = append(out, "--json")
	}
	return out
}
