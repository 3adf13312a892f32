package app_test

import (
	"context"
	"fmt"
	"net/http"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/access"
	"seamwright/services/app"
	"seamwright/services/bus"
	"seamwright/services/clock"
	"seamwright/services/floor"
	"seamwright/services/journal"
	"seamwright/services/journal/memory"
	"seamwright/services/journal/tree"
	"seamwright/services/record"
)

const (
	theSeam, theLoad, theBooth = "2207/rd-l", "2207-A", "booth-1"
	stale                      = 3 * time.Minute // of the zones' readings
)

// skewed is the machine's clock, set wrong.
type skewed struct{ by atomic.Int64 }

func (c *skewed) Now() time.Time {
	return clock.Wall{}.Now().Add(time.Duration(c.by.Load()))
}

// lane is one shop on the test stand: the real program over a journal that
// can be made to fail, with people, probes and terminals outside it.
type lane struct {
	t     *testing.T
	clock *skewed
	store journal.Journal // under the faults
	bad   *faulty
	proof string // folder
	opt   app.Options

	app       *app.App
	jobs      jobsv1.JobsServiceClient
	materials materialsv1.MaterialsServiceClient
	cures     curesv1.CuresServiceClient
	booth     boothv1.BoothServiceClient

	told         atomic.Int64
	probes, hear atomic.Bool // that they live
	old          atomic.Bool // the probes send what they read before
	temp         atomic.Int64

	mu    sync.Mutex
	beats []*boothv1.Gate
	judge *bus.Judge // a reader of the beats
	began time.Time  // its clock
	page  *viewer
	ends  []func()
}

// newLane is a shop in which the load may be sprayed: its one seam was laid
// as it should be, an hour and a half ago.
func newLane(t *testing.T) *lane {
	t.Helper()
	mem := memory.New(memory.Options{Shop: "shop"})
	l := &lane{t: t, clock: &skewed{}, store: mem, proof: t.TempDir()}
	l.live()
	l.furnish()
	l.open()
	return l
}

// live makes probes and terminals that live.
func (l *lane) live() {
	l.probes.Store(true)
	l.hear.Store(true)
	l.temp.Store(21)
}

// journal opens the journal with its proof, as a start of the program does.
func (l *lane) journal() journal.Journal {
	l.t.Helper()
	l.bad = newFaulty(l.store)
	k, _, err := tree.Open(l.t.Context(), l.bad, l.proof)
	if err != nil {
		l.t.Fatal(err)
	}
	return k
}

// furnish tells the shop's past in driven time.
func (l *lane) furnish() {
	l.t.Helper()
	j := l.journal()
	d := clock.NewDriven(l.clock.Now().Add(-90 * time.Minute))
	f := floor.New()
	p := &story{lane: l, desk: &record.Desk{Writer: journal.NewWriter(j, f), Floor: f, Clock: d}, clock: d}
	p.tell()
	if err := j.Close(); err != nil {
		l.t.Fatal(err)
	}
}

// open starts the program on the journal and joins it from outside.
func (l *lane) open() {
	l.t.Helper()
	l.start(l.journal())
}

func (l *lane) start(j journal.Journal) {
	l.t.Helper()
	people, err := access.Load("../../testdata/shop/people.yaml")
	if err != nil {
		l.t.Fatal(err)
	}
	o := l.opt
	o.Journal, o.Clock, o.People, o.Log = j, l.clock, people, quiet()
	if l.app, err = app.New(o); err != nil {
		l.t.Fatal(err)
	}
	if err := l.app.Start(l.t.Context()); err != nil {
		l.t.Fatal(err)
	}
	l.join()
}

// join connects to the program that was started and lets the probes speak.
func (l *lane) join() {
	l.t.Helper()
	c, err := l.app.Dial()
	if err != nil {
		l.t.Fatal(err)
	}
	client, end := piped(l.t, l.app)
	l.meet(c, client, "http://shop")
	l.ends = append(l.ends, end)
}

// meet lets the people and things outside the program begin: probes,
// terminals, a reader of the gate, a browser.
func (l *lane) meet(c *grpc.ClientConn, web *http.Client, base string) {
	l.t.Helper()
	l.jobs, l.materials = jobsv1.NewJobsServiceClient(c), materialsv1.NewMaterialsServiceClient(c)
	l.cures, l.booth = curesv1.NewCuresServiceClient(c), boothv1.NewBoothServiceClient(c)
	l.judge, l.began = bus.NewJudge(theBooth), time.Now()
	ctx, cancel := context.WithCancel(context.Background())
	var all sync.WaitGroup
	all.Go(func() { l.air(ctx) })
	all.Go(func() { l.watch(ctx) })
	l.page = newViewer(l.t, web, base)
	l.ends = append(l.ends, func() {
		cancel()
		l.page.close()
		all.Wait()
		c.Close()
	})
}

// close ends the program and all that is joined to it.
func (l *lane) close() {
	l.t.Helper()
	l.bad.sound() // or a look that hangs would keep the program from ending
	for _, end := range l.ends {
		end()
	}
	l.ends = nil
	if err := l.app.Stop(); err != nil {
		l.t.Error(err)
	}
}

// again starts the program once more, as a person does who has mended what
// was wrong.
func (l *lane) again() {
	l.t.Helper()
	l.close()
	l.open()
	l.pass(2 * time.Second)
}

// air sends readings and signs of life every twenty seconds, while they live.
func (l *lane) air(ctx context.Context) {
	each := time.NewTicker(20 * time.Second)
	defer each.Stop()
	began := time.Now()
	for {
		if l.probes.Load() {
			age := time.Duration(0)
			if l.old.Load() {
				age = time.Since(began)
			} else {
				began = time.Now()
			}
			_ = l.read(ctx, "bay-1", float64(l.temp.Load()), age)
			_ = l.read(ctx, "room", float64(l.temp.Load()), age)
		}
		if l.hear.Load() {
			_, _ = l.booth.Hear(ctx, &boothv1.HearRequest{Terminal: "bay-1-tablet"})
		}
		select {
		case <-each.C:
		case <-ctx.Done():
			return
		}
	}
}

func (l *lane) read(ctx context.Context, zone string, c float64, age time.Duration) error {
	st := l.stamp(floorv1.Role_ROLE_MACHINE)
	st.Terminal = "probe"
	if age > 0 {
		st.Age = &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_MEASURED, Length: durationpb.New(age)}
	}
	_, err := l.cures.Record(ctx, &curesv1.RecordRequest{Stamp: st, Fact: &curesv1.RecordRequest_ReadingTaken{
		ReadingTaken: &curesv1.ReadingTaken{ZoneId: zone, ProbeId: "p-" + zone, TempC: c, RhPercent: proto.Float64(45)},
	}})
	return err
}

// watch collects the beats of the booth's gate.
func (l *lane) watch(ctx context.Context) {
	w, err := l.booth.WatchGate(ctx, &boothv1.WatchGateRequest{BoothId: theBooth})
	for err == nil {
		var r *boothv1.WatchGateResponse
		if r, err = w.Recv(); err == nil {
			l.mu.Lock()
			l.beats = append(l.beats, r.GetGate())
			if b, err := app.BeatOf(r.GetGate()).Encode(); err == nil { // as it goes out over the bus
				l.judge.Take(b, time.Since(l.began))
			}
			l.mu.Unlock()
		}
	}
}

func (l *lane) stamp(role floorv1.Role) *floorv1.Stamp {
	return &floorv1.Stamp{
		CommandId: fmt.Sprintf("matrix-%06d", l.told.Add(1)), Actor: map[floorv1.Role]string{
			floorv1.Role_ROLE_FOREMAN: "Ansa Vellacorn", floorv1.Role_ROLE_PAINTER: "Sel Thrushgate", floorv1.Role_ROLE_MACHINE: "probe",
		}[role], Role: role, Terminal: "bay-1-tablet",
		Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
	}
}

// tell tells a fact to the service that takes it, as the foreman.
func (l *lane) tell(body proto.Message) uint64 {
	l.t.Helper()
	seq, err := l.tried(body, 0)
	if err != nil {
		l.t.Fatalf("%T: %v", body, err)
	}
	return seq
}

// tried tells a fact of a while ago, which may be refused.
func (l *lane) tried(body proto.Message, age time.Duration) (uint64, error) {
	return l.triedIn(l.t.Context(), body, age)
}

// triedIn is tried by somebody who does not wait for ever.
func (l *lane) triedIn(ctx context.Context, body proto.Message, age time.Duration) (uint64, error) {
	st := l.stamp(floorv1.Role_ROLE_FOREMAN)
	if age > 0 {
		st.Age = &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_MEASURED, Length: durationpb.New(age)}
	}
	s := &realShop{t: l.t, jobs: l.jobs, materials: l.materials, cures: l.cures, booth: l.booth}
	r, err := s.record(ctx, floor.Command{Stamp: st, Body: body})
	return r.GetSequence(), err
}

// ask asks for leave to spray, as the painter.
func (l *lane) ask() (*boothv1.RequestPermitResponse, error) {
	st := l.stamp(floorv1.Role_ROLE_PAINTER)
	st.Terminal = "booth-screen"
	return l.booth.RequestPermit(l.t.Context(), &boothv1.RequestPermitRequest{
		Stamp: st, BoothId: theBooth, LoadId: theLoad,
	})
}

// pass lets time go by, that of the bubble which the lane runs in.
func (l *lane) pass(d time.Duration) { time.Sleep(d) }
