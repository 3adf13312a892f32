package journal

import (
	"fmt"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	"seamwright/services/fault"
	"seamwright/services/floor"
)

// Extension attributes that carry a floor.Header.
const (
	attrActor    = "actor"
	attrRole     = "role"
	attrTerminal = "terminal"
	attrAgeKind  = "agekind"
	attrReceived = "received"
	attrOccurred = "occurred"
	attrEarliest = "earliest"
	attrLatest   = "latest"
	attrRules    = "rules"
)

// Encode makes the stored form of an event: the payload is the body's
// protobuf in deterministic form, the type its full name. Empty texts and
// unset moments are left out. An event without command id, aggregate,
// moment or body is an invalid fault.
func Encode(e floor.Event) (Record, error) {
	if e.Body == nil || !e.Body.ProtoReflect().IsValid() {
		return Record{}, fault.Bad("body", "nil", "give the event its message")
	}
	payload, err := proto.MarshalOptions{Deterministic: true}.Marshal(e.Body)
	if err != nil {
		return Record{}, fault.Wrap(err, fault.Invalid, "bad-body", "give every text of the event as valid UTF-8")
	}
	r := Record{
		ID: e.CommandID, Type: e.Type(), Aggregate: e.Aggregate,
		Time: e.Occurred.UTC().Round(0), Payload: payload, Attrs: make(map[string]string, 9),
	}
	for name, v := range map[string]string{
		attrActor: e.Actor, attrRole: string(e.Role), attrTerminal: e.Terminal,
		attrAgeKind: string(e.AgeKind), attrRules: e.Rules,
	} {
		if v != "" {
			r.Attrs[name] = v
		}
	}
	for name, t := range map[string]time.Time{
		attrReceived: e.Received, attrOccurred: e.Occurred, attrEarliest: e.Earliest, attrLatest: e.Latest,
	} {
		if t.IsZero() {
			continue
		}
		if err := checkTime(name, t); err != nil {
			return Record{}, err
		}
		r.Attrs[name] = formatTime(t)
	}
	if err := check(r); err != nil {
		return Record{}, err
	}
	return r, nil
}

// Decode makes an event from its stored form. A type that this program does
// not know is an error with reason "unknown-event-type"; ill-formed bytes
// are a corrupt fault. Both name the record's number, and the fold stops
// there. Attributes that a later program added are passed over.
func Decode(r Record) (floor.Event, error) {
	body, err := decodeBody(r)
	if err != nil {
		return floor.Event{}, err
	}
	e := floor.Event{Seq: r.Seq, Aggregate: r.Aggregate, Body: body, Header: floor.Header{
		CommandID: r.ID, Actor: r.Attrs[attrActor], Role: floor.Role(r.Attrs[attrRole]),
		Terminal: r.Attrs[attrTerminal], AgeKind: floor.AgeKind(r.Attrs[attrAgeKind]), Rules: r.Attrs[attrRules],
	}}
	for name, t := range map[string]*time.Time{
		attrReceived: &e.Received, attrOccurred: &e.Occurred, attrEarliest: &e.Earliest, attrLatest: &e.Latest,
	} {
		v, ok := r.Attrs[name]
		if !ok {
			continue
		}
		if *t, err = parseTime(v); err != nil {
			return floor.Event{}, badRecord(r.Seq, name, v, err.Error())
		}
	}
	if !e.Occurred.Equal(r.Time) {
		return floor.Event{}, badRecord(r.Seq, attrOccurred, r.Attrs[attrOccurred], "must be the record's time, "+formatTime(r.Time))
	}
	return e, nil
}

func decodeBody(r Record) (proto.Message, error) {
	mt, err := protoregistry.GlobalTypes.FindMessageByName(protoreflect.FullName(r.Type))
	if err != nil {
		return nil, fault.New(fault.Unavailable, ReasonUnknownType,
			fmt.Sprintf("record %d is of type %q, which this program does not know", r.Seq, r.Type),
			"nothing after it can be read; run the program version that wrote it, or a later one")
	}
	body := mt.New().Interface()
	if err := proto.Unmarshal(r.Payload, body); err != nil {
		return nil, badRecord(r.Seq, "payload", r.Type, err.Error())
	}
	return body, nil
}
