package main_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/nats-io/nats.go"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/bus"
	"seamwright/services/floor"
	"seamwright/services/record/recordtest"
	"seamwright/services/rpc"
)

// furnish fills the shop from files, as its people would, and adds a booth
// with a load that is soon ready.
func (s *spread) furnish() {
	s.t.Helper()
	in := func(name string) string { return filepath.Join("..", "..", "testdata", "shop", name) }
	tell := []string{
		"import", "--products", in("products"), "--zones", in("zones"), "--booths", in("booths"), "--loads", in("loads.csv"),
		"--people", in("people.yaml"), "--plan", in("survey.csv"),
	}
	if got := s.run(tell...); !strings.Contains(got, "facts recorded, 0 unchanged") {
		s.t.Errorf("the first import: %s", got)
	}
	if got := s.run(tell...); !strings.Contains(got, "0 facts recorded") {
		s.t.Errorf("the second import: %s", got)
	}
	if got := s.run("terminal", "--id", "bay-1-spare", "--zone", "bay-1"); !strings.Contains(got, "bay-1-spare stands in bay-1") {
		s.t.Errorf("terminal: %s", got)
	}
	if got := s.run("watch", "--stop", "--from", "1"); !strings.Contains(got, "zone defined") || !strings.Contains(got, "bay-1-spare") {
		s.t.Errorf("watch: %.500s", got)
	}
	for _, m := range quickShop() {
		s.tell(s.stamp("import", floorv1.Role_ROLE_MACHINE, "desk"), m)
	}
	for _, m := range quickBead() {
		s.tell(s.stamp("Tamsin Orrable", floorv1.Role_ROLE_TECHNICIAN, "quick-tablet"), m)
	}
}

func (s *spread) tell(st *floorv1.Stamp, m proto.Message) {
	s.t.Helper()
	if _, err := record(s.t.Context(), s.shop, st, m); err != nil {
		s.t.Fatalf("%T: %v", m, err)
	}
}

// quickShop is a bay and a booth, and a product whose clocks end within a
// second.
func quickShop() []proto.Message {
	var out []proto.Message
	for _, z := range []string{"quick-bay", "quick-room"} {
		d := &curesv1.ZoneDefined{
			ZoneId: z, LimitLowC: 5, LimitHighC: 35, ProbeErrorC: 0.5, DriftCPerMin: 0.2,
			StaleAfter: durationpb.New(15 * time.Minute), Settling: durationpb.New(30 * time.Minute),
		}
		if z == "quick-bay" {
			d.Works, d.Terminals = true, []string{"quick-tablet"}
		}
		out = append(out, d, &curesv1.ReadingTaken{ZoneId: z, ProbeId: z + "-probe", TempC: 21, RhPercent: proto.Float64(45)})
	}
	for _, z := range []string{"bay-1", "bay-2", "bay-3"} { // where the car was before nobody knows
		out = append(out, &curesv1.ReadingTaken{ZoneId: z, ProbeId: z + "-probe", TempC: 21, RhPercent: proto.Float64(45)})
	}
	quick := recordtest.Levelling()
	quick.ProductId = "quick"
	quick.Cure.NozzleGelMin, quick.Cure.ToolingMin, quick.Cure.FlowOutMin = proto.Float64(0.01), proto.Float64(0.005), proto.Float64(0.004)
	quick.Cure.HandlingMin, quick.Cure.FullCureMin, quick.Cure.Over[0].OpensMin = proto.Float64(0.006), proto.Float64(0.01), 0.005
	out = append(out, quick, &materialsv1.LotReceived{LotId: "QL", ProductId: "quick", Cartridges: 60})
	for i := range handsSize + 1 {
		id := fmt.Sprint("Q", i)
		out = append(out, &materialsv1.CartridgeOpened{CartridgeId: id, LotId: "QL"}, &materialsv1.CartridgeEqualised{CartridgeId: id, VolumeMl: proto.Float64(1)})
	}
	return append(out,
		&boothv1.BoothDefined{BoothId: "quick-booth", ZoneId: "quick-room", FirstCoatMin: 20, ProcessMin: 60},
		jobOf("ready"), seamOf("ready/rd-l"),
		&boothv1.LoadPlanned{LoadId: "ready-A", BoothId: "quick-booth", Ro: "ready", Colour: "blue", SeamIds: []string{"ready/rd-l"}},
		&jobsv1.SeamPlanned{
			SeamId: "ready/rd-l", ProductId: "quick", Profile: floorv1.Profile_PROFILE_LEVELLED, WidthMm: 12, HeightMm: 4,
			Technique: floorv1.Technique_TECHNIQUE_DIRECT_BEAD, VolumeMl: 60,
		})
}

// quickBead is the load's bead, by the book.
func quickBead() []proto.Message {
	laid := beadOn("ready/rd-l", "Q0", "QN0")
	laid.Technique, laid.Profile = floorv1.Technique_TECHNIQUE_DIRECT_BEAD, floorv1.Profile_PROFILE_LEVELLED
	return []proto.Message{
		&jobsv1.SurfacePrepped{SeamId: "ready/rd-l", Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER},
		&materialsv1.NozzleFitted{CartridgeId: "Q0", NozzleId: "QN0", Kind: "round"},
		&materialsv1.CartridgePurged{CartridgeId: "Q0", VolumeMl: proto.Float64(1)},
		laid,
	}
}

func jobOf(ro string) *jobsv1.JobOpened {
	return &jobsv1.JobOpened{Ro: ro, Vehicle: "blue hatchback", PaintColour: "blue", Coats: []floorv1.Coat{floorv1.Coat_COAT_WATERBORNE}}
}

func seamOf(id string) *jobsv1.SeamSurveyed {
	return &jobsv1.SeamSurveyed{
		SeamId: id, Panel: "roof", Place: "roof ditch", Side: "L", LengthMm: 1400,
		Orientation: floorv1.Orientation_ORIENTATION_LEVEL, Finish: floorv1.Finish_FINISH_COATED, Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER,
		Reference: &floorv1.Reference{Source: floorv1.ReferenceSource_REFERENCE_SOURCE_BEFORE_TEAR_DOWN, WidthMm: 12, HeightMm: 4},
	}
}

func beadOn(id, cartridge, nozzle string) *jobsv1.BeadLaid {
	return &jobsv1.BeadLaid{SeamId: id, CartridgeId: cartridge, NozzleId: nozzle, Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(1), SurfaceTempC: proto.Float64(21)}
}

// lamp is a reader of the gate over the bus, with a reader's rights.
type lamp struct {
	s     *spread
	begun time.Time
	mu    sync.Mutex
	judge *bus.Judge
}

func newLamp(s *spread) *lamp {
	s.t.Helper()
	nc, err := nats.Connect(strings.Replace(s.url, "service:of-the-test", "reader:reader-of-the-test", 1))
	if err != nil {
		s.t.Fatal(err)
	}
	s.t.Cleanup(nc.Close)
	l := &lamp{s: s, begun: time.Now(), judge: bus.NewJudge("quick-booth")}
	if _, err := nc.Subscribe("gate.shop.quick-booth", func(m *nats.Msg) {
		l.mu.Lock()
		defer l.mu.Unlock()
		l.judge.Take(m.Data, time.Since(l.begun))
	}); err != nil {
		s.t.Fatal(err)
	}
	return l
}

func (l *lamp) sign() bus.Sign {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.judge.At(time.Since(l.begun)).Sign
}

func (l *lamp) shows(want bus.Sign) {
	l.s.t.Helper()
	l.s.until(fmt.Sprint("the lamp shows ", want), func() error {
		if got := l.sign(); got != want {
			return fmt.Errorf("it shows %s", got)
		}
		return nil
	})
}

// gate: of two booth services one gives leave, the other stands by. When it
// dies the lamp goes to HOLD, the other takes over and takes the permit back,
// and gives leave when somebody asks again.
func (s *spread) gate() {
	s.t.Helper()
	lamp := newLamp(s)
	id, holder := s.permit()
	lamp.shows(bus.Clear)
	speaks, waits := s.booths()
	s.kill(speaks)
	lamp.shows(bus.Hold)
	s.until("the other takes over", func() error {
		g, err := s.state()
		if err == nil && (g.GetHolder() == holder || len(g.GetReasons()) > 0 || g.GetPermit() != nil) {
			err = fmt.Errorf("%v", g)
		}
		return err
	})
	if got := lamp.sign(); got != bus.Hold {
		s.t.Errorf("the lamp shows %s before anybody asked again", got)
	}
	var why []string
	for _, e := range s.entries() {
		if b, ok := bodyOf(s.t, e).(*boothv1.PermitRevoked); ok && b.GetPermitId() == id {
			why = b.GetReasons()
		}
	}
	if !slices.Equal(why, []string{"new-holder"}) {
		s.t.Errorf("permit %s was revoked for %v, want new-holder", id, why)
	}
	s.start(speaks)
	s.opened(speaks)
	if _, other := s.permit(); other == holder {
		s.t.Errorf("%s gave leave again", other)
	}
	lamp.shows(bus.Clear)
	if now, _ := s.booths(); now != waits {
		s.t.Errorf("%s speaks, want %s", now, waits)
	}
}

// booths tells which booth service speaks and which stands by, as each says
// itself.
func (s *spread) booths() (speaks, waits string) {
	s.t.Helper()
	for _, name := range []string{"booth-1", "booth-2"} {
		c, err := rpc.Dial(s.running[name].grpc)
		if err != nil {
			s.t.Fatal(err)
		}
		r, err := boothv1.NewBoothServiceClient(c).GetGate(s.t.Context(), &boothv1.GetGateRequest{BoothId: "quick-booth"})
		if cerr := c.Close(); err != nil || cerr != nil {
			s.t.Fatal(err, cerr)
		}
		if slices.ContainsFunc(r.GetGate().GetReasons(), func(r *boothv1.Reason) bool { return r.GetName() == floor.HoldOtherHolder }) {
			waits = name
		} else {
			speaks = name
		}
	}
	if speaks == "" || waits == "" {
		s.t.Fatalf("%q speaks and %q stands by", speaks, waits)
	}
	return speaks, waits
}

// killEach kills each service twice, in two orders, while the shop works.
func (s *spread) killEach(c *hands, dice *rand.Rand) {
	s.t.Helper()
	var names []string
	for name := range s.running {
		names = append(names, name)
	}
	slices.Sort(names)
	for range 2 {
		dice.Shuffle(len(names), func(i, j int) { names[i], names[j] = names[j], names[i] })
		for _, name := range names {
			s.kill(name)
			c.until(5)
			s.start(name)
			c.until(3)
		}
		s.opened(names...)
	}
	s.leave()
}

// killServer kills the server under all of them.
func (s *spread) killServer(c *hands) {
	s.t.Helper()
	c.until(5)
	end(s.servers[0], os.Kill)
	begun := time.Now()
	s.serving(healthpb.HealthCheckResponse_NOT_SERVING)
	s.startServer()
	c.until(5)
	s.leave()
	s.serving(healthpb.HealthCheckResponse_SERVING)
	s.t.Logf("after the server was killed the gate gave leave again within %s", time.Since(begun).Round(10*time.Millisecond))
}

// leave waits until the gate shows leave; it is asked for where it does not.
func (s *spread) leave() {
	s.t.Helper()
	s.until("the gate gives leave again", func() error {
		g, err := s.state()
		if err != nil || g.GetSign() == boothv1.Sign_SIGN_CLEAR {
			return err
		}
		r, err := boothv1.NewBoothServiceClient(s.shop).RequestPermit(s.t.Context(), &boothv1.RequestPermitRequest{
			Stamp: s.stamp("Sel Thrushgate", floorv1.Role_ROLE_PAINTER, "booth-screen"), BoothId: "quick-booth", LoadId: "ready-A",
		})
		if err == nil {
			err = fmt.Errorf("%s, asked: %v", g.GetSign(), r)
		}
		return err
	})
}
