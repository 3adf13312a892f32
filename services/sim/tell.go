package sim

import (
	"fmt"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/durationpb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/fault"
)

// person is somebody of the shop.
type person struct {
	name string
	role floorv1.Role
}

// The people of the invented shop, as its people file has them.
var (
	technicians = []person{
		{"Tamsin Orrable", floorv1.Role_ROLE_TECHNICIAN},
		{"Jory Quillbeck", floorv1.Role_ROLE_TECHNICIAN},
		{"Bex Marrowdale", floorv1.Role_ROLE_TECHNICIAN},
	}
	painter   = person{"Sel Thrushgate", floorv1.Role_ROLE_PAINTER}
	foreman   = person{"Ansa Vellacorn", floorv1.Role_ROLE_FOREMAN}
	storeman  = person{"Dov Pennywhin", floorv1.Role_ROLE_MATERIALS}
	inspector = person{"Ilka Sandermoor", floorv1.Role_ROLE_INSPECTOR}
	machine   = person{"probe-reader", floorv1.Role_ROLE_MACHINE}
)

const (
	desk        = "desk"
	boothScreen = "booth-screen"
)

// age is how long ago a fact happened and how that is known.
type age struct {
	kind   floorv1.AgeKind
	length time.Duration
	skew   time.Duration // how much the terminal's clock went wrong meanwhile
}

var live = age{kind: floorv1.AgeKind_AGE_KIND_LIVE}

func measured(d time.Duration) age { return age{kind: floorv1.AgeKind_AGE_KIND_MEASURED, length: d} }
func claimed(d time.Duration) age  { return age{kind: floorv1.AgeKind_AGE_KIND_CLAIMED, length: d} }
func signed(d time.Duration) age   { return age{kind: floorv1.AgeKind_AGE_KIND_SIGNED, length: d} }

// stamp makes a new command of somebody at a terminal.
func (s *sim) stamp(who person, terminal string, a age) *floorv1.Stamp {
	s.commands++
	st := &floorv1.Stamp{
		CommandId: fmt.Sprintf("sim-%d-%07d", s.opt.Seed, s.commands), Actor: who.name, Role: who.role, Terminal: terminal,
		Age: &floorv1.Age{Kind: a.kind},
	}
	if a.length > 0 {
		st.Age.Length = durationpb.New(a.length)
		if a.kind == floorv1.AgeKind_AGE_KIND_MEASURED {
			st.Age.OffsetBeforeMs, st.Age.OffsetAfterMs = 1200, 1200+a.skew.Milliseconds()
		}
	}
	return st
}

// tell records a fact and compares what was found wrong about it with what is
// due. It answers the fact's number in the journal, 0 once the simulation has
// failed.
func (s *sim) tell(who person, terminal string, a age, body proto.Message, due ...due) uint64 {
	if s.err != nil {
		return 0
	}
	st := s.stamp(who, terminal, a)
	how := s.stumbles()
	if how != Sound {
		s.failing(how, "command "+st.GetCommandId(), func() error {
			_, err := s.record(st, body)
			return err
		})
	}
	r, err := s.record(st, body)
	if err != nil {
		s.fail(fmt.Errorf("%s by %s: %w", body.ProtoReflect().Descriptor().Name(), who.name, err))
		return 0
	}
	s.hears(terminal)
	s.worked[terminal] = s.now
	s.led.acknowledged(st, body, r, s.now, a)
	s.checks.count("I8")
	if r.GetRepeated() != (how == Kept) {
		s.broken("I8", "command %s was answered as repeated: %t; it was stored before: %t", st.GetCommandId(), r.GetRepeated(), how == Kept)
	}
	s.acc.answered(s, r, due)
	return r.GetSequence()
}

// again sends the same command once more, as a terminal does that did not
// hear the answer.
func (s *sim) again() {
	if l := s.led.last; l != nil {
		s.againOf(l)
	}
}

// againOf sends one of them again, however long ago it was acknowledged.
func (s *sim) againOf(l *ack) {
	if s.err != nil {
		return
	}
	s.planted("duplicate-command", l.command)
	r, err := s.record(l.stamp, l.body)
	if err != nil {
		s.fail(fmt.Errorf("command %s told again: %w", l.command, err))
		return
	}
	s.checks.count("I8")
	if !r.GetRepeated() || r.GetSequence() != l.seq {
		s.broken("I8", "command %s told again became event %d (repeated %t), first it was event %d", l.command, r.GetSequence(), r.GetRepeated(), l.seq)
	}
}

// record hands a fact to the service that it belongs to.
func (s *sim) record(st *floorv1.Stamp, body proto.Message) (*floorv1.Receipt, error) {
	switch pkg := body.ProtoReflect().Descriptor().ParentFile().Package(); pkg {
	case "seamwright.jobs.v1":
		req := &jobsv1.RecordRequest{Stamp: st}
		put(req, body)
		resp, err := s.opt.Jobs.Record(s.ctx, req)
		return resp.GetReceipt(), err
	case "seamwright.materials.v1":
		req := &materialsv1.RecordRequest{Stamp: st}
		put(req, body)
		resp, err := s.opt.Materials.Record(s.ctx, req)
		return resp.GetReceipt(), err
	case "seamwright.cures.v1":
		req := &curesv1.RecordRequest{Stamp: st}
		put(req, body)
		resp, err := s.opt.Cures.Record(s.ctx, req)
		if err == nil && resp.GetThinned() {
			err = fault.New(fault.Internal, "thinned", fmt.Sprintf("a reading that tells something new was thinned: %s", req), "")
		}
		return resp.GetReceipt(), err
	case "seamwright.booth.v1":
		req := &boothv1.RecordRequest{Stamp: st}
		put(req, body)
		resp, err := s.opt.Booth.Record(s.ctx, req)
		return resp.GetReceipt(), err
	default:
		return nil, fault.New(fault.Internal, "no-service", "no service takes facts of "+string(pkg), "")
	}
}

// put sets a fact in the request's oneof by its type.
func put(req, body proto.Message) {
	m := req.ProtoReflect()
	fields := m.Descriptor().Oneofs().ByName("fact").Fields()
	for i := range fields.Len() {
		if fd := fields.Get(i); fd.Message().FullName() == body.ProtoReflect().Descriptor().FullName() {
			m.Set(fd, protoreflect.ValueOfMessage(body.ProtoReflect()))
			return
		}
	}
}
