package main_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/testing/protocmp"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/access"
	"seamwright/services/app"
	"seamwright/services/rpc"
)

// handsSize is how many people tell facts at the same time, beside a probe.
const handsSize = 3

// hands are the people and the probe. What was not acknowledged is told again
// with the same command id.
type hands struct {
	s    *spread
	busy sync.WaitGroup
	end  context.CancelFunc
	acks chan struct{}
	all  []*hand
}

type hand struct {
	name string
	told []handFact
}

// handFact is a fact with what came of it.
type handFact struct {
	id   string
	body proto.Message
	seq  uint64 // 0: never acknowledged, or thinned
}

func newHands(s *spread) *hands {
	ctx, end := context.WithCancel(s.t.Context())
	c := &hands{s: s, end: end, acks: make(chan struct{}, 1<<16)}
	s.t.Cleanup(func() { end(); c.busy.Wait() })
	for i := range handsSize + 1 {
		h := &hand{name: fmt.Sprint("hand-", i)}
		c.all = append(c.all, h)
		c.busy.Go(func() {
			for n := 0; ctx.Err() == nil; n++ {
				c.fact(ctx, h, i, n)
			}
		})
	}
	return c
}

// fact tells one fact until it is acknowledged.
func (c *hands) fact(ctx context.Context, h *hand, i, n int) {
	st := &floorv1.Stamp{
		CommandId: fmt.Sprintf("%s.%06d", h.name, n), Actor: "Tamsin Orrable", Role: floorv1.Role_ROLE_TECHNICIAN, Terminal: "quick-tablet",
		Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
	}
	m := work(h.name, i, n)
	if i == handsSize {
		st.Role, st.Terminal = floorv1.Role_ROLE_MACHINE, "quick-probe"
		m = &curesv1.ReadingTaken{ZoneId: "quick-bay", ProbeId: "quick-probe", TempC: 21 + float64(n%2), RhPercent: proto.Float64(45)}
	}
	f := handFact{id: st.GetCommandId(), body: m}
	for ctx.Err() == nil {
		r, err := record(ctx, c.s.shop, st, proto.Clone(m))
		if err != nil {
			continue // told again, as a tablet does
		}
		if r != nil { // a reading that was thinned needs no journal
			f.seq = r.GetSequence()
			c.acks <- struct{}{}
		}
		break
	}
	h.told = append(h.told, f)
}

// work is what a technician tells: a job, its seam, a picture, a bead.
func work(name string, i, n int) proto.Message {
	ro := fmt.Sprintf("%s-%d", name, n/4)
	switch n % 4 {
	case 0:
		return jobOf(ro)
	case 1:
		return seamOf(ro + "/rd-l")
	case 2:
		return &jobsv1.PhotoAttached{SeamId: ro + "/rd-l", Sha256: strings.Repeat("0", 64), MediaType: "image/jpeg"}
	default:
		return beadOn(ro+"/rd-l", fmt.Sprint("Q", i+1), fmt.Sprint("QN", i+1))
	}
}

// record tells a fact to the service that takes it. A reading that was thinned
// has no receipt of its own.
func record(ctx context.Context, c grpc.ClientConnInterface, st *floorv1.Stamp, m proto.Message) (*floorv1.Receipt, error) {
	if req := (&jobsv1.RecordRequest{Stamp: st}); put(req, m) {
		r, err := jobsv1.NewJobsServiceClient(c).Record(ctx, req)
		return r.GetReceipt(), err
	}
	if req := (&materialsv1.RecordRequest{Stamp: st}); put(req, m) {
		r, err := materialsv1.NewMaterialsServiceClient(c).Record(ctx, req)
		return r.GetReceipt(), err
	}
	if req := (&curesv1.RecordRequest{Stamp: st}); put(req, m) {
		r, err := curesv1.NewCuresServiceClient(c).Record(ctx, req)
		if r.GetThinned() {
			return nil, err
		}
		return r.GetReceipt(), err
	}
	req := &boothv1.RecordRequest{Stamp: st}
	if !put(req, m) {
		return nil, fmt.Errorf("nobody takes %T", m)
	}
	r, err := boothv1.NewBoothServiceClient(c).Record(ctx, req)
	return r.GetReceipt(), err
}

// put sets the field of the oneof "fact" that has the fact's type.
func put(req, fact proto.Message) bool {
	r := req.ProtoReflect()
	fields := r.Descriptor().Oneofs().ByName("fact").Fields()
	for i := range fields.Len() {
		if f := fields.Get(i); f.Message() == fact.ProtoReflect().Descriptor() {
			r.Set(f, protoreflect.ValueOfMessage(fact.ProtoReflect()))
			return true
		}
	}
	return false
}

// until waits for a number of further acknowledgements.
func (c *hands) until(n int) {
	c.s.t.Helper()
	for len(c.acks) > 0 {
		<-c.acks
	}
	limit := time.NewTimer(30 * time.Second)
	defer limit.Stop()
	for range n {
		select {
		case <-c.acks:
		case <-limit.C:
			c.s.t.Fatal("the shop has acknowledged too little for 30 s")
		}
	}
}

// rest lets everybody finish.
func (c *hands) rest() {
	c.end()
	c.busy.Wait()
}

// check: what was acknowledged stands in the journal once, where the receipt
// said and as it was told; what was not, once or never. No command and no
// announcement stands twice, and a booth had one permit at a time.
func (c *hands) check(entries []*floorv1.Entry) {
	t := c.s.t
	t.Helper()
	at, permits := map[string]*floorv1.Entry{}, map[string]string{}
	said, of := map[string]uint64{}, map[uint64]string{}
	announced := func(e *floorv1.Entry, key string) {
		if first, ok := said[key]; ok {
			t.Errorf("event %d announces %s again, after %d", e.GetSequence(), key, first)
		}
		said[key], of[e.GetSequence()] = e.GetSequence(), key
	}
	for i, e := range entries {
		if e.GetSequence() != uint64(i+1) {
			t.Fatalf("event %d stands at place %d", e.GetSequence(), i+1)
		}
		if first := at[e.GetCommandId()]; first != nil {
			t.Errorf("command %s stands at %d and %d", e.GetCommandId(), first.GetSequence(), e.GetSequence())
		}
		at[e.GetCommandId()] = e
		switch b := bodyOf(t, e).(type) {
		case *boothv1.PermitIssued:
			if p := permits[b.GetBoothId()]; p != "" {
				t.Errorf("event %d issues %s while %s runs", e.GetSequence(), b.GetPermitId(), p)
			}
			permits[b.GetBoothId()] = b.GetPermitId()
		case *boothv1.PermitRevoked:
			if p := permits[b.GetBoothId()]; p != b.GetPermitId() {
				t.Errorf("event %d revokes %s while %q runs", e.GetSequence(), b.GetPermitId(), p)
			}
			delete(permits, b.GetBoothId())
		case *curesv1.WindowOpened:
			announced(e, fmt.Sprint(b.GetSeamId(), b.GetClock(), b.GetCoat(), b.GetBegan()))
		case *curesv1.WindowClosed:
			announced(e, fmt.Sprint(b.GetSeamId(), b.GetNozzleId(), b.GetClock(), b.GetCoat(), b.GetBegan()))
		case *curesv1.WindowRetracted:
			delete(said, of[b.GetAnnounced()])
		}
	}
	acknowledged := 0
	for _, h := range c.all {
		for _, f := range h.told {
			e := at[f.id]
			switch {
			case f.seq == 0:
				continue
			case e == nil || e.GetSequence() != f.seq:
				t.Errorf("%s was acknowledged as event %d and stands at %d", f.id, f.seq, e.GetSequence())
				continue
			}
			acknowledged++
			if d := cmp.Diff(f.body, toldOf(bodyOf(t, e)), protocmp.Transform()); d != "" {
				t.Errorf("%s is not stored as it was told (-told +stored)\n%s", f.id, d)
			}
		}
	}
	if acknowledged < 100 || len(said) < 20 {
		t.Errorf("only %d facts were acknowledged and %d ends of clocks announced", acknowledged, len(said))
	}
	t.Logf("%d events, %d facts of the hands, %d ends of clocks", len(entries), acknowledged, len(said))
}

// toldOf is a stored body without what the server wrote into it.
func toldOf(m proto.Message) proto.Message {
	m = proto.Clone(m)
	r := m.ProtoReflect()
	for _, name := range []protoreflect.Name{"assessment", "planned_ml"} {
		if f := r.Descriptor().Fields().ByName(name); f != nil {
			r.Clear(f)
		}
	}
	return m
}

func bodyOf(t *testing.T, e *floorv1.Entry) proto.Message {
	t.Helper()
	m, err := e.GetBody().UnmarshalNew()
	if err != nil {
		t.Fatalf("event %d: %v", e.GetSequence(), err)
	}
	return m
}

// entries reads the journal to its end.
func (s *spread) entries() (out []*floorv1.Entry) {
	s.t.Helper()
	s.until("the journal is read", func() error {
		out = nil
		w, err := jobsv1.NewJobsServiceClient(s.shop).WatchFloor(s.t.Context(), &jobsv1.WatchFloorRequest{StopAtEnd: true})
		for err == nil {
			var r *jobsv1.WatchFloorResponse
			if r, err = w.Recv(); err == nil {
				out = append(out, r.GetEntry())
			}
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		return err
	})
	return out
}

// alike: two services of a kind, each with a floor of its own, answer alike at
// the same event.
func (s *spread) alike() {
	s.t.Helper()
	at := uint64(len(s.entries()))
	s.until("every clock has ended", func() error { // what a seam is called hangs on the moment
		r, err := jobsv1.NewJobsServiceClient(s.shop).ListJobs(s.t.Context(), &jobsv1.ListJobsRequest{WithEnded: true, MinSequence: at})
		for _, j := range r.GetJobs() {
			for _, m := range j.GetSeams() {
				if st := m.GetStage(); st == floorv1.Stage_STAGE_LAID || st == floorv1.Stage_STAGE_FLOWING {
					return fmt.Errorf("%s is %s", m.GetSeamId(), st)
				}
			}
		}
		return err
	})
	var jobs [2]*jobsv1.ListJobsResponse
	var findings [2]*jobsv1.ListFindingsResponse
	var gates [2]*boothv1.Gate
	for i := range 2 {
		for _, service := range []string{"jobs", "booth"} {
			c, err := rpc.Dial(s.running[fmt.Sprintf("%s-%d", service, i+1)].grpc)
			if err != nil {
				s.t.Fatal(err)
			}
			if service == "jobs" {
				j := jobsv1.NewJobsServiceClient(c)
				jobs[i], err = j.ListJobs(s.t.Context(), &jobsv1.ListJobsRequest{WithEnded: true, MinSequence: at})
				if err == nil {
					findings[i], err = j.ListFindings(s.t.Context(), &jobsv1.ListFindingsRequest{MinSequence: at})
				}
			} else {
				var r *boothv1.GetGateResponse
				r, err = boothv1.NewBoothServiceClient(c).GetGate(s.t.Context(), &boothv1.GetGateRequest{BoothId: "booth-1", MinSequence: at})
				gates[i] = r.GetGate()
			}
			if cerr := c.Close(); err != nil || cerr != nil {
				s.t.Fatal(err, cerr)
			}
		}
	}
	if n := len(jobs[0].GetJobs()); n < 20 || n != len(jobs[1].GetJobs()) {
		s.t.Errorf("one has %d jobs, the other %d", n, len(jobs[1].GetJobs()))
	}
	for i, j := range jobs[0].GetJobs() {
		o := jobs[1].GetJobs()[i]
		if j.GetRo() != o.GetRo() || len(j.GetSeams()) != len(o.GetSeams()) {
			s.t.Errorf("job %s has %d seams, the other has %s with %d", j.GetRo(), len(j.GetSeams()), o.GetRo(), len(o.GetSeams()))
			continue
		}
		for k, m := range j.GetSeams() {
			if n := o.GetSeams()[k]; m.GetSeamId() != n.GetSeamId() || m.GetStage() != n.GetStage() {
				s.t.Errorf("seam %s is %s, the other has %s %s", m.GetSeamId(), m.GetStage(), n.GetSeamId(), n.GetStage())
			}
		}
	}
	if d := cmp.Diff(findings[0].GetFindings(), findings[1].GetFindings(), protocmp.Transform()); d != "" {
		s.t.Errorf("findings differ\n%s", d)
	}
	if a, b := gates[0].GetNextLoads(), gates[1].GetNextLoads(); len(a) < 5 || !cmp.Equal(a, b) {
		s.t.Errorf("loads to come: %v and %v", a, b)
	}
}

// sameAsOne tells the same facts in the same order to a shop in one process
// and compares what is stored. What leans on the clock is left out: readings
// are thinned by it, and a bead is judged by how long the nozzle was idle.
func (s *spread) sameAsOne(entries []*floorv1.Entry) {
	s.t.Helper()
	people, err := access.Load(filepath.Join("..", "..", "testdata", "shop", "people.yaml"))
	if err != nil {
		s.t.Fatal(err)
	}
	one, err := app.New(app.Options{People: people})
	if err == nil {
		err = one.Start(s.t.Context())
	}
	if err != nil {
		s.t.Fatal(err)
	}
	defer func() {
		if err := one.Stop(); err != nil {
			s.t.Error(err)
		}
	}()
	compared := 0
	for _, e := range entries {
		body := bodyOf(s.t, e)
		switch body.(type) {
		case *boothv1.PermitIssued, *boothv1.PermitRevoked, *curesv1.ReadingTaken:
			continue
		}
		if slices.Contains([]string{"clock-keeper", "booth-gate", "booth-planner"}, e.GetActor()) {
			continue
		}
		st := &floorv1.Stamp{CommandId: e.GetCommandId(), Actor: e.GetActor(), Role: e.GetRole(), Terminal: e.GetTerminal(), Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE}}
		r, err := record(s.t.Context(), one.Direct(), st, toldOf(body))
		if err != nil {
			s.t.Fatalf("event %d: %v", e.GetSequence(), err)
		}
		var stored proto.Message
		var aggregate string
		one.Desk().Writer.View(func(uint64) {
			ev, _, _ := one.Desk().Floor.Event(r.GetSequence())
			stored, aggregate = proto.Clone(ev.Body), ev.Aggregate
		})
		if _, bead := body.(*jobsv1.BeadLaid); bead {
			body, stored = toldOf(body), toldOf(stored)
		}
		if d := cmp.Diff(body, stored, protocmp.Transform()); d != "" || aggregate != e.GetAggregate() {
			s.t.Errorf("event %d of %s, in one process of %s (-apart +one)\n%s", e.GetSequence(), e.GetAggregate(), aggregate, d)
		}
		compared++
	}
	if compared < 200 {
		s.t.Errorf("only %d events were compared", compared)
	}
}

// proof verifies the journal on the server against the proof that one of the
// services keeps, of what all of them wrote, while they run.
func (s *spread) proof(events int) {
	s.t.Helper()
	proof := filepath.Join(s.dir, "proof")
	var a struct {
		OK             bool
		Stored, Proved int
	}
	s.until("the proof has taken in everything", func() error {
		if err := json.Unmarshal([]byte(s.run("journal", "verify", "--json", "--proof", proof)), &a); err != nil {
			return err
		}
		if !a.OK || a.Stored < events || a.Proved < events {
			return fmt.Errorf("%+v of %d events", a, events)
		}
		return nil
	})
	b, err := exec.Command(s.bin, "journal", "accept", "--nats", s.url, "--proof", proof, "--name", "Ansa Vellacorn", "--reason", "a test").CombinedOutput()
	if err == nil || !strings.Contains(string(b), "one at a time keeps it") {
		s.t.Errorf("accepted while a service keeps the proof: %v\n%s", err, b)
	}
}
