package floor_test

import (
	"fmt"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/floor"
)

// grown is a floor with a past: jobs that were sealed, and readings of each
// of three bays.
type grown struct {
	f   *floor.Floor
	now time.Time
	n   int
}

func grow(t testing.TB, jobs, readings int) *grown {
	t.Helper()
	g := &grown{f: floor.New(), now: time.Date(2026, 3, 2, 7, 30, 0, 0, time.UTC)}
	for i := range 3 {
		g.tell(t, &curesv1.ZoneDefined{
			ZoneId: fmt.Sprintf("bay-%d", i), LimitLowC: 5, LimitHighC: 35, ProbeErrorC: 0.5, DriftCPerMin: 0.2, Works: true,
			StaleAfter: durationpb.New(15 * time.Minute), Settling: durationpb.New(30 * time.Minute), Terminals: []string{fmt.Sprintf("tab-%d", i)},
		})
	}
	gel, full := 8.0, 1440.0
	g.tell(t, &materialsv1.ProductDefined{
		ProductId: "mb", Name: "mb", Class: floorv1.SealerClass_SEALER_CLASS_MEDIUM_BODIED, CartridgeMl: 200,
		Cure: &materialsv1.Cure{
			ReferenceTempC: 21, ActivationLowKjMol: 52, ActivationNominalKjMol: 52, ActivationHighKjMol: 52, NozzleGelMin: &gel, FullCureMin: &full,
			Over: []*materialsv1.Cure_Window{{Coat: floorv1.Coat_COAT_SOLVENTBORNE, ClosesMin: 2880}},
		},
	})
	g.tell(t, &materialsv1.LotReceived{LotId: "L", ProductId: "mb", Cartridges: 100000})
	for j := range jobs {
		g.job(t, j)
	}
	for i := range readings {
		g.read(t, i)
	}
	return g
}

func (g *grown) event(t testing.TB, body proto.Message) floor.Event {
	t.Helper()
	g.n++
	ev, err := g.f.Decide(floor.Command{Body: body, Stamp: &floorv1.Stamp{
		CommandId: fmt.Sprintf("command-%d", g.n), Actor: "Robin", Role: floorv1.Role_ROLE_MACHINE, Terminal: "tab-1",
		Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
	}}, g.now)
	if err != nil {
		t.Fatal(err)
	}
	return ev
}

func (g *grown) tell(t testing.TB, body proto.Message) {
	t.Helper()
	if err := g.f.Apply(g.event(t, body)); err != nil {
		t.Fatal(err)
	}
}

func (g *grown) read(t testing.TB, i int) {
	t.Helper()
	g.now = g.now.Add(10 * time.Second)
	g.tell(t, &curesv1.ReadingTaken{ZoneId: fmt.Sprintf("bay-%d", i%3), ProbeId: "p", TempC: 20 + float64(i%7)/10})
}

func (g *grown) job(t testing.TB, j int) {
	t.Helper()
	ro, c := fmt.Sprintf("J%d", j), fmt.Sprintf("C%d", j)
	g.tell(t, &jobsv1.JobOpened{Ro: ro, Vehicle: "van", Coats: []floorv1.Coat{floorv1.Coat_COAT_SOLVENTBORNE}})
	g.tell(t, &materialsv1.CartridgeOpened{CartridgeId: c, LotId: "L"})
	g.tell(t, &materialsv1.NozzleFitted{NozzleId: "N" + c, CartridgeId: c})
	for s := range 4 {
		id := fmt.Sprintf("%s/s%d", ro, s)
		g.tell(t, &jobsv1.SeamSurveyed{SeamId: id, Panel: "door", Place: "hem", Finish: floorv1.Finish_FINISH_COATED, Substrate: floorv1.Substrate_SUBSTRATE_E_COAT})
		g.tell(t, &jobsv1.SurfacePrepped{SeamId: id, Substrate: floorv1.Substrate_SUBSTRATE_E_COAT})
		g.now = g.now.Add(time.Second)
		g.tell(t, g.bead(id, c))
	}
}

func (g *grown) bead(seam, cartridge string) *jobsv1.BeadLaid {
	v := 1.0
	return &jobsv1.BeadLaid{SeamId: seam, CartridgeId: cartridge, NozzleId: "N" + cartridge, Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: &v}
}

func (g *grown) lay(t testing.TB, i int) {
	t.Helper()
	g.now = g.now.Add(time.Second)
	id := fmt.Sprintf("J0/l%d", i)
	g.tell(t, &jobsv1.SeamSurveyed{SeamId: id, Panel: "door", Place: "hem", Finish: floorv1.Finish_FINISH_COATED, Substrate: floorv1.Substrate_SUBSTRATE_E_COAT})
	c := fmt.Sprintf("CX%d", i)
	g.tell(t, &materialsv1.CartridgeOpened{CartridgeId: c, LotId: "L"})
	g.tell(t, g.bead(id, c))
}

// work is what one in-order command of a kind costs.
var work = map[string]func(t testing.TB, g *grown, i int){
	"reading": func(t testing.TB, g *grown, i int) { g.read(t, i) },
	"photo": func(t testing.TB, g *grown, _ int) {
		g.now = g.now.Add(time.Second)
		g.tell(t, &jobsv1.PhotoAttached{SeamId: "J0/s0", Sha256: "0"})
	},
	"laying": func(t testing.TB, g *grown, i int) { g.lay(t, i) },
	"nozzle": func(t testing.TB, g *grown, i int) {
		g.now = g.now.Add(time.Second)
		g.tell(t, &materialsv1.NozzleFitted{NozzleId: fmt.Sprintf("X%d", i), CartridgeId: fmt.Sprintf("X%d", i)})
	},
}

// TestTheCostDoesNotGrow: what an in-order reading or fact costs does not
// hang on the number of jobs or readings before it. What it allocates is
// counted, as times differ from run to run.
func TestTheCostDoesNotGrow(t *testing.T) {
	small, large := grow(t, 3, 300), grow(t, 300, 6000)
	for name, do := range work {
		n := 0
		count := func(g *grown) float64 {
			return testing.AllocsPerRun(200, func() { n++; do(t, g, n) })
		}
		// The lists of one thing are copied when a fact is tried: allocations
		// stay the same while bytes grow with that thing's own facts only.
		if a, b := count(small), count(large); b > a*1.2+20 {
			t.Errorf("a %s costs %.0f allocations on a young floor and %.0f on an old one", name, a, b)
		}
	}
}

func BenchmarkApply(b *testing.B) {
	for _, size := range []struct{ jobs, readings int }{{3, 300}, {300, 6000}, {300, 60000}} {
		for name, do := range work {
			b.Run(fmt.Sprintf("%s/jobs=%d/readings=%d", name, size.jobs, size.readings), func(b *testing.B) {
				g := grow(b, size.jobs, size.readings)
				b.ReportAllocs()
				i := 0
				for b.Loop() {
					i++
					do(b, g, i)
				}
			})
		}
	}
}
