package booth_test

import (
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/anypb"
	"google.golang.org/protobuf/types/known/durationpb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/floor"
)

// fact finds the newest fact of a body's type about the same thing.
func (h *house) fact(like proto.Message) (found uint64) {
	h.t.Helper()
	want := like.ProtoReflect()
	h.Writer.View(func(seq uint64) {
		for n := uint64(1); n <= seq; n++ {
			ev, counts, _ := h.Floor.Event(n)
			got := ev.Body.ProtoReflect()
			if !counts || got.Descriptor() != want.Descriptor() {
				continue
			}
			same := true
			want.Range(func(f protoreflect.FieldDescriptor, v protoreflect.Value) bool {
				same = got.Get(f).Equal(v)
				return same
			})
			if same {
				found = n
			}
		}
	})
	if found == 0 {
		h.t.Fatalf("no fact like %v", like)
	}
	return found
}

func (h *house) withdraw(like proto.Message) {
	h.t.Helper()
	h.Tell(h.t, &jobsv1.FactWithdrawn{Sequence: h.fact(like), Why: "told in error"})
}

// correct corrects the product.
func (h *house) correct(p *materialsv1.ProductDefined) {
	h.t.Helper()
	body, err := anypb.New(p)
	if err != nil {
		h.t.Fatal(err)
	}
	h.Tell(h.t, &jobsv1.FactCorrected{Sequence: h.fact(&materialsv1.ProductDefined{ProductId: "sl"}), Why: "read wrongly", Body: body})
}

// late tells what happened a while ago.
func (h *house) late(body proto.Message, age time.Duration) {
	h.t.Helper()
	st := h.Stamp(floorv1.Role_ROLE_MACHINE)
	st.Age = &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_MEASURED, Length: durationpb.New(age)}
	if _, err := h.Desk.Record(h.ctx(), floor.Command{Stamp: st, Body: body},
		func(f *floor.Floor, c floor.Command, at time.Time) (floor.Event, error) { return f.Decide(c, at) }); err != nil {
		h.t.Fatal(err)
	}
}
