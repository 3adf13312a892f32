package console

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// clients are the services of a shop.
type clients struct {
	jobs      jobsv1.JobsServiceClient
	materials materialsv1.MaterialsServiceClient
	cures     curesv1.CuresServiceClient
	booth     boothv1.BoothServiceClient
}

func newClients(c grpc.ClientConnInterface) clients {
	return clients{
		jobsv1.NewJobsServiceClient(c), materialsv1.NewMaterialsServiceClient(c),
		curesv1.NewCuresServiceClient(c), boothv1.NewBoothServiceClient(c),
	}
}

// teller tells a shop facts that it does not know yet.
type teller struct {
	clients
	name   string
	known  map[string]told // by what it is about
	answer *importAnswer
}

// told is what the shop knows of a thing.
type told struct {
	body    proto.Message // the newest fact that defines it; nil: none that counts
	touched uint64        // number of the newest event about it or about its facts
	booth   string        // of a load: that it was told for last without being put there by hand
}

// past is what the journal says about a thing: its defining facts in order,
// as they were corrected, without those that were withdrawn.
type past struct {
	facts   []numbered
	touched uint64
}

type numbered struct {
	seq  uint64
	body proto.Message
}

// learn reads the journal for what the shop knows.
func (t *teller) learn(ctx context.Context, c grpc.ClientConnInterface) error {
	things := make(map[string]*past)
	where := make(map[uint64]*past) // by the number of a defining fact
	err := eachEntry(ctx, c, &jobsv1.WatchFloorRequest{StopAtEnd: true}, func(e *floorv1.Entry, body proto.Message) error {
		seq := e.GetSequence()
		t.answer.Sequence = seq
		if l, ok := body.(*boothv1.LoadPlanned); ok && l.GetMoved() {
			return nil // where the planner put it is not what was told of it
		}
		what := about(body)
		if what == "" {
			return amend(where, seq, body)
		}
		if things[what] == nil {
			things[what] = &past{}
		}
		p := things[what]
		p.facts, p.touched, where[seq] = append(p.facts, numbered{seq, body}), seq, p
		return nil
	})
	t.known = make(map[string]told, len(things))
	for what, p := range things {
		k := told{touched: p.touched}
		if n := len(p.facts); n > 0 {
			k.body, k.booth = p.facts[n-1].body, p.booth()
		}
		t.known[what] = k
	}
	return err
}

// booth is the booth that a load was told for last when nothing of its place
// was kept, else the one that it was told for first; empty: it is no load.
func (p *past) booth() (id string) {
	for _, f := range p.facts {
		l, ok := f.body.(*boothv1.LoadPlanned)
		if ok && (id == "" || l.GetStart() == nil && l.GetKeep() == boothv1.Keep_KEEP_UNSPECIFIED || l.GetKeep() == boothv1.Keep_KEEP_NOTHING) {
			id = l.GetBoothId()
		}
	}
	return id
}

// amend takes in a fact about a defining fact.
func amend(where map[uint64]*past, seq uint64, body proto.Message) error {
	switch b := body.(type) {
	case *jobsv1.FactWithdrawn:
		where[b.GetSequence()].change(b.GetSequence(), seq, nil)
	case *jobsv1.FactCorrected:
		if b.GetBody() == nil {
			return nil
		}
		m, err := b.GetBody().UnmarshalNew()
		if err != nil {
			return fault.Wrap(err, fault.Unavailable, "unknown-fact", "use the program version that the shop runs")
		}
		where[b.GetSequence()].change(b.GetSequence(), seq, m)
	}
	return nil
}

// change replaces a fact, or takes it out when there is nothing in its place.
// A nil past is another kind of fact's.
func (p *past) change(fact, by uint64, to proto.Message) {
	if p == nil {
		return
	}
	p.touched = by
	i := slices.IndexFunc(p.facts, func(n numbered) bool { return n.seq == fact })
	switch {
	case i < 0:
	case to == nil:
		p.facts = slices.Delete(p.facts, i, i+1)
	default:
		p.facts[i].body = to
	}
}

// eachEntry calls fn for the events of a shop's journal with their bodies.
func eachEntry(ctx context.Context, c grpc.ClientConnInterface, req *jobsv1.WatchFloorRequest, fn func(*floorv1.Entry, proto.Message) error) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	stream, err := jobsv1.NewJobsServiceClient(c).WatchFloor(ctx, req)
	if err != nil {
		return err
	}
	for {
		r, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		body, err := r.GetEntry().GetBody().UnmarshalNew()
		if err != nil {
			return fault.Wrap(err, fault.Unavailable, "unknown-fact",
				fmt.Sprintf("event %d is of a type that this program does not know; use the version that the shop runs", r.GetEntry().GetSequence()))
		}
		if err := fn(r.GetEntry(), body); err != nil {
			return err
		}
	}
}

// tell records a fact unless the shop has it as it is.
func (t *teller) tell(ctx context.Context, m proto.Message) error {
	what := about(m)
	before := t.known[what]
	if before.body != nil && proto.Equal(m, bare(before.body)) {
		t.answer.Unchanged++
		return nil
	}
	receipt, err := t.record(ctx, t.stamp(contentID(m, before.touched)), m)
	if err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	t.known[what] = told{body: m, touched: receipt.GetSequence()}
	t.answer.Sequence = max(t.answer.Sequence, receipt.GetSequence())
	if receipt.GetRepeated() {
		t.answer.Unchanged++
		return nil
	}
	t.answer.Recorded++
	for _, f := range receipt.GetFindings() {
		t.answer.Findings = append(t.answer.Findings, importNote{floor.Word(f.GetSeverity()), what, f.GetRule(), f.GetReason()})
	}
	return nil
}

// bare is a fact without what the server wrote into it.
func bare(m proto.Message) proto.Message {
	m = proto.Clone(m)
	r := m.ProtoReflect()
	if f := r.Descriptor().Fields().ByName("assessment"); f != nil {
		r.Clear(f)
	}
	return m
}

// record puts a fact into the request of the service that takes it.
func (t *teller) record(ctx context.Context, s *floorv1.Stamp, m proto.Message) (*floorv1.Receipt, error) {
	switch m.ProtoReflect().Descriptor().ParentFile().Package() {
	case "seamwright.jobs.v1":
		req := &jobsv1.RecordRequest{Stamp: s}
		put(req, m)
		r, err := t.jobs.Record(ctx, req)
		return r.GetReceipt(), err
	case "seamwright.materials.v1":
		req := &materialsv1.RecordRequest{Stamp: s}
		put(req, m)
		r, err := t.materials.Record(ctx, req)
		return r.GetReceipt(), err
	case "seamwright.cures.v1":
		req := &curesv1.RecordRequest{Stamp: s}
		put(req, m)
		r, err := t.cures.Record(ctx, req)
		return r.GetReceipt(), err
	default:
		req := &boothv1.RecordRequest{Stamp: s}
		put(req, m)
		r, err := t.booth.Record(ctx, req)
		return r.GetReceipt(), err
	}
}

// put sets the field of the oneof "fact" that has the fact's type.
func put(req, fact proto.Message) {
	r := req.ProtoReflect()
	fields := r.Descriptor().Oneofs().ByName("fact").Fields()
	for i := range fields.Len() {
		if fields.Get(i).Message() == fact.ProtoReflect().Descriptor() {
			r.Set(fields.Get(i), protoreflect.ValueOfMessage(fact.ProtoReflect()))
			return
		}
	}
}
