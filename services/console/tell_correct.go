package console

import (
	"context"
	"strconv"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/anypb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/fault"
	"seamwright/services/rpc"
)

// correct packs the corrected body: the fact as it stands, with the fields
// that are told anew.
func (f form) correct(ctx context.Context, c grpc.ClientConnInterface, m proto.Message, fields []string) (proto.Message, error) {
	b, ok := m.(*jobsv1.FactCorrected)
	if !ok {
		return nil, fault.Bad("body", "no field of "+f.kind.name(), "one of "+f.kind.fieldWords())
	}
	old, err := factAt(ctx, c, b.GetSequence())
	if err != nil {
		return nil, err
	}
	for _, text := range fields {
		if err := f.take(old.ProtoReflect(), text, "body."); err != nil {
			return nil, err
		}
	}
	if err := rpc.Check(old); err != nil {
		return nil, err
	}
	b.Body, err = anypb.New(old)
	if err != nil {
		return nil, fault.Wrap(err, fault.Internal, "tell", "")
	}
	return b, nil
}

// factAt is the fact of a number as it was corrected last, without what the
// server wrote into it.
func factAt(ctx context.Context, c grpc.ClientConnInterface, seq uint64) (proto.Message, error) {
	var out proto.Message
	withdrawn := make(map[uint64]bool)
	var fixed []numbered
	err := eachEntry(ctx, c, &jobsv1.WatchFloorRequest{FromSequence: seq, StopAtEnd: true}, func(e *floorv1.Entry, body proto.Message) error {
		switch b := body.(type) {
		case *jobsv1.FactWithdrawn:
			withdrawn[b.GetSequence()] = true
		case *jobsv1.FactCorrected:
			if b.GetSequence() == seq && b.GetBody() != nil {
				m, err := b.GetBody().UnmarshalNew()
				if err != nil {
					return fault.Wrap(err, fault.Unavailable, "unknown-fact", "use the program version that the shop runs")
				}
				fixed = append(fixed, numbered{e.GetSequence(), m})
			}
		}
		if e.GetSequence() == seq {
			out = body
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if out == nil {
		return nil, fault.Missing("fact", strconv.FormatUint(seq, 10), "look its number up with: seamwright watch --from 1 --stop")
	}
	for _, n := range fixed {
		if !withdrawn[n.seq] {
			out = n.body
		}
	}
	out = proto.Clone(out)
	unwritten(out.ProtoReflect())
	return out, nil
}

// unwritten takes out of a message what the server writes.
func unwritten(m protoreflect.Message) {
	m.Range(func(f protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		switch {
		case serverWritten[f.Name()] && f.Kind() != protoreflect.BoolKind: // what the planner moved stays so
			m.Clear(f)
		case within(f) && f.IsList():
			for i := range v.List().Len() {
				unwritten(v.List().Get(i).Message())
			}
		case within(f):
			unwritten(v.Message())
		}
		return true
	})
}
