package sim

import (
	"context"
	"io"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/fault"
)

// Clients are the shop's public clients.
type Clients struct {
	Jobs      jobsv1.JobsServiceClient
	Materials materialsv1.MaterialsServiceClient
	Stock     materialsv1.StockServiceClient
	Cures     curesv1.CuresServiceClient
	Booth     boothv1.BoothServiceClient
}

// Over makes the clients over one connection.
func Over(c grpc.ClientConnInterface) Clients {
	return Clients{
		Jobs: jobsv1.NewJobsServiceClient(c), Materials: materialsv1.NewMaterialsServiceClient(c), Stock: materialsv1.NewStockServiceClient(c),
		Cures: curesv1.NewCuresServiceClient(c), Booth: boothv1.NewBoothServiceClient(c),
	}
}

// Time is the shop's driven clock. Moved to where it stands, it lets the shop
// come to rest.
type Time interface {
	Now() time.Time
	// AdvanceTo moves time on, past all that is due, and returns when every
	// follower has seen the journal's last record.
	AdvanceTo(ctx context.Context, to time.Time) error
}

// Inspector looks inside the shop's program, for what cannot be seen from
// outside.
type Inspector interface {
	// Hash is that of the floor as it stands.
	Hash(ctx context.Context) (string, error)
	// ReplayHash is that of a floor folded again from the journal's first
	// event.
	ReplayHash(ctx context.Context) (string, error)
	// VerifyJournal reads the journal through and proves it.
	VerifyJournal(ctx context.Context) error
}

// Doubter is an Inspector that can put the store in doubt for a while, as a
// disk does that stops answering.
type Doubter interface {
	Doubt(on bool)
}

// Options of a simulation.
type Options struct {
	Seed  uint64
	Days  int       // calendar days from Start; 0: until the context ends
	Start time.Time // midnight, by the shop's wall clock, of the first day
	Clients
	Time   Time
	Habits Habits
	// Policy decides what is sprayed and sealed next; empty: what was promised
	// earliest is sprayed, and nobody changes colours.
	Policy Policy
	// Load fixes which cars come in beforehand, so that the booth that bakes is
	// busy for so many per cent of its hours; 0: cars come as the shop has room.
	// It needs a policy and days. Luck is fixed as well: what happens to a car
	// and how long work takes does not hang on the order in which things are
	// done. The shop then goes on until all cars are delivered, for mostAfter
	// days at most.
	Load float64
	// Furniture are facts that the foreman tells the empty shop first: its
	// zones, booths and products.
	Furniture []proto.Message
	// Import fills the empty shop: products, zones, booths, jobs, loads. Nil:
	// the shop is filled already.
	Import func(context.Context) error
	// Machine fails as machines do; nil: it does not.
	Machine Machine
	// PIN is that of the shop's foreman; empty: nobody overrides the gate.
	PIN string
	// Pace is how many simulated seconds pass in a real one; 0: as fast as it
	// goes. It holds from LiveFrom on.
	Pace     float64
	LiveFrom time.Time // zero: from Start
	Live     func()    // called once, when time begins to run at Pace; may be nil
	Inspect  Inspector // nil: nothing is looked at from inside
	// Stop is told each violation as it happens and may end the simulation
	// there; nil: it goes on.
	Stop func(Violation) bool
	Out  io.Writer // where progress is told, a line a day; nil: nowhere
}

func (o Options) check() error {
	switch {
	case o.Days < 0 || o.Days > 3650:
		return fault.Bad("days", o.Days, "0, for no end, to 3650")
	case o.Start.IsZero():
		return fault.Bad("start", "nothing", "midnight of the first day")
	case o.Habits.hours().clock(o.Start) != 0:
		return fault.Bad("start", o.Start.Format(time.RFC3339), "midnight of the shop's own time")
	case o.Pace < 0 || o.Pace > 1e6:
		return fault.Bad("pace", o.Pace, "0, as fast as it goes, to 1e6")
	case o.Days == 0 && o.Pace == 0:
		return fault.Bad("days", o.Days, "at least 1 unless time has a pace: a shop without end at full speed fills the machine")
	case o.Load < 0 || o.Load > 150:
		return fault.Bad("load", o.Load, "0, for none that is fixed, to 150 per cent")
	case o.Load > 0 && (o.Policy == "" || o.Days == 0):
		return fault.Bad("load", o.Load, "a policy and a number of days with it")
	case o.Time == nil || o.Jobs == nil || o.Materials == nil || o.Stock == nil || o.Cures == nil || o.Booth == nil:
		return fault.Bad("clients", "nothing", "a driven time and all five clients")
	}
	return nil
}
