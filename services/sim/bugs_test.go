package sim_test

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/anypb"
	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/sim"
)

// faulty is a connection to a shop that misbehaves in one way.
type faulty struct {
	grpc.ClientConnInterface
	answer func(req, resp any, call func() error) error // of a call; nil: as it is
	entry  func(*floorv1.Entry) []*floorv1.Entry        // of a watch stream; nil: as it is
	_      struct{}
}

func (f faulty) Invoke(ctx context.Context, method string, req, resp any, opts ...grpc.CallOption) error {
	call := func() error { return f.ClientConnInterface.Invoke(ctx, method, req, resp, opts...) }
	if f.answer == nil {
		return call()
	}
	return f.answer(req, resp, call)
}

func (f faulty) NewStream(ctx context.Context, desc *grpc.StreamDesc, method string, opts ...grpc.CallOption) (grpc.ClientStream, error) {
	st, err := f.ClientConnInterface.NewStream(ctx, desc, method, opts...)
	if err != nil || f.entry == nil || !strings.HasSuffix(method, "/WatchFloor") {
		return st, err
	}
	return &faultyStream{ClientStream: st, entry: f.entry}, nil
}

type faultyStream struct {
	grpc.ClientStream
	entry func(*floorv1.Entry) []*floorv1.Entry
	left  []*floorv1.Entry
}

func (f *faultyStream) RecvMsg(m any) error {
	for len(f.left) == 0 {
		var r jobsv1.WatchFloorResponse
		if err := f.ClientStream.RecvMsg(&r); err != nil {
			return err
		}
		f.left = f.entry(r.GetEntry())
	}
	m.(*jobsv1.WatchFloorResponse).Entry = f.left[0]
	f.left = f.left[1:]
	return nil
}

// after changes an answer once the call has been made.
func after[T any](change func(resp *T)) func(req, resp any, call func() error) error {
	return func(_, resp any, call func() error) error {
		err := call()
		if r, ok := resp.(*T); ok && err == nil {
			change(r)
		}
		return err
	}
}

// whole changes the list of all findings, not that of the open ones.
func whole(change func(*jobsv1.ListFindingsResponse)) func(req, resp any, call func() error) error {
	return func(req, resp any, call func() error) error {
		if q, ok := req.(*jobsv1.ListFindingsRequest); ok && !q.GetOpenOnly() {
			return after(change)(req, resp, call)
		}
		return call()
	}
}

// body unpacks an event's body if it is of that type.
func body[T any, P interface {
	*T
	proto.Message
}](e *floorv1.Entry) (P, bool) {
	m := P(new(T))
	if !e.GetBody().MessageIs(m) {
		return nil, false
	}
	return m, e.GetBody().UnmarshalTo(m) == nil
}

func repack(e *floorv1.Entry, m proto.Message) []*floorv1.Entry {
	packed, err := anypb.New(m)
	if err != nil {
		panic(err)
	}
	e = proto.CloneOf(e)
	e.Body = packed
	return []*floorv1.Entry{e}
}

// without drops reasons to hold by name, and gives a permit where none is
// left.
func without(names ...string) func(req, resp any, call func() error) error {
	return after(func(r *boothv1.RequestPermitResponse) {
		r.Reasons = slices.DeleteFunc(r.Reasons, func(x *boothv1.Reason) bool { return slices.Contains(names, x.GetName()) })
		if len(r.Reasons) == 0 && r.Permit == nil {
			r.Permit = &boothv1.Permit{PermitId: "P0"}
		}
	})
}

// liar is an inspector that finds something wrong.
type liar struct{ replay, damage bool }

func (l liar) Hash(context.Context) (string, error) { return "a", nil }
func (l liar) ReplayHash(context.Context) (string, error) {
	if l.replay {
		return "b", nil
	}
	return "a", nil
}

func (l liar) VerifyJournal(context.Context) error {
	if l.damage {
		return errors.New("record 17 is not what it was")
	}
	return nil
}

// Each invariant and the account itself is shown to fail on a shop that
// misbehaves just so.
func TestPlantedBugsAreFound(t *testing.T) {
	if testing.Short() {
		t.Skip("runs a shop for each bug")
	}
	for name, b := range bugs() {
		t.Run(name, func(t *testing.T) {
			o := sim.Options{Seed: max(b.seed, 1), Days: 5}
			left := slices.Clone(b.breaks)
			o.Stop = func(v sim.Violation) bool {
				left = slices.DeleteFunc(left, func(w string) bool { return w == v.What })
				return len(left) == 0
			}
			if b.liar != nil {
				o.Inspect = b.liar
			}
			r := simulate(t, o, func(c grpc.ClientConnInterface) grpc.ClientConnInterface {
				return faulty{ClientConnInterface: c, answer: b.answer, entry: b.entry}
			})
			for _, what := range b.breaks {
				if r.Broken(what) == 0 {
					t.Errorf("%s is not reported as broken:\n%s", what, r)
				}
			}
			if v := r.Violations; len(v) > 0 && (v[0].Seed != o.Seed || !strings.HasPrefix(v[0].When, "day ")) {
				t.Errorf("violation without seed, day and time: %+v", v[0])
			}
		})
	}
}

type bug struct {
	seed   uint64
	breaks []string
	answer func(req, resp any, call func() error) error
	entry  func(*floorv1.Entry) []*floorv1.Entry
	liar   sim.Inspector
}

func bugs() map[string]bug {
	out := map[string]bug{}
	for _, m := range []map[string]bug{permitBugs(), journalBugs(), listBugs()} {
		for k, v := range m {
			out[k] = v
		}
	}
	return out
}

func permitBugs() map[string]bug {
	return map[string]bug{
		"a hold over a wet seam becomes a permit":      {breaks: []string{"I1"}, answer: without("coat-not-open", "not-laid", "open-stop")},
		"a closed window does not hold":                {seed: 4, breaks: []string{"I2"}, answer: without("coat-closed", "coat-may-close")},
		"a stale or implausible reading does not hold": {breaks: []string{"I3"}, answer: without("reading-stale", "reading-implausible")},
		"a store in doubt does not hold":               {seed: 2, breaks: []string{"I4"}, answer: without("journal-unhealthy")},
		"a second permit for a booth":                  {seed: 2, breaks: []string{"I5"}, answer: without("permit-running")},
		"a reason nobody is to blame for": {breaks: []string{"account"}, answer: after(func(r *boothv1.RequestPermitResponse) {
			if r.Permit == nil {
				r.Reasons = append(r.Reasons, &boothv1.Reason{Name: "booth-closed", Subject: "booth/booth-1"})
			}
		})},
		"a permit that runs for hours": {breaks: []string{"I5"}, entry: func(e *floorv1.Entry) []*floorv1.Entry {
			if p, ok := body[boothv1.PermitIssued](e); ok {
				p.StartBy = timestamppb.New(p.GetStartBy().AsTime().Add(3 * time.Hour))
				return repack(e, p)
			}
			return []*floorv1.Entry{e}
		}},
		"a permit nobody asked for": {breaks: []string{"I6"}, entry: func(e *floorv1.Entry) []*floorv1.Entry {
			if _, ok := body[boothv1.PermitIssued](e); ok {
				e.CommandId = "gate-renewed-" + e.GetCommandId()
			}
			return []*floorv1.Entry{e}
		}},
		"a revocation that is hidden": {seed: 2, breaks: []string{"I6"}, entry: func(e *floorv1.Entry) []*floorv1.Entry {
			if p, ok := body[boothv1.PermitRevoked](e); ok {
				p.PermitId = "P0"
				return repack(e, p)
			}
			return []*floorv1.Entry{e}
		}},
	}
}

func journalBugs() map[string]bug {
	return map[string]bug{
		"an acknowledged fact is lost": {breaks: []string{"I7"}, answer: func(req, resp any, call func() error) error {
			if q, ok := req.(*jobsv1.RecordRequest); ok && q.GetBeadDeaired() != nil {
				resp.(*jobsv1.RecordResponse).Receipt = &floorv1.Receipt{Sequence: 1 << 40, Occurred: timestamppb.New(monday)}
				return nil
			}
			return call()
		}},
		"an event changes its bytes": {breaks: []string{"I7"}, entry: func(e *floorv1.Entry) []*floorv1.Entry {
			if p, ok := body[jobsv1.BeadLaid](e); ok {
				p.VolumeMl = proto.Float64(p.GetVolumeMl() + 1) // told or as planned
				return repack(e, p)
			}
			return []*floorv1.Entry{e}
		}},
		"a command told again is a new fact": {seed: 1, breaks: []string{"I8"}, answer: after(func(r *jobsv1.RecordResponse) {
			r.Receipt.Repeated = false
		})},
		"an event is shown twice": {breaks: []string{"I15", "I8"}, entry: func(e *floorv1.Entry) []*floorv1.Entry {
			if e.GetSequence()%1000 == 0 {
				again := proto.CloneOf(e)
				again.Sequence++
				return []*floorv1.Entry{e, e, again}
			}
			return []*floorv1.Entry{e}
		}},
		"an event is left out": {breaks: []string{"I15"}, entry: func(e *floorv1.Entry) []*floorv1.Entry {
			if e.GetSequence()%1000 == 0 {
				return nil
			}
			return []*floorv1.Entry{e}
		}},
		"a clock ends for another bead": {breaks: []string{"I9"}, entry: func(e *floorv1.Entry) []*floorv1.Entry {
			if p, ok := body[curesv1.WindowOpened](e); ok && p.GetClock() == floorv1.Clock_CLOCK_HANDLING {
				p.SeamId = "2207/rd-l"
				return repack(e, p)
			}
			return []*floorv1.Entry{e}
		}},
		"a clock is ready early": {breaks: []string{"I9"}, entry: func(e *floorv1.Entry) []*floorv1.Entry {
			if p, ok := body[curesv1.WindowOpened](e); ok && p.GetClock() == floorv1.Clock_CLOCK_HANDLING {
				e.Received = timestamppb.New(e.GetReceived().AsTime().Add(-15 * time.Minute))
			}
			return []*floorv1.Entry{e}
		}},
		"the floor folds to another floor": {breaks: []string{"I10"}, liar: liar{replay: true}},
		"the journal is damaged":           {breaks: []string{"I14"}, liar: liar{damage: true}},
	}
}

func listBugs() map[string]bug {
	return map[string]bug{
		"a finding is not told with its fact": {breaks: []string{"account"}, answer: after(func(r *jobsv1.RecordResponse) {
			r.Receipt.Findings = slices.DeleteFunc(r.Receipt.Findings, func(f *floorv1.Finding) bool { return f.GetRule() == "not-purged" })
		})},
		"a finding is missing from the list": {breaks: []string{"account"}, answer: after(func(r *jobsv1.ListFindingsResponse) {
			r.Findings = slices.DeleteFunc(r.Findings, func(f *jobsv1.FindingState) bool { return f.GetFinding().GetRule() == "nozzle-gelled" })
		})},
		"a finding too many": {breaks: []string{"account"}, answer: whole(func(r *jobsv1.ListFindingsResponse) {
			r.Findings = append(r.Findings, &jobsv1.FindingState{FindingId: "1.1", Open: true, Finding: &floorv1.Finding{
				Rule: "leaks", Severity: floorv1.Severity_SEVERITY_STOP, Subject: "seam/2207/rd-l", AboutSequence: 1 << 30,
			}})
		})},
		"a stop is answered by nobody": {breaks: []string{"account"}, answer: whole(func(r *jobsv1.ListFindingsResponse) {
			for _, f := range r.GetFindings() {
				f.Open = false
			}
		})},
		"a lot's balance does not close": {breaks: []string{"I11"}, answer: after(func(r *materialsv1.ListStockResponse) {
			for _, l := range r.GetLots() {
				l.LaidMl++
			}
		})},
		"a booth is clear while a load is inside": {breaks: []string{"I12", "I1"}, answer: after(func(r *boothv1.GetGateResponse) {
			r.Gate.Sign = boothv1.Sign_SIGN_CLEAR
		})},
		"a stage goes back": {breaks: []string{"I13"}, answer: after(func(r *jobsv1.ListJobsResponse) {
			for _, j := range r.GetJobs() {
				for _, s := range j.GetSeams() {
					if s.GetStage() >= floorv1.Stage_STAGE_COATED && r.GetSequence()%2 == 0 {
						s.Stage = floorv1.Stage_STAGE_LAID
					}
				}
			}
		})},
		"a view of an older journal": {breaks: []string{"I15"}, answer: after(func(r *jobsv1.ListJobsResponse) { r.Sequence -= 40 })},
		"a gate that stands still": {breaks: []string{"I16"}, answer: after(func(r *boothv1.GetGateResponse) {
			r.Gate.Now = timestamppb.New(r.Gate.GetNow().AsTime().Add(-time.Minute))
		})},
	}
}
