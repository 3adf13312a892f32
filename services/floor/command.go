package floor

import (
	"fmt"
	"slices"
	"time"

	"google.golang.org/protobuf/proto"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/fault"
)

// Command is a fact as somebody tells it.
type Command struct {
	Stamp *floorv1.Stamp
	Body  proto.Message
}

// agreeWithin is how well a terminal's offset to the server must agree at its
// contacts before and after a fact for its measured age to be trusted.
const agreeWithin = 2 * time.Second

// MaxAge is how long before it is told a fact may have happened.
const MaxAge = 90 * 24 * time.Hour

// Place puts a command in time: occurred = received - age, never in the
// future. What is not exactly known becomes the interval from Earliest to
// Latest, so that each side of a clock uses its safe end.
func Place(s *floorv1.Stamp, received time.Time) (Header, error) {
	h := Header{
		CommandID: s.GetCommandId(), Actor: s.GetActor(), Role: Role(enumWord(s.GetRole())), Terminal: s.GetTerminal(),
		Received: received, Rules: RulesVersion,
	}
	age := s.GetAge().GetLength().AsDuration()
	if age < 0 || age > MaxAge {
		return h, fault.Bad("stamp.age.length", age, "must be 0 to 90 days; tell it as a claimed fact of the day it was found")
	}
	h.Occurred = received.Add(-age)
	h.Earliest, h.Latest = h.Occurred, h.Occurred
	switch s.GetAge().GetKind() {
	case floorv1.AgeKind_AGE_KIND_LIVE:
		h.AgeKind, h.Occurred, h.Earliest, h.Latest = AgeLive, received, received, received
		if age != 0 {
			return h, fault.Bad("stamp.age.length", age, "a live fact has no age; tell its kind of age")
		}
	case floorv1.AgeKind_AGE_KIND_MEASURED:
		measured(&h, s.GetAge())
	case floorv1.AgeKind_AGE_KIND_SIGNED:
		h.AgeKind = AgeSigned
		if h.Role != Foreman {
			return h, fault.New(fault.Denied, "not-a-foreman", fmt.Sprintf("%s is a %s; an age is signed by a foreman", h.Actor, h.Role),
				"tell it as claimed, or ask a foreman to sign")
		}
	case floorv1.AgeKind_AGE_KIND_CLAIMED:
		h.AgeKind, h.Latest = AgeClaimed, received
	default:
		return h, fault.Bad("stamp.age.kind", "unspecified", "say live, measured, claimed or signed")
	}
	return h, nil
}

// measured trusts the terminal's running clock when its offset to the server
// was the same before and after; else the fact lies in an interval as wide as
// the disagreement.
func measured(h *Header, a *floorv1.Age) {
	h.AgeKind = AgeMeasured
	off := time.Duration(a.GetOffsetAfterMs()-a.GetOffsetBeforeMs()) * time.Millisecond
	if off.Abs() <= agreeWithin {
		return
	}
	h.AgeKind = AgeUncertain
	h.Earliest, h.Latest = h.Occurred.Add(-off.Abs()), h.Occurred.Add(off.Abs())
	if h.Latest.After(h.Received) {
		h.Latest = h.Received
	}
}

// distrust takes the age that a terminal measured for a claim unless the
// terminal is enrolled in a zone: whose clock it was is not known. A probe's
// logger counts its own time.
func (fl *Floor) distrust(ev *Event) {
	if _, reading := ev.Body.(*curesv1.ReadingTaken); reading || fl.terminalZone(fl.book, ev.Terminal, ev.Occurred) != "" {
		return
	}
	if ev.AgeKind == AgeMeasured || ev.AgeKind == AgeUncertain {
		ev.AgeKind, ev.Latest = AgeUncertain, ev.Received
	}
}

// mayTell refuses definitions that the gate leans on to those whose business
// they are not: how a zone or a booth behaves, how a product cures. Machines
// may, since files are imported by one.
func (fl *Floor) mayTell(ev *Event) error {
	if seq, ok := amended(ev.Body); ok {
		old, _, known := fl.Event(seq)
		if !known {
			return nil // refused by its number
		}
		old.Role, old.Actor = ev.Role, ev.Actor
		return fl.mayTell(&old)
	}
	what, who := "", []Role(nil)
	switch ev.Body.(type) {
	case *curesv1.ZoneDefined:
		what, who = "a zone", []Role{Foreman, Machine}
	case *boothv1.BoothDefined:
		what, who = "a booth", []Role{Foreman, Machine}
	case *materialsv1.ProductDefined:
		what, who = "a product", []Role{Foreman, Materials, Machine}
	case *boothv1.LoadPlanned:
		what, who = "a load", []Role{Painter, Foreman, Machine}
	}
	if who == nil || slices.Contains(who, ev.Role) {
		return nil
	}
	named := string(who[0])
	if who[1] != Machine {
		named += " or " + string(who[1])
	}
	return fault.New(fault.Denied, "not-your-role",
		fmt.Sprintf("%s is a %s; %s is defined by a %s", ev.Actor, ev.Role, what, named), "ask one")
}

// amended is the fact that a withdrawal or correction is about.
func amended(m proto.Message) (uint64, bool) {
	switch b := m.(type) {
	case *jobsv1.FactWithdrawn:
		return b.GetSequence(), true
	case *jobsv1.FactCorrected:
		return b.GetSequence(), true
	}
	return 0, false
}

// Decide makes the event of a fact: it checks that the things it names exist,
// fills in what was told as planned, and writes what is wrong with it into
// its assessment. The floor is not changed; at is the moment of receipt. The
// aggregate is the first thing that the fact concerns.
//
// Errors: NotFound for a thing that is not known, Invalid for a body that no
// fact can have, Denied for an answer that is not the actor's to give.
func (fl *Floor) Decide(c Command, at time.Time) (Event, error) {
	if at.Before(fl.last) {
		at = fl.last // the floor never goes back; the gate holds meanwhile
	}
	at = at.UTC().Truncate(time.Millisecond)
	h, err := Place(c.Stamp, at)
	if err != nil {
		return Event{}, err
	}
	ev := Event{Seq: fl.seq + 1, Header: h, Body: proto.Clone(c.Body)}
	fl.distrust(&ev)
	if err := fl.mayTell(&ev); err != nil {
		return Event{}, err
	}
	if err := fl.refer(&ev); err != nil {
		return Event{}, err
	}
	if err := fl.fillPlanned(&ev); err != nil {
		return Event{}, err
	}
	ev.Aggregate = fl.aggregateOf(&ev)
	if ev.Aggregate == "" {
		return Event{}, fault.Bad("fact", ev.Type(), "is not a fact that this service takes")
	}
	a := fl.Assess(&ev)
	if len(a.GetFindings())+len(a.GetLapsed()) > 0 {
		setAssessment(ev.Body, a)
	}
	return ev, nil
}

// aggregateOf is the journal's name of the first thing that an event is about.
func (fl *Floor) aggregateOf(ev *Event) string {
	switch b := ev.Body.(type) {
	case *jobsv1.FactWithdrawn:
		return fl.log[b.GetSequence()-1].ev.Aggregate
	case *jobsv1.FactCorrected:
		return fl.log[b.GetSequence()-1].ev.Aggregate
	case *jobsv1.FindingDisposed:
		return fl.findings[FindingID(b.GetFindingId())].Subject.aggregate()
	case interface{ GetZoneId() string }:
		if ps := fl.place(ev); len(ps) == 0 {
			return ZoneID(b.GetZoneId()).key().aggregate()
		}
	}
	ps := fl.place(ev)
	if len(ps) == 0 {
		return ""
	}
	kind, id := ps[0].k.split()
	if kind == "where" {
		return RO(id).key().aggregate()
	}
	return ps[0].k.aggregate()
}

// fillPlanned writes the planned volume into material that was told "as
// planned", so that a later plan does not change what was used. The plan is
// the one in force when the material was laid; it names one volume for all
// layers of a seam, which is counted with the bead. The body of a correction
// is filled as that of the fact itself.
func (fl *Floor) fillPlanned(ev *Event) error {
	switch b := ev.Body.(type) {
	case *jobsv1.BeadLaid:
		b.PlannedMl = fl.plannedML(ev, b.GetSeamId(), b.GetLayer(), b.VolumeMl)
	case *jobsv1.RunLaid:
		for _, p := range b.GetPasses() {
			p.PlannedMl = fl.plannedML(ev, p.GetSeamId(), p.GetLayer(), p.VolumeMl)
		}
	case *jobsv1.FactCorrected:
		if b.GetBody() == nil {
			return nil
		}
		fixed, err := corrected(fl.log[b.GetSequence()-1].ev, b, ev.Header)
		if err != nil {
			return err
		}
		if err := fl.fillPlanned(&fixed); err != nil {
			return err
		}
		return b.GetBody().MarshalFrom(fixed.Body)
	}
	return nil
}

func (fl *Floor) plannedML(ev *Event, seam string, layer floorv1.Layer, told *float64) float64 {
	if told != nil || layer != floorv1.Layer_LAYER_BEAD {
		return 0
	}
	facts := fl.book.upTo(SeamID(seam).key(), &fact{seq: ev.Seq, at: ev.Occurred})
	return fl.foldSeamFacts(fl.book, SeamID(seam), facts).planned().Volume.ML()
}

func setAssessment(m proto.Message, a *floorv1.Assessment) {
	r := m.ProtoReflect()
	if f := r.Descriptor().Fields().ByName("assessment"); f != nil {
		r.Set(f, protoValue(a))
	}
}
