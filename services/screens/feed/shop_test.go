package feed_test

import (
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/types/known/timestamppb"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/access"
	"seamwright/services/app"
	"seamwright/services/clock"
	"seamwright/services/console"
	"seamwright/services/floor"
	"seamwright/services/intake"
	"seamwright/services/screens"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// The demonstration shop, its day and its people.
var (
	folder  = filepath.Join("..", "..", "..", "testdata", "shop")
	morning = time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC)
)

const (
	technician = "Tamsin Orrable"
	painter    = "Sel Thrushgate"
	foreman    = "Ansa Vellacorn"
	pin        = "2468" // everybody's, as testdata/shop/people.yaml says
	bay1       = "bay-1-tablet"
)

// shop is the demonstration shop as a running program on a clock that is
// driven, with its air fed as the day goes on.
type shop struct {
	t    *testing.T
	app  *app.App
	src  screens.Source
	time *clock.Driven
	conn *grpc.ClientConn
	air  map[string][]intake.Reading // still to come, by zone
	mute map[string]bool             // probes that are silent
	n    int
}

func discard() *slog.Logger { return slog.New(slog.NewTextHandler(io.Discard, nil)) }

// open starts the shop and fills it from its files: products, zones, booths,
// the survey with its plans, the loads, and a lot of each product.
func open(t *testing.T, o app.Options, planned bool) *shop {
	t.Helper()
	people, err := access.Load(filepath.Join(folder, "people.yaml"))
	must(t, err)
	s := &shop{t: t, time: clock.NewDriven(morning), air: map[string][]intake.Reading{}, mute: map[string]bool{}}
	o.Clock, o.People, o.Log, o.Shop = s.time, people, discard(), "harrow-street"
	if o.GRPC == "" {
		o.GRPC = "127.0.0.1:0"
	}
	s.app, err = app.New(o)
	must(t, err)
	must(t, s.app.Start(t.Context()))
	t.Cleanup(func() { must(t, s.app.Stop()) })
	s.conn, err = s.app.Dial()
	must(t, err)
	t.Cleanup(func() { s.conn.Close() })
	s.src, err = app.Feed(s.app)
	must(t, err)
	s.fill(planned)
	return s
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func (s *shop) fill(planned bool) {
	s.t.Helper()
	in := func(name string) string { return filepath.Join(folder, name) }
	must(s.t, console.Import{
		At: console.At{Address: s.app.Addr().GRPC}, Surveys: []string{in("survey.csv")}, Products: in("products"), Zones: in("zones"),
		Booths: in("booths"), Loads: in("loads.csv"), People: in("people.yaml"), Plan: planned,
	}.Run(s.t.Context(), console.Out{W: io.Discard}))
	materials := materialsv1.NewMaterialsServiceClient(s.conn)
	for _, p := range s.products() {
		_, err := materials.Record(s.t.Context(), &materialsv1.RecordRequest{
			Stamp: s.stamp("Dov Pennywhin", floorv1.Role_ROLE_MATERIALS, "desk"),
			Fact:  &materialsv1.RecordRequest_LotReceived{LotReceived: &materialsv1.LotReceived{LotId: "L-" + p, ProductId: p, Cartridges: 12}},
		})
		must(s.t, err)
	}
	files, err := filepath.Glob(in("readings/*.csv"))
	must(s.t, err)
	for _, path := range files {
		f, err := os.Open(path)
		must(s.t, err)
		rs, err := intake.ReadReadings(path, f)
		must(s.t, err)
		must(s.t, f.Close())
		s.air[strings.TrimSuffix(filepath.Base(path), ".csv")] = rs
	}
	s.breathe()
}

func (s *shop) products() (out []string) {
	s.look(func(f *floor.Floor) {
		for _, p := range f.Products() {
			out = append(out, string(p))
		}
	})
	return out
}

func (s *shop) stamp(actor string, role floorv1.Role, terminal string) *floorv1.Stamp {
	s.n++
	return &floorv1.Stamp{
		CommandId: fmt.Sprintf("test-%06d", s.n), Actor: actor, Role: role, Terminal: terminal,
		Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
	}
}

// look reads the floor as a test may.
func (s *shop) look(fn func(f *floor.Floor)) {
	d := s.app.Desk()
	d.Writer.View(func(uint64) { fn(d.Floor) })
}

// breathe tells every reading that has come by now.
func (s *shop) breathe() {
	s.t.Helper()
	cures := curesv1.NewCuresServiceClient(s.conn)
	for zone, rs := range s.air {
		req := &curesv1.TakeReadingsRequest{Stamp: s.stamp("probe", floorv1.Role_ROLE_MACHINE, "probe-"+zone), ZoneId: zone, ProbeId: zone}
		for len(rs) > 0 && !rs[0].At.After(s.time.Now()) {
			r := rs[0]
			req.Samples = append(req.Samples, &curesv1.Sample{Time: timestamppb.New(r.At), TempC: r.TempC, RhPercent: r.RHPercent, SurfaceC: r.SurfaceC})
			rs = rs[1:]
		}
		s.air[zone] = rs
		if len(req.Samples) == 0 || s.mute[zone] {
			continue
		}
		_, err := cures.TakeReadings(s.t.Context(), req)
		must(s.t, err)
	}
}

// until moves the shop's time on, in the steps of its probes.
func (s *shop) until(at time.Time) {
	s.t.Helper()
	for s.time.Now().Before(at) {
		next := s.time.Now().Add(2 * time.Minute)
		if next.After(at) {
			next = at
		}
		must(s.t, s.app.AdvanceTo(s.t.Context(), next))
		s.breathe()
		must(s.t, s.app.AdvanceTo(s.t.Context(), next))
	}
}

func (s *shop) wait(d time.Duration) { s.t.Helper(); s.until(s.time.Now().Add(d)) }

func at(hour, minute int) time.Time { return time.Date(2026, 3, 2, hour, minute, 0, 0, time.UTC) }

// bay is what a tablet shows of a seam.
func (s *shop) bay(terminal, ro, seam string) screens.Bay {
	s.t.Helper()
	b, err := s.src.Bay(s.t.Context(), terminal, ro, seam)
	must(s.t, err)
	return b
}

func (s *shop) board() screens.Board {
	s.t.Helper()
	b, err := s.src.Board(s.t.Context())
	must(s.t, err)
	return b
}

func (s *shop) booth(id string) screens.Booth {
	s.t.Helper()
	b, err := s.src.Booth(s.t.Context(), id)
	must(s.t, err)
	return b
}

// row is a seam's row on the board.
func (s *shop) row(id string) screens.SeamRow {
	s.t.Helper()
	for _, j := range s.board().Jobs {
		for _, r := range j.Seams {
			if r.ID == id {
				return r
			}
		}
	}
	s.t.Fatalf("no row %s on the board", id)
	return screens.SeamRow{}
}

// uuid is the command id of the n-th press, in the form that a page makes.
func (s *shop) uuid() string {
	s.n++
	return fmt.Sprintf("00000000-0000-8000-8000-%012x", s.n)
}

// action is a button pressed: what the page would send, with what the person
// filled in.
func (s *shop) action(b *screens.Button, filled map[string]string) screens.Action {
	s.t.Helper()
	if b == nil {
		s.t.Fatal("there is no button")
	}
	if !b.Ready {
		s.t.Fatalf("button %q is not ready: %s", b.Label, b.Why)
	}
	a := screens.Action{Kind: b.Kind, CommandID: s.uuid(), Fields: map[string]string{}}
	for _, g := range b.Given {
		a.Fields[g.Name] = g.Value
	}
	for _, k := range b.Asks {
		if k.Value != "" {
			a.Fields[k.Name] = k.Value
		}
	}
	for k, v := range filled {
		a.Fields[k] = v
	}
	return a
}

// press presses a button of a seam's page.
func (s *shop) press(who, terminal, ro, seam string, b *screens.Button, filled map[string]string) screens.Result {
	s.t.Helper()
	a := s.action(b, filled)
	a.RO, a.Seam, a.Actor, a.Terminal = ro, seam, who, terminal
	r, err := s.src.Post(s.t.Context(), a)
	must(s.t, err)
	must(s.t, s.app.AdvanceTo(s.t.Context(), s.time.Now()))
	return r
}

// big presses the big button of a seam's page, which must be for what is to
// be done.
func (s *shop) big(ro, seam, do string, filled map[string]string) screens.Result {
	s.t.Helper()
	p := s.bay(bay1, ro, seam).Seam
	if p.Do != do {
		s.t.Fatalf("%s %s: the next step is %q, want %q (%s)", ro, seam, p.Do, do, p.Why)
	}
	return s.press(technician, bay1, ro, seam, p.Next, filled)
}

// atBooth presses a button of a booth's page.
func (s *shop) atBooth(who, booth string, b *screens.Button, filled map[string]string) (screens.Result, error) {
	s.t.Helper()
	a := s.action(b, filled)
	a.Booth, a.Actor, a.Terminal = booth, who, "booth-screen"
	r, err := s.src.Post(s.t.Context(), a)
	if err == nil {
		must(s.t, s.app.AdvanceTo(s.t.Context(), s.time.Now()))
	}
	return r, err
}
