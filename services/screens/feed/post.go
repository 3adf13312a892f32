package feed

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

func sortedNames(m map[string]string) []string { return slices.Sorted(maps.Keys(m)) }

// oldest is how long ago a fact may be claimed at a screen.
const oldest = 30 * 24 * time.Hour

// Post hands over what somebody did or asks for. Facts go to the services as
// they were told; permissions are asked of the booth.
func (s *Source) Post(ctx context.Context, a screens.Action) (screens.Result, error) {
	f := newFields(a.Fields)
	stamp, err := s.stamp(a, f)
	if err != nil {
		return screens.Result{}, err
	}
	switch a.Kind {
	case screens.DoRequestPermit:
		return s.requestPermit(ctx, a, stamp, f)
	case screens.DoReturnPermit:
		return s.returnPermit(ctx, stamp, f)
	case screens.DoOverride:
		return s.override(ctx, a, stamp, f)
	case screens.DoPlaceLoad, screens.DoFreeLoad:
		return s.placeLoad(ctx, a, stamp, f)
	}
	facts, err := s.facts(ctx, a, f)
	if err != nil {
		return screens.Result{}, err
	}
	if err := f.done(); err != nil {
		return screens.Result{}, err
	}
	return s.record(ctx, stamp, facts)
}

// stamp says who tells it, from where, how long ago. The role is that of the
// person; in a shop without a list of people it is that of the place.
func (s *Source) stamp(a screens.Action, f *fields) (*floorv1.Stamp, error) {
	st := &floorv1.Stamp{CommandId: a.CommandID, Actor: a.Actor, Terminal: a.Terminal, Age: live()}
	st.Role = floorv1.Role_ROLE_TECHNICIAN
	if a.Booth != "" {
		st.Role = floorv1.Role_ROLE_PAINTER
	}
	if s.opt.People != nil {
		p, ok := s.opt.People.Person(a.Actor)
		if !ok {
			return nil, fault.New(fault.Denied, "not-on-the-list", fmt.Sprintf("%q is not one of the people of this shop", a.Actor), "pick your name again")
		}
		st.Role = floor.Enum[floorv1.Role](string(p.Role))
	}
	if d := f.minutes("age_min", oldest); d != nil && d.AsDuration() > 0 {
		st.Age = &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_CLAIMED, Length: d}
	}
	return st, nil
}

func live() *floorv1.Age { return &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE} }

// facts makes the facts of a press, one but for the end of a first coat.
func (s *Source) facts(ctx context.Context, a screens.Action, f *fields) ([]proto.Message, error) {
	if a.Booth != "" {
		return s.boothFacts(ctx, a, f)
	}
	seam := string(seamID(floor.RO(a.RO), a.Seam))
	if m := seamFact(a.Kind, seam, f); m != nil {
		return []proto.Message{m}, nil
	}
	m, err := s.floorFact(ctx, a, seam, f)
	if err != nil {
		return nil, err
	}
	if m == nil {
		return nil, fault.Bad("kind", string(a.Kind), "an action of a bay's screen")
	}
	return []proto.Message{m}, nil
}

// record hands the facts to the services that take them, in order. The last
// one is the press itself and has its command id, so that pressing twice is
// once; a fact that the press implies goes before it under an id made of it,
// and is not told again once it stands.
func (s *Source) record(ctx context.Context, stamp *floorv1.Stamp, facts []proto.Message) (screens.Result, error) {
	var receipts []*floorv1.Receipt
	for i, m := range facts {
		st := proto.Clone(stamp).(*floorv1.Stamp)
		if i < len(facts)-1 {
			st.CommandId += "." + strconv.Itoa(i+1)
		}
		r := s.told(st.GetCommandId(), m)
		if r == nil {
			var err error
			if r, err = s.tell(ctx, st, m); err != nil {
				return screens.Result{}, err
			}
		}
		receipts = append(receipts, r)
	}
	return s.result(ctx, receipts)
}

// told is the receipt of a press that took effect before; nil when it did
// not. What the feed fills in (the next free number of a cartridge) has moved
// on since, so the fact is not told a second time in another form.
func (s *Source) told(commandID string, m proto.Message) (r *floorv1.Receipt) {
	s.opt.Desk.Writer.View(func(uint64) {
		seq, ok := s.opt.Desk.Floor.Taken(commandID)
		if !ok {
			return
		}
		ev, _, _ := s.opt.Desk.Floor.Event(seq)
		if ev.Body == nil || !sameThing(ev.Body, m) {
			return // for the service to refuse
		}
		r = &floorv1.Receipt{Sequence: seq, Repeated: true, Occurred: timestamppb.New(ev.Occurred)}
		if a, ok := ev.Body.(interface{ GetAssessment() *floorv1.Assessment }); ok {
			r.Findings = a.GetAssessment().GetFindings()
		}
	})
	return r
}

// sameThing reports whether two facts are of one kind and about one thing: by
// what stands in a page's address, or is chosen on it, and is never filled in.
func sameThing(a, b proto.Message) bool {
	x, y := a.ProtoReflect(), b.ProtoReflect()
	if x.Descriptor() != y.Descriptor() {
		return false
	}
	for _, name := range []protoreflect.Name{"ro", "seam_id", "zone_id", "load_id", "booth_id", "panel"} {
		if f := x.Descriptor().Fields().ByName(name); f != nil && !x.Get(f).Equal(y.Get(f)) {
			return false
		}
	}
	return true
}

// tell records one fact with the service that takes it.
func (s *Source) tell(ctx context.Context, st *floorv1.Stamp, m proto.Message) (*floorv1.Receipt, error) {
	switch m.ProtoReflect().Descriptor().ParentFile().Package() {
	case "seamwright.jobs.v1":
		req := &jobsv1.RecordRequest{Stamp: st}
		put(req, m)
		r, err := s.jobs.Record(ctx, req)
		return r.GetReceipt(), err
	case "seamwright.materials.v1":
		req := &materialsv1.RecordRequest{Stamp: st}
		put(req, m)
		r, err := s.materials.Record(ctx, req)
		return r.GetReceipt(), err
	default:
		req := &boothv1.RecordRequest{Stamp: st}
		put(req, m)
		r, err := s.booth.Record(ctx, req)
		return r.GetReceipt(), err
	}
}

// put sets the field of the oneof "fact" that has the fact's type.
func put(req, fact proto.Message) {
	r := req.ProtoReflect()
	all := r.Descriptor().Oneofs().ByName("fact").Fields()
	for i := range all.Len() {
		if all.Get(i).Message() == fact.ProtoReflect().Descriptor() {
			r.Set(all.Get(i), protoreflect.ValueOfMessage(fact.ProtoReflect()))
			return
		}
	}
}

// result says what came of it, read back from the events themselves: a
// repeat is told what the first press did.
func (s *Source) result(ctx context.Context, receipts []*floorv1.Receipt) (screens.Result, error) {
	var out screens.Result
	for _, r := range receipts {
		out.Seq = max(out.Seq, r.GetSequence())
	}
	err := s.look(ctx, out.Seq, func(v *view) error {
		for _, r := range receipts {
			if ev, _, ok := v.f.Event(r.GetSequence()); ok {
				out.Said = strings.TrimSpace(out.Said + " " + v.said(ev))
			}
			out.Findings = append(out.Findings, v.told(r.GetFindings())...)
		}
		return nil
	})
	return out, err
}

// requestPermit asks the gate. Held is refused, with every reason in words.
func (s *Source) requestPermit(ctx context.Context, a screens.Action, st *floorv1.Stamp, f *fields) (screens.Result, error) {
	req := &boothv1.RequestPermitRequest{Stamp: st, BoothId: a.Booth, LoadId: f.need("load", "the load to be sprayed"), Untouched: f.text("confirmed") == "yes"}
	if err := f.done(); err != nil {
		return screens.Result{}, err
	}
	r, err := s.booth.RequestPermit(ctx, req)
	if err != nil {
		return screens.Result{}, err
	}
	if r.GetPermit() == nil {
		return screens.Result{}, s.refused(ctx, req.GetLoadId(), r)
	}
	return s.permitted(ctx, r.GetPermit(), r.GetSequence(), "Permit given")
}

func (s *Source) refused(ctx context.Context, load string, r *boothv1.RequestPermitResponse) error {
	why := ""
	if err := s.look(ctx, r.GetSequence(), func(v *view) error {
		why = v.holdWords(r.GetReasons())
		return nil
	}); err != nil {
		return err
	}
	return fault.New(fault.Refused, "held", fmt.Sprintf("Do not spray %s. %s", load, why), "ask again when nothing holds it")
}

func (s *Source) permitted(ctx context.Context, p *boothv1.Permit, seq uint64, what string) (screens.Result, error) {
	out := screens.Result{Seq: seq}
	err := s.look(ctx, seq, func(v *view) error {
		out.Said = fmt.Sprintf("%s for %s: start by %s.", what, p.GetLoadId(), v.at(p.GetStartBy().AsTime()))
		return nil
	})
	return out, err
}

func (s *Source) returnPermit(ctx context.Context, st *floorv1.Stamp, f *fields) (screens.Result, error) {
	f.text("load")
	f.text("reason")
	req := &boothv1.ReturnPermitRequest{Stamp: st, PermitId: f.need("permit", "the permit to give back")}
	if err := f.done(); err != nil {
		return screens.Result{}, err
	}
	r, err := s.booth.ReturnPermit(ctx, req)
	if err != nil {
		return screens.Result{}, err
	}
	return s.result(ctx, []*floorv1.Receipt{{Sequence: r.GetSequence()}})
}

// override is a foreman's, whoever stands at the screen: the PIN says so, and
// the booth service checks it.
func (s *Source) override(ctx context.Context, a screens.Action, st *floorv1.Stamp, f *fields) (screens.Result, error) {
	req := &boothv1.OverrideRequest{
		Stamp: st, BoothId: a.Booth, LoadId: f.need("load", "the load to be sprayed"), Pin: f.need("pin", "the foreman's PIN"),
		Reason: f.need("reason", "why the hold is overridden"),
	}
	if who := f.text("person"); who != "" {
		st.Actor, st.Role = who, floorv1.Role_ROLE_FOREMAN
	}
	if m := f.number("minutes", 1, 15, "minutes"); m != nil {
		req.Minutes = *m
	} else {
		req.Minutes = 15
	}
	if err := f.done(); err != nil {
		return screens.Result{}, err
	}
	r, err := s.booth.Override(ctx, req)
	if err != nil {
		return screens.Result{}, err
	}
	return s.permitted(ctx, r.GetPermit(), r.GetSequence(), "Override")
}

// boothFacts are the facts that a painter tells. The end of the first coat
// is told with the flash-off: the seams of the load are coated by then.
func (s *Source) boothFacts(ctx context.Context, a screens.Action, f *fields) ([]proto.Message, error) {
	b := a.Booth
	switch a.Kind {
	case screens.DoStartSpray:
		return []proto.Message{&boothv1.SprayStarted{BoothId: b, LoadId: f.need("load", "the load"), PermitId: f.text("permit")}}, nil
	case screens.DoFinishLoad:
		return []proto.Message{&boothv1.LoadFinished{BoothId: b, LoadId: f.need("load", "the load")}}, nil
	case screens.DoBoothFault:
		return []proto.Message{&boothv1.BoothFaulted{BoothId: b, What: f.need("reason", "what is wrong with the booth")}}, nil
	case screens.DoBoothReset:
		return []proto.Message{&boothv1.BoothReset{BoothId: b, What: f.text("reason")}}, nil
	case screens.DoPhase:
		p := word[boothv1.Phase](f, "phase")
		change := &boothv1.BoothPhaseChanged{BoothId: b, Phase: p, Colour: f.text("colour"), Expected: f.minutes("minutes", 24*time.Hour)}
		if p != boothv1.Phase_PHASE_FLASH_OFF {
			return []proto.Message{change}, nil
		}
		coat, err := s.coatFact(ctx, floor.BoothID(b))
		if err != nil || coat == nil {
			return []proto.Message{change}, err
		}
		return []proto.Message{coat, change}, nil
	}
	return nil, fault.Bad("kind", string(a.Kind), "an action of a booth's screen")
}

// coatFact is the first coat of the load in a booth over its seams; nil when
// all of them bear it.
func (s *Source) coatFact(ctx context.Context, id floor.BoothID) (proto.Message, error) {
	var out proto.Message
	err := s.look(ctx, 0, func(v *view) error {
		b := v.f.Booth(id)
		if b == nil {
			return fault.Missing("booth", string(id), "the index page lists the booths of this shop")
		}
		bare := v.uncoated(b.Loaded)
		l := v.f.Load(b.Loaded)
		if len(bare) == 0 || l == nil {
			return nil
		}
		c := &jobsv1.CoatApplied{
			LoadId: string(l.ID), Layer: &jobsv1.CoatApplied_Over{Over: floor.Enum[floorv1.Coat](string(v.coatOf(l)))},
			Lasted: durationpb.New(max(v.now.Sub(l.Sprayed), 0)),
		}
		for _, m := range bare {
			c.SeamIds = append(c.SeamIds, string(m.ID))
		}
		out = c
		return nil
	})
	return out, err
}
