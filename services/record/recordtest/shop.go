// Package recordtest stands up the part of a shop that a service's own tests
// need: a journal in memory, the floor that is folded from it, a clock that is
// driven, and one service behind the real gRPC server.
package recordtest

import (
	"fmt"
	"io"
	"log/slog"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/clock"
	"seamwright/services/floor"
	"seamwright/services/journal"
	"seamwright/services/journal/memory"
	"seamwright/services/record"
	"seamwright/services/rpc"
)

// Monday is the moment at which a test's shop begins.
var Monday = time.Date(2026, 3, 2, 7, 30, 0, 0, time.UTC)

// Shop is what a service stands on.
type Shop struct {
	*record.Desk
	Journal *memory.Journal
	Time    *clock.Driven
	told    int
}

// New makes an empty shop at Monday.
func New() *Shop {
	j, f, c := memory.New(memory.Options{}), floor.New(), clock.NewDriven(Monday)
	return &Shop{Desk: &record.Desk{Writer: journal.NewWriter(j, f), Floor: f, Clock: c}, Journal: j, Time: c}
}

// Serve puts services behind a gRPC server until the test ends, and dials it.
func (s *Shop) Serve(t *testing.T, register ...func(grpc.ServiceRegistrar)) *grpc.ClientConn {
	t.Helper()
	srv := rpc.NewServer(rpc.Options{Log: slog.New(slog.NewTextHandler(io.Discard, nil))}, func(r grpc.ServiceRegistrar) {
		for _, put := range register {
			put(r)
		}
	})
	t.Cleanup(srv.Stop)
	c, err := srv.Dial()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c
}

// Stamp is a live stamp of somebody's, with a command id of its own.
func (s *Shop) Stamp(role floorv1.Role) *floorv1.Stamp {
	s.told++
	return &floorv1.Stamp{
		CommandId: fmt.Sprintf("test-%06d", s.told), Actor: "Tamsin Orrable", Role: role, Terminal: "desk",
		Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
	}
}

// Tell records a fact without a service, to set the floor up.
func (s *Shop) Tell(t *testing.T, body proto.Message) *floorv1.Receipt {
	t.Helper()
	r, err := s.Record(t.Context(), floor.Command{Stamp: s.Stamp(floorv1.Role_ROLE_FOREMAN), Body: body},
		func(f *floor.Floor, c floor.Command, at time.Time) (floor.Event, error) { return f.Decide(c, at) })
	if err != nil {
		t.Fatalf("%T: %v", body, err)
	}
	return r
}

// Furnish gives the shop a bay, a self-levelling product, a lot of it and an opened cartridge.
func (s *Shop) Furnish(t *testing.T) {
	t.Helper()
	s.Tell(t, &curesv1.ZoneDefined{
		ZoneId: "bay-1", LimitLowC: 5, LimitHighC: 35, ProbeErrorC: 0.5, DriftCPerMin: 0.2, Works: true,
		StaleAfter: durationpb.New(15 * time.Minute), Settling: durationpb.New(30 * time.Minute), Terminals: []string{"bay-1-tablet"},
	})
	s.Tell(t, Levelling())
	s.Tell(t, &materialsv1.LotReceived{LotId: "L1", ProductId: "sl", Cartridges: 6})
	s.Tell(t, &materialsv1.CartridgeOpened{CartridgeId: "C1", LotId: "L1"})
}

// Read tells the bay's air now.
func (s *Shop) Read(t *testing.T, tempC float64) {
	t.Helper()
	s.Tell(t, &curesv1.ReadingTaken{ZoneId: "bay-1", ProbeId: "p1", TempC: tempC, RhPercent: proto.Float64(45)})
}

// Levelling is a self-levelling product with every time that a label gives.
func Levelling() *materialsv1.ProductDefined {
	return &materialsv1.ProductDefined{
		ProductId: "sl", Name: "Demo self-levelling", Class: floorv1.SealerClass_SEALER_CLASS_SELF_LEVELLING,
		Build: floorv1.Build_BUILD_STANDARD, Colour: "grey", CartridgeMl: 200, MixRatio: "1:1", Price: "36.80", Currency: "USD",
		ShelfLifeDays: 365, OpenedLifeDays: 90, LeadTimeDays: 3,
		Substrates: []floorv1.Substrate{floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER},
		Cure: &materialsv1.Cure{
			ReferenceTempC: 21, ActivationLowKjMol: 54, ActivationNominalKjMol: 54, ActivationHighKjMol: 54, TolerancePercent: 10,
			NozzleGelMin: proto.Float64(5), ToolingMin: proto.Float64(6), FlowOutMin: proto.Float64(15),
			HandlingMin: proto.Float64(50), FullCureMin: proto.Float64(1440),
			Over: []*materialsv1.Cure_Window{{Coat: floorv1.Coat_COAT_WATERBORNE, OpensMin: 60, ClosesMin: 2880}},
		},
	}
}
