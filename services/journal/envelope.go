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
		Time: e.Occurred.UTC().Round(0), Payload: payload, Attrs: make(map[string]string, ownAttrs),
	}
	for _, a := range [...]struct{ name, v string }{
		{attrActor, e.Actor}, {attrRole, string(e.Role)}, {attrTerminal, e.Terminal}, {attrAgeKind, string(e.AgeKind)}, {attrRules, e.Rules},
	} {
		if a.v != "" {
			r.Attrs[a.name] = a.v
		}
	}
	for _, a := range [...]struct {
		name string
		t    time.Time
	}{{attrReceived, e.Received}, {attrOccurred, e.Occurred}, {attrEarliest, e.Earliest}, {attrLatest, e.Latest}} {
		if a.t.IsZero() {
			continue
		}
		if err := checkTime(a.name, a.t); err != nil {
			return Record{}, err
		}
		r.Attrs[a.name] = formatTime(a.t)
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
func Decode(r Record) (floor.Event, error) { return (*Decoder)(nil).Decode(r) }

// Decoder decodes many events and keeps one copy of each name and word that
// their headers repeat. It is used by one goroutine; nil keeps none.
type Decoder struct {
	words map[string]string
	types map[string]protoreflect.MessageType
}

// maxWords is how many words a Decoder keeps.
const maxWords = 4096

// NewDecoder makes a decoder that knows no words yet.
func NewDecoder() *Decoder {
	return &Decoder{words: map[string]string{}, types: map[string]protoreflect.MessageType{}}
}

// Decode is [Decode].
func (d *Decoder) Decode(r Record) (floor.Event, error) {
	body, err := d.body(r)
	if err != nil {
		return floor.Event{}, err
	}
	e := floor.Event{Seq: r.Seq, Aggregate: r.Aggregate, Body: body, Header: floor.Header{
		CommandID: r.ID, Actor: d.word(r.Attrs[attrActor]), Role: floor.Role(d.word(r.Attrs[attrRole])),
		Terminal: d.word(r.Attrs[attrTerminal]), AgeKind: floor.AgeKind(d.word(r.Attrs[attrAgeKind])), Rules: d.word(r.Attrs[attrRules]),
	}}
	for _, a := range [...]struct {
		name string
		t    *time.Time
	}{{attrReceived, &e.Received}, {attrOccurred, &e.Occurred}, {attrEarliest, &e.Earliest}, {attrLatest, &e.Latest}} {
		v, ok := r.Attrs[a.name]
		if !ok {
			continue
		}
		if *a.t, err = parseTime(v); err != nil {
			return floor.Event{}, badRecord(r.Seq, a.name, v, err.Error())
		}
	}
	if !e.Occurred.Equal(r.Time) {
		return floor.Event{}, badRecord(r.Seq, attrOccurred, r.Attrs[attrOccurred], "must be the record's time, "+formatTime(r.Time))
	}
	return e, nil
}

// word gives the kept copy of a text.
func (d *Decoder) word(s string) string {
	if d == nil || s == "" {
		return s
	}
	if w, ok := d.words[s]; ok {
		return w
	}
	if len(d.words) < maxWords {
		d.words[s] = s
	}
	return s
}

func (d *Decoder) body(r Record) (proto.Message, error) {
	mt, err := d.typeOf(r.Type)
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

func (d *Decoder) typeOf(name string) (protoreflect.MessageType, error) {
	if d != nil {
		if mt, ok := d.types[name]; ok {
			return mt, nil
		}
	}
	mt, err := protoregistry.GlobalTypes.FindMessageByName(protoreflect.FullName(name))
	if err == nil && d != nil {
		d.types[name] = mt
	}
	return mt, err
}
