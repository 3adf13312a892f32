package console

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/access"
	"seamwright/services/calc/spec"
	"seamwright/services/fault"
	"seamwright/services/intake"
)

// Import tells a running shop what its files say. All files are read before
// anything is told. What the shop knows already is not told again, so that the
// same import twice changes nothing.
type Import struct {
	At
	Surveys                 []string // files
	Products, Zones, Booths string   // folders
	Loads                   string   // file
	Lots                    string   // file
	Readings                string   // folder of files named for their zones
	People                  string   // people.yaml: which terminal stands in which zone
	Plan                    bool     // plan the surveyed seams with the products of this import
	Name                    string   // who says so; "import" if empty
}

// imported is what the files said.
type imported struct {
	facts    []proto.Message // in the order in which they can be told
	lots     []intake.Lot
	readings []trace
	products []spec.Product
	open     []undecided
}

type importAnswer struct {
	Recorded  int            `json:"recorded"`
	Unchanged int            `json:"unchanged"`
	Readings  importReadings `json:"readings"`
	Findings  []importNote   `json:"findings"`
	Undecided []undecided    `json:"undecided"` // seams that a person must plan
	Sequence  uint64         `json:"sequence"`
}

type importReadings struct {
	Stored  int `json:"stored"`
	Thinned int `json:"thinned"`
	Known   int `json:"known"`
}

type importNote struct {
	Severity string `json:"severity"`
	About    string `json:"about"`
	Rule     string `json:"rule"`
	Reason   string `json:"reason"`
}

func (a importAnswer) Lines() []string {
	out := []string{fmt.Sprintf("%d facts recorded, %d unchanged; the journal stands at %d", a.Recorded, a.Unchanged, a.Sequence)}
	if r := a.Readings; r.Stored+r.Thinned+r.Known > 0 {
		out = append(out, fmt.Sprintf("%d readings stored, %d told nothing new, %d were known", r.Stored, r.Thinned, r.Known))
	}
	for _, f := range a.Findings {
		out = append(out, fmt.Sprintf("%-6s %s: %s", f.Severity, f.About, oneLine(f.Reason)))
	}
	for _, u := range a.Undecided {
		out = append(out, fmt.Sprintf("decide %s: %s", u.Seam, strings.Join(u.What, "; ")))
	}
	return out
}

// Run imports.
func (q Import) Run(ctx context.Context, o Out) error {
	in, err := q.read()
	if err != nil {
		return err
	}
	a := importAnswer{Findings: []importNote{}, Undecided: list(in.open)}
	err = q.with(ctx, func(c grpc.ClientConnInterface) error {
		t := newTeller(c, q.Name, &a)
		if err := t.learn(ctx, c); err != nil {
			return err
		}
		if err := t.ready(in.facts); err != nil {
			return err
		}
		if err := t.readable(ctx, in); err != nil {
			return err
		}
		lots, err := t.lots(q.Lots, in)
		if err != nil {
			return err
		}
		in.facts = append(in.facts, lots...)
		for _, f := range in.facts {
			if z, ok := f.(*curesv1.ZoneDefined); ok {
				q.keepTerminals(z, t.known[about(z)].body)
			}
			if err := t.tell(ctx, f); err != nil {
				return err
			}
		}
		for _, r := range in.readings {
			if err := t.trace(ctx, r); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	return o.put(a)
}

// read reads all files and puts the facts into an order in which each finds
// what it names.
func (q Import) read() (imported, error) {
	var in imported
	if q.Plan {
		switch {
		case q.Products == "" && len(q.Surveys) == 0:
			return in, fault.Bad("--plan", "alone", "beside a survey and --products: a plan needs both")
		case q.Products == "":
			return in, missing("--products", "the folder of product files that --plan chooses from")
		case len(q.Surveys) == 0:
			return in, missing("SURVEY", "the survey whose seams --plan is about")
		}
	}
	for _, read := range []func(*imported) error{q.readZones, q.readBooths, q.readProducts, q.readSurveys, q.readLoads, q.readLots, q.readReadings} {
		if err := read(&in); err != nil {
			return in, err
		}
	}
	if q.People != "" && q.Zones == "" {
		return in, fault.Bad("--people", "without --zones", "beside --zones, whose terminals it names; one terminal more is told with: seamwright terminal --id ID --zone ZONE")
	}
	if len(in.facts)+len(in.readings)+len(in.lots) == 0 {
		return in, missing("SURVEY", "a survey file, or one of --products, --zones, --booths, --loads, --lots, --readings")
	}
	return in, nil
}

func (q Import) readZones(in *imported) error {
	if q.Zones == "" {
		return nil
	}
	zones, err := readFolder("--zones", q.Zones, yamlFiles, intake.ReadZone, func(z intake.Zone) string { return z.ID })
	if err != nil {
		return err
	}
	var booths []intake.Booth
	if q.Booths != "" {
		if booths, err = q.booths(); err != nil {
			return err
		}
	}
	var terminals []access.Terminal
	if q.People != "" {
		people, err := access.Load(q.People)
		if err != nil {
			return err
		}
		terminals = people.Terminals()
	}
	for _, z := range zones {
		var here []string
		for _, t := range terminals {
			if t.Zone == z.ID {
				here = append(here, t.ID)
			}
		}
		ofBooth := slices.ContainsFunc(booths, func(b intake.Booth) bool { return b.ZoneID == z.ID })
		works := !ofBooth && (q.People == "" || len(here) > 0)
		in.facts = append(in.facts, zoneFact(z, here, works))
	}
	return nil
}

func (q Import) booths() ([]intake.Booth, error) {
	return readFolder("--booths", q.Booths, yamlFiles, intake.ReadBooth, func(b intake.Booth) string { return b.ID })
}

func (q Import) readBooths(in *imported) error {
	if q.Booths == "" {
		return nil
	}
	booths, err := q.booths()
	for _, b := range booths {
		in.facts = append(in.facts, boothFact(b))
	}
	return err
}

func (q Import) readProducts(in *imported) error {
	if q.Products == "" {
		return nil
	}
	products, err := readProducts("--products", q.Products)
	if err != nil {
		return err
	}
	for _, p := range products {
		f, err := productFact(p)
		if err != nil {
			return err
		}
		in.facts = append(in.facts, f)
		in.products = append(in.products, p.Spec())
	}
	return nil
}

func (q Import) readSurveys(in *imported) error {
	for _, path := range q.Surveys {
		jobs, err := readFile("SURVEY", path, intake.ReadSurvey)
		if err != nil {
			return err
		}
		for _, j := range jobs {
			in.facts = append(in.facts, jobFact(j))
			for _, s := range j.Seams {
				in.facts = append(in.facts, seamFact(j, s))
				if q.Plan {
					in.plan(j, s)
				}
			}
		}
	}
	return nil
}

// plan plans a seam, or notes that a person must.
func (in *imported) plan(j intake.Job, s intake.Seam) {
	f, open := planFact(j, s, in.products)
	if open != nil {
		in.open = append(in.open, *open)
		return
	}
	in.facts = append(in.facts, f)
}

func (q Import) readLoads(in *imported) error {
	if q.Loads == "" {
		return nil
	}
	loads, err := readFile("--loads", q.Loads, intake.ReadLoads)
	for _, l := range loads {
		in.facts = append(in.facts, loadFact(l))
	}
	return err
}

// contentID makes a command id of what is told and of the newest event about
// the same thing: an import that is told again without having heard the answer
// makes the same id, and going back to what was told before makes a new one.
func contentID(m proto.Message, after uint64) string {
	b, err := proto.MarshalOptions{Deterministic: true}.Marshal(m)
	if err != nil {
		b = []byte(err.Error()) // the server will refuse the same message
	}
	h := sha256.New()
	fmt.Fprintf(h, "%s\n%d\n", m.ProtoReflect().Descriptor().FullName(), after)
	h.Write(b)
	return "import-" + hex.EncodeToString(h.Sum(nil)[:16])
}

func (t *teller) stamp(id string) *floorv1.Stamp {
	return &floorv1.Stamp{
		CommandId: id, Actor: t.name, Role: floorv1.Role_ROLE_MACHINE, Terminal: "import",
		Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
	}
}
