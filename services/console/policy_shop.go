package console

import (
	"context"
	"errors"
	"io/fs"
	"log/slog"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	"seamwright/services/app"
	"seamwright/services/clock"
	"seamwright/services/fault"
	"seamwright/services/intake"
	"seamwright/services/sim"
	"seamwright/testdata/shop"
)

// policyShop is a shop in which orders of loads are measured: the invented
// shop's booths and sealers, bays whose doors stay shut and whose probes read
// every ten minutes, and no car in it when it begins. All that happens in it
// comes from its seed; the policy decides what is taken first and nothing
// else.
type policyShop struct {
	policy sim.Policy
	load   float64 // per cent that the booth is busy for
	days   int
	seed   uint64
}

// Booth loads that shops are made for.
const (
	leastLoad = 10
	mostLoad  = 120
	loadLimit = "10 to 120 per cent"
)

// run simulates the shop on a journal in memory.
func (q policyShop) run(ctx context.Context) (_ *sim.Report, err error) {
	things, err := policyFurniture()
	if err != nil {
		return nil, err
	}
	d := clock.NewDriven(demoMonday)
	a, err := app.New(app.Options{Shop: demoShop, Clock: d, Holder: "policy-gate", Beat: beatEvery, Plan: q.policy == sim.Planned, PlanEvery: 30 * time.Minute, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		return nil, err
	}
	if err := a.Start(ctx); err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, a.Stop()) }()
	return sim.Run(ctx, sim.Options{
		Seed: q.seed, Days: q.days, Start: demoMonday, Clients: sim.Over(a.Direct()), Time: drivenShop{a, d}, Inspect: a.Inspect(),
		Furniture: things, Policy: q.policy, Load: q.load,
		Habits: sim.Habits{
			ByDay: 15 * time.Minute, ByNight: 2 * time.Hour, Step: time.Minute, LookEase: 20, CheckDays: 30, ProveDays: 90,
			OnAsking: true, Unheard: true,
		},
	})
}

// policyFurniture are the facts that such a shop begins with.
func policyFurniture() ([]proto.Message, error) {
	var out []proto.Message
	zone := func(id string, low, high, drift float64, works bool, terminals ...string) {
		out = append(out, &curesv1.ZoneDefined{
			ZoneId: id, LimitLowC: low, LimitHighC: high, ProbeErrorC: 0.5, DriftCPerMin: drift,
			StaleAfter: durationpb.New(35 * time.Minute), Settling: durationpb.New(30 * time.Minute), Works: works, Terminals: terminals,
		})
	}
	for _, bay := range []string{"bay-1", "bay-2", "bay-3"} {
		zone(bay, 5, 35, 0.1, true, bay+"-tablet")
	}
	zone("prep-1", 8, 40, 0.2, false)
	zone("booth-1", 5, 90, 2, false, "booth-screen")
	zone("outdoors", -20, 45, 0.3, false)
	err := eachFile("booths", func(name string, f fs.File) error {
		b, err := intake.ReadBooth(name, f)
		if err == nil {
			out = append(out, boothFact(b))
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return out, eachFile("products", func(name string, f fs.File) error {
		p, err := intake.ReadProduct(name, f)
		if err != nil {
			return err
		}
		fact, err := productFact(p)
		out = append(out, fact)
		return err
	})
}

// eachFile reads the YAML files of one of the invented shop's folders.
func eachFile(folder string, read func(name string, f fs.File) error) error {
	entries, err := fs.ReadDir(shop.Files, folder)
	if err != nil {
		return fault.Wrap(err, fault.Internal, folder, "")
	}
	for _, e := range entries {
		if !strings.HasSuffix(e.Name(), ".yaml") {
			continue
		}
		f, err := shop.Files.Open(folder + "/" + e.Name())
		if err != nil {
			return fault.Wrap(err, fault.Internal, folder, "")
		}
		if err := errors.Join(read(e.Name(), f), f.Close()); err != nil {
			return err
		}
	}
	return nil
}
