package console

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"time"

	"google.golang.org/grpc"

	"seamwright/services/access"
	"seamwright/services/app"
	"seamwright/services/clock"
	"seamwright/services/fault"
	"seamwright/services/sim"
	"seamwright/testdata/shop"
)

// Demo runs the invented shop in simulated time: people work, probes read,
// mistakes happen. Headless it runs for some days as fast as it goes and says
// whether the shop found all that was due; else it goes on at a pace, with
// screens to look at, until the context ends.
type Demo struct {
	Headless bool
	Days     int     // headless: 5 if 0
	Seed     uint64  // the same seed gives the same shop; 1 if 0
	Pace     float64 // simulated seconds in a real one; DefaultPace if 0
	Screens  string  // address of the screens; not headless
	Memory   bool    // keep the journal in memory instead of on the embedded server
	Policy   string  // what is sprayed and sealed next: plan, fcfs or edd; plan if empty
	Load     float64 // headless: per cent that the booth is busy for with cars that are fixed beforehand; 0: they are not
	Log      *slog.Logger
}

// demoShop is the invented shop's name in its journal.
const demoShop = "harrow-street"

// DefaultPace lets a quarter of an hour of flow-out pass in 45 s.
const DefaultPace = 20

// The invented shop's week begins on a Monday; a living one is joined when
// several seams flow.
var (
	demoMonday = time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	demoJoined = demoMonday.Add(10*time.Hour + 20*time.Minute)
)

type demoAnswer struct {
	Sound  bool        `json:"sound"`
	Report *sim.Report `json:"report"`
}

func (a demoAnswer) Lines() []string {
	return strings.Split(strings.TrimRight(a.Report.String(), "\n"), "\n")
}

// Run shows the shop.
func (q Demo) Run(ctx context.Context, o Out) (err error) {
	if err := q.defaults(); err != nil {
		return err
	}
	if q.Load > 0 {
		r, err := policyShop{policy: sim.Policy(q.Policy), load: q.Load, days: q.Days, seed: q.Seed}.run(ctx)
		return q.tell(o, r, err)
	}
	dir, err := unpackShop()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	people, err := access.Load(filepath.Join(dir, "people.yaml"))
	if err != nil {
		return err
	}
	d := clock.NewDriven(demoMonday)
	opt := app.Options{
		Shop: demoShop, Clock: d, GRPC: "127.0.0.1:0", Screens: q.Screens, People: people, Holder: "demo-gate", Speed: q.Pace, Plan: true, Log: q.Log,
	}
	if !q.Memory {
		opt.Dir = filepath.Join(dir, "store")
	}
	a, err := app.New(opt)
	if err != nil {
		return err
	}
	if err := a.Start(ctx); err != nil {
		return q.unlessStopped(ctx, err)
	}
	defer func() { err = errors.Join(err, a.Stop()) }()
	if !q.Headless {
		if err := o.lines("screens  http://"+a.Addr().Screens+"/", "gRPC     "+a.Addr().GRPC+" (--address of the other commands)", "PIN      2468 for everybody",
			"A process hold, not a certified safety interlock. Stop with Ctrl-C."); err != nil {
			return err
		}
	}
	conn, err := a.Dial()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, conn.Close()) }()
	return q.unlessStopped(ctx, q.simulate(ctx, o, a, d, conn, dir))
}

// unlessStopped drops the error of a living shop that only says that it was
// stopped, however early. A headless run that was stopped has no answer: that
// stays an error.
func (q Demo) unlessStopped(ctx context.Context, err error) error {
	if !q.Headless && ended(ctx, err) {
		return nil
	}
	return err
}

func (q *Demo) defaults() error {
	if q.Seed == 0 {
		q.Seed = 1
	}
	if q.Policy == "" {
		q.Policy = string(sim.Planned)
	}
	if _, err := sim.ParsePolicy("--policy", q.Policy); err != nil {
		return err
	}
	switch {
	case q.Load != 0 && (!q.Headless || !(q.Load >= leastLoad && q.Load <= mostLoad)):
		return fault.Bad("--load", q.Load, loadLimit+", and --headless with it")
	case q.Days < 0 || q.Days > 365:
		return fault.Bad("--days", q.Days, "1 to 365")
	case q.Headless && q.Pace != 0:
		return fault.Bad("--pace", q.Pace, "nothing with --headless, which runs as fast as it goes")
	case !(q.Pace >= 0 && q.Pace <= 3600):
		return fault.Bad("--pace", q.Pace, "above 0 to 3600 simulated seconds in a real one")
	case q.Headless:
		q.Screens = ""
		if q.Days == 0 {
			q.Days = 5
		}
	case q.Days != 0:
		return fault.Bad("--days", q.Days, "nothing without --headless: a living shop goes on until it is stopped")
	case q.Pace == 0:
		q.Pace = DefaultPace
	}
	return nil
}

func (q Demo) simulate(ctx context.Context, o Out, a *app.App, d *clock.Driven, conn grpc.ClientConnInterface, dir string) error {
	opt := sim.Options{
		Seed: q.Seed, Days: q.Days, Start: demoMonday, Clients: sim.Over(conn), Time: drivenShop{a, d},
		Pace: q.Pace, LiveFrom: demoJoined,
		Policy: sim.Policy(q.Policy),
		Import: func(ctx context.Context) error { return fill(ctx, a.Addr().GRPC, dir) },
	}
	if q.Headless {
		opt.Inspect = a.Inspect()
	} else if !o.JSON {
		opt.Out = o.W
	}
	report, err := sim.Run(ctx, opt)
	return q.tell(o, report, err)
}

// tell tells what a simulation came to.
func (q Demo) tell(o Out, report *sim.Report, err error) error {
	if report != nil && (err == nil || len(report.Violations) > 0) {
		err = errors.Join(err, o.put(demoAnswer{report.Sound(), report}))
	}
	if err != nil {
		return err
	}
	if !report.Sound() {
		return fault.New(fault.Internal, "demo-unsound",
			fmt.Sprintf("%d checks of the simulated shop failed, first: %s", len(report.Violations), report.Violations[0]), "run it again with the same seed")
	}
	return nil
}

// drivenShop is the shop's time as a simulation moves it.
type drivenShop struct {
	*app.App
	clock *clock.Driven
}

func (d drivenShop) Now() time.Time { return d.clock.Now() }

// fill imports the shop's files into the running shop.
func fill(ctx context.Context, address, dir string) error {
	in := func(name string) string { return filepath.Join(dir, name) }
	return Import{
		At: At{Address: address}, Surveys: []string{in("survey.csv")}, Products: in("products"), Zones: in("zones"),
		Booths: in("booths"), Loads: in("loads.csv"), People: in("people.yaml"),
	}.Run(ctx, Out{W: io.Discard})
}

// unpackShop writes the shop's files where the import can read them.
func unpackShop() (dir string, err error) {
	if dir, err = os.MkdirTemp("", "seamwright-demo-"); err == nil {
		err = os.CopyFS(dir, shop.Files)
	}
	if err != nil {
		return "", fault.Wrap(err, fault.Unavailable, "demo-files", "make the folder for temporary files writable")
	}
	return dir, nil
}
