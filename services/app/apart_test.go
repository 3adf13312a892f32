package app_test

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/nats-io/nats.go"
	"golang.org/x/crypto/bcrypt"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/app"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/journal/natsd"
	"seamwright/services/rpc"
)

// serverOf is a NATS server of its own, for parts that run apart.
func serverOf(t *testing.T) (url string) {
	t.Helper()
	hash, err := bcrypt.GenerateFromPassword([]byte("of-the-test"), bcrypt.MinCost)
	if err != nil {
		t.Fatal(err)
	}
	s, err := natsd.Start(natsd.Options{StoreDir: t.TempDir(), Listen: true, Logger: quiet(), Users: []natsd.User{
		{Name: "service", Hash: string(hash), NATS: true, Publish: []string{">"}, Subscribe: []string{">"}},
	}})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Stop)
	return strings.Replace(s.URL(), "nats://", "nats://service:of-the-test@", 1)
}

func apart(url string, services ...string) app.Options {
	return app.Options{GRPC: "127.0.0.1:0", Apart: &app.Apart{NATS: url, Services: services}}
}

// shifted is a clock that differs from the machine's.
type shifted struct{ by time.Duration }

func (s shifted) Now() time.Time { return time.Now().Add(s.by).UTC().Round(0) }

// apartSoon asks until there is no error.
func apartSoon(t *testing.T, ask func() error) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
	defer cancel()
	again := time.NewTicker(20 * time.Millisecond)
	defer again.Stop()
	for err := ask(); err != nil; err = ask() {
		select {
		case <-again.C:
		case <-ctx.Done():
			t.Fatalf("not within 30 s: %v", err)
		}
	}
}

func at(t *testing.T, a *app.App) *grpc.ClientConn {
	t.Helper()
	c, err := rpc.Dial(a.Addr().GRPC)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c
}

func desk(id string) *floorv1.Stamp {
	return &floorv1.Stamp{CommandId: id, Actor: "import", Role: floorv1.Role_ROLE_MACHINE, Terminal: "desk", Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE}}
}

// furnished tells a shop of one bay, one booth and one load to any
// connection that reaches its services.
func furnished(t *testing.T, c grpc.ClientConnInterface) {
	t.Helper()
	n := 0
	tell := func(m proto.Message) {
		t.Helper()
		n++
		st := desk(fmt.Sprintf("furnish-%04d", n))
		var err error
		if req := (&curesv1.RecordRequest{Stamp: st}); apartPut(req, m) {
			_, err = curesv1.NewCuresServiceClient(c).Record(t.Context(), req)
		} else if req := (&jobsv1.RecordRequest{Stamp: st}); apartPut(req, m) {
			_, err = jobsv1.NewJobsServiceClient(c).Record(t.Context(), req)
		} else if req := (&boothv1.RecordRequest{Stamp: st}); apartPut(req, m) {
			_, err = boothv1.NewBoothServiceClient(c).Record(t.Context(), req)
		}
		if err != nil {
			t.Fatalf("%T: %v", m, err)
		}
	}
	tell(&curesv1.ZoneDefined{
		ZoneId: "bay-1", LimitLowC: 5, LimitHighC: 35, ProbeErrorC: 0.5, DriftCPerMin: 0.2, Works: true, Terminals: []string{"bay-1-tablet"},
		StaleAfter: durationpb.New(15 * time.Minute), Settling: durationpb.New(30 * time.Minute),
	})
	tell(&boothv1.BoothDefined{BoothId: "booth-1", ZoneId: "bay-1", FirstCoatMin: 20, ProcessMin: 60})
	tell(&jobsv1.JobOpened{Ro: "2207", Vehicle: "blue hatchback", PaintColour: "blue", Coats: []floorv1.Coat{floorv1.Coat_COAT_WATERBORNE}})
	tell(&jobsv1.CarMoved{Ro: "2207", ZoneId: "bay-1"})
	tell(&jobsv1.SeamSurveyed{
		SeamId: "2207/rd-l", Panel: "roof", Place: "roof ditch", Side: "L", LengthMm: 1400, Finish: floorv1.Finish_FINISH_COATED,
		Reference: &floorv1.Reference{Source: floorv1.ReferenceSource_REFERENCE_SOURCE_NONE},
	})
	tell(&boothv1.LoadPlanned{LoadId: "2207-A", BoothId: "booth-1", Ro: "2207", Colour: "blue", SeamIds: []string{"2207/rd-l"}})
}

// holds are the names of what holds the booth, as a service says.
func holds(t *testing.T, c grpc.ClientConnInterface) ([]string, error) {
	r, err := boothv1.NewBoothServiceClient(c).GetGate(t.Context(), &boothv1.GetGateRequest{BoothId: "booth-1"})
	var out []string
	for _, x := range r.GetGate().GetReasons() {
		out = append(out, x.GetName())
	}
	return out, err
}

// want asks until a service is held for some names and not for others.
func want(t *testing.T, c grpc.ClientConnInterface, held, not []string) {
	t.Helper()
	apartSoon(t, func() error {
		got, err := holds(t, c)
		if err != nil {
			return err
		}
		for _, name := range held {
			if !slices.Contains(got, name) {
				return fmt.Errorf("held for %v, want %s among them", got, name)
			}
		}
		for _, name := range not {
			if slices.Contains(got, name) {
				return fmt.Errorf("held for %v, %s should not be among them", got, name)
			}
		}
		return nil
	})
}

// A terminal that only the service that speaks has heard is alive to the one
// that stands by, too: it would have to ask for a painter's word otherwise
// when it takes over.
func TestATerminalThatOneBoothServiceHeardIsAliveToAll(t *testing.T) {
	url := serverOf(t)
	early := apart(url, "jobs", "materials", "cures", "booth")
	early.Clock = shifted{-10 * time.Minute} // so that the terminal has long been silent
	first := start(t, early)
	furnished(t, first.Conn())
	if err := first.Stop(); err != nil {
		t.Fatal(err)
	}
	start(t, apart(url, "cures"))
	speaks, waits := at(t, start(t, apart(url, "booth"))), (*grpc.ClientConn)(nil)
	want(t, speaks, []string{floor.HoldSilent}, []string{floor.HoldOtherHolder})
	waits = at(t, start(t, apart(url, "booth")))
	want(t, waits, []string{floor.HoldSilent, floor.HoldOtherHolder}, nil)
	if _, err := boothv1.NewBoothServiceClient(speaks).Hear(t.Context(), &boothv1.HearRequest{Terminal: "bay-1-tablet"}); err != nil {
		t.Fatal(err)
	}
	want(t, speaks, nil, []string{floor.HoldSilent})
	want(t, waits, []string{floor.HoldOtherHolder}, []string{floor.HoldSilent})
}

// Two processes whose clocks are far apart hold, both, by name: nobody knows
// which is right. A little apart they work.
func TestProcessesWhoseClocksDifferHold(t *testing.T) {
	for by, held := range map[time.Duration]bool{1500 * time.Millisecond: false, 5 * time.Second: true, -5 * time.Second: true} {
		t.Run(by.String(), func(t *testing.T) {
			url := serverOf(t)
			start(t, apart(url, "materials", "cures"))
			other := apart(url, "jobs")
			other.Clock = shifted{by}
			start(t, other)
			b := start(t, apart(url, "booth"))
			furnished(t, b.Conn())
			c := at(t, b)
			if held {
				want(t, c, []string{floor.HoldClock}, []string{floor.HoldOtherHolder})
				return
			}
			want(t, c, []string{floor.HoldNotLaid}, []string{floor.HoldOtherHolder})
			apartSoon(t, func() error { // the first signs may be slow under way
				got, err := holds(t, c)
				if err == nil && slices.Contains(got, floor.HoldClock) {
					err = fmt.Errorf("held for %v", got)
				}
				return err
			})
		})
	}
}

// A command that one service refuses for what another has just stored is
// decided on what was stored.
func TestAServiceKnowsWhatAnotherHasJustStored(t *testing.T) {
	url := serverOf(t)
	a := start(t, apart(url, "jobs", "materials", "cures", "booth"))
	b := start(t, apart(url, "jobs", "materials", "cures", "booth"))
	furnished(t, a.Conn())
	one, other := jobsv1.NewJobsServiceClient(at(t, a)), jobsv1.NewJobsServiceClient(at(t, b))
	for i := range 100 {
		ro := fmt.Sprint(3000 + i)
		if _, err := one.Record(t.Context(), opened("open-"+ro, ro)); err != nil {
			t.Fatal(err)
		}
		moved := &jobsv1.RecordRequest{Stamp: desk("moved-" + ro), Fact: &jobsv1.RecordRequest_CarMoved{CarMoved: &jobsv1.CarMoved{Ro: ro, ZoneId: "bay-1"}}}
		if _, err := other.Record(t.Context(), moved); err != nil {
			t.Fatalf("job %s: %v", ro, err)
		}
		if _, err := one.Record(t.Context(), opened("open-"+ro, ro)); err != nil {
			t.Fatalf("job %s, told again: %v", ro, err)
		}
	}
}

// varz is what the monitoring of a server says of itself and its JetStream.
func varz(t *testing.T, id, jetstream string) (url string, asked *atomic.Int64) {
	t.Helper()
	asked = &atomic.Int64{}
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		asked.Add(1)
		if r.URL.Path != "/varz" {
			http.NotFound(w, r)
			return
		}
		fmt.Fprintf(w, `{"server_id":%q,"server_name":"x","jetstream":%s}`, id, jetstream)
	}))
	t.Cleanup(s.Close)
	return s.URL, asked
}

// What a person must put right ends the start, with what to do.
func TestAServerThatWillNotDoIsRefused(t *testing.T) {
	url := serverOf(t)
	off, _ := varz(t, "", `{"config":{"sync_interval":120000000000}}`)
	nc, err := nats.Connect(url)
	if err != nil {
		t.Fatal(err)
	}
	defer nc.Close()
	const syncs = `{"config":{"sync_always":true}}`
	other, _ := varz(t, "ANOTHERSERVER", syncs)
	here, _ := varz(t, nc.ConnectedServerId(), syncs)
	nameless, _ := varz(t, "", syncs)
	for name, c := range map[string]struct {
		apart  app.Apart
		reason string
	}{
		"another's word":   {app.Apart{NATS: url, Monitor: other}, "monitoring-elsewhere"},
		"nobody's word":    {app.Apart{NATS: url, Monitor: nameless}, "monitoring-elsewhere"},
		"it does not sync": {app.Apart{NATS: url, Monitor: off}, "sync-off"},
		"one of them not":  {app.Apart{NATS: url, Monitor: here + "," + off}, "sync-off"},
		"two others":       {app.Apart{NATS: url, Monitor: other + "," + other}, "monitoring-elsewhere"},
		"wrong password":   {app.Apart{NATS: strings.Replace(url, "of-the-test", "guessed", 1)}, "bus-refused"},
	} {
		c.apart.Services = []string{"jobs"}
		a, err := app.New(app.Options{GRPC: "127.0.0.1:0", Log: quiet(), Apart: &c.apart})
		if err != nil {
			t.Fatal(err)
		}
		if err := a.Start(t.Context()); !fault.Is(err, c.reason) {
			t.Errorf("%s: %v, want %s", name, err, c.reason)
			_ = a.Stop()
		}
	}
	on, asked := varz(t, nc.ConnectedServerId(), syncs)
	o := apart(url, "jobs")
	o.Apart.Monitor = on
	if start(t, o); asked.Load() != 1 {
		t.Errorf("the monitoring was asked %d times", asked.Load())
	}
}

// waits starts a part that asks again and again, stops it then, and gives what
// the start came to.
func waits(t *testing.T, o app.Options, asked *atomic.Int64) error {
	t.Helper()
	a, err := app.New(o)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	var end sync.WaitGroup
	end.Go(func() { err = a.Start(ctx) })
	apartSoon(t, func() error {
		if asked.Load() < 3 {
			return errors.New("asked too seldom")
		}
		return nil
	})
	cancel()
	end.Wait()
	return err
}

// Of several servers one may be away, but not the one that is spoken to.
func TestOneOfSeveralMonitorsMayBeAway(t *testing.T) {
	url := serverOf(t)
	nc, err := nats.Connect(url)
	if err != nil {
		t.Fatal(err)
	}
	defer nc.Close()
	const syncs, away = `{"config":{"sync_always":true}}`, "http://127.0.0.1:1"
	here, _ := varz(t, nc.ConnectedServerId(), syncs)
	other, asked := varz(t, "ANOTHERSERVER", syncs)
	o := apart(url, "jobs")
	o.Apart.Monitor = here + ", " + away
	start(t, o)
	o = apart(url, "materials")
	o.Apart.Monitor, o.Log = other+","+away, quiet()
	err = waits(t, o, asked)
	if fault.KindOf(err) != fault.Cancelled || !strings.Contains(err.Error(), "127.0.0.1:1") {
		t.Errorf("the one that is away may be the journal's: %v", err)
	}
}

// What may come right by itself is waited for.
func TestAServerThatIsNotReadyIsWaitedFor(t *testing.T) {
	none, asked := varz(t, "", `{}`)
	o := apart("nats://127.0.0.1:1", "jobs")
	o.Apart.Monitor, o.Log = none, quiet()
	err := waits(t, o, asked)
	if fault.KindOf(err) != fault.Cancelled {
		t.Errorf("stopped while it waited: %v", err)
	}
}

func TestPartsThatCannotRunApartAreRefused(t *testing.T) {
	ok := app.Apart{NATS: "nats://127.0.0.1:4222", Services: []string{"jobs"}}
	for name, change := range map[string]func(*app.Options){
		"no server":             func(o *app.Options) { o.Apart.NATS = "" },
		"no service":            func(o *app.Options) { o.Apart.Services = nil },
		"unknown service":       func(o *app.Options) { o.Apart.Services = []string{"stock"} },
		"screens without board": func(o *app.Options) { o.Screens = "127.0.0.1:0" },
		"board without screens": func(o *app.Options) { o.Apart.Services = []string{app.Board} },
		"no gRPC address":       func(o *app.Options) { o.GRPC = "" },
		"a folder beside it":    func(o *app.Options) { o.Dir = "shop" },
	} {
		p := ok
		o := app.Options{GRPC: "127.0.0.1:0", Apart: &p}
		change(&o)
		if _, err := app.New(o); fault.KindOf(err) != fault.Invalid {
			t.Errorf("%s: %v, want an invalid fault", name, err)
		}
	}
}

// apartPut sets the fact of a request, if its oneof has a place for it.
func apartPut(req, fact proto.Message) bool {
	stamp := req.(interface{ GetStamp() *floorv1.Stamp }).GetStamp()
	return put(req, floor.Command{Stamp: stamp, Body: fact})
}
