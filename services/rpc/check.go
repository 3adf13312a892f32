package rpc

import (
	"errors"
	"fmt"
	"strings"

	"buf.build/go/protovalidate"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/anypb"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	"seamwright/services/fault"
)

// serverWritten are the fields that only the server fills in: by the full
// name of their message type, or by their own name.
var serverWritten = struct {
	types map[protoreflect.FullName]bool
	names map[protoreflect.Name]bool
}{
	types: map[protoreflect.FullName]bool{"seamwright.floor.v1.Assessment": true},
	names: map[protoreflect.Name]bool{"planned_ml": true},
}

// secret are fields whose value never stands in an error or a log.
var secret = map[protoreflect.Name]bool{"pin": true}

// Check says whether a message may come in: it keeps the rules of its proto
// file and leaves every server-written field empty. It looks into messages
// within it and into packed ones (google.protobuf.Any), whose rules hold as
// well. The error is an invalid fault with the path, value and limit of every
// field that is wrong.
func Check(m proto.Message) error {
	var all []*fault.Error
	collect(m, "", &all)
	if len(all) == 0 {
		return nil
	}
	return all[0].Join(all[1:]...)
}

func collect(m proto.Message, at string, all *[]*fault.Error) {
	*all = append(*all, violations(m, at)...)
	if !faultless(m.ProtoReflect()) {
		walk(m.ProtoReflect(), at, all)
	}
}

// faultless reports whether walk would find nothing in a message, without making
// up the names of its fields: so it is with nearly every one.
func faultless(m protoreflect.Message) bool {
	switch x := m.Interface().(type) {
	case *anypb.Any:
		return false // what is packed has rules of its own
	case *timestamppb.Timestamp, *durationpb.Duration:
		return moment(x, "") == nil
	}
	ok := true
	m.Range(func(fd protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		inner := fd.Message()
		switch {
		case serverWritten.names[fd.Name()]:
			ok = false
		case inner == nil:
		case serverWritten.types[inner.FullName()], fd.IsMap():
			ok = false
		case fd.IsList():
			for i := 0; ok && i < v.List().Len(); i++ {
				ok = faultless(v.List().Get(i).Message())
			}
		default:
			ok = faultless(v.Message())
		}
		return ok
	})
	return ok
}

// violations asks the rules of the proto file.
func violations(m proto.Message, at string) []*fault.Error {
	err := protovalidate.Validate(m)
	if err == nil {
		return nil
	}
	v, ok := errors.AsType[*protovalidate.ValidationError](err)
	if !ok { // a rule that cannot be run is no mistake of the caller's
		return []*fault.Error{fault.Wrap(err, fault.Internal, "rule-broken", "")}
	}
	out := make([]*fault.Error, len(v.Violations))
	for i, one := range v.Violations {
		path := protovalidate.FieldPathString(one.Proto.GetField())
		if path == "" {
			path = string(m.ProtoReflect().Descriptor().Name())
		}
		out[i] = fault.Bad(at+path, shown(one), limitOf(one))
	}
	return out
}

// shown is the value that was wrong, in short.
func shown(v *protovalidate.Violation) string {
	if v.FieldDescriptor == nil || !v.FieldValue.IsValid() {
		return "nothing"
	}
	if secret[v.FieldDescriptor.Name()] {
		return "(not shown)"
	}
	switch x := v.FieldValue.Interface().(type) {
	case string:
		return fmt.Sprintf("%q", brief(x))
	case protoreflect.Message:
		if !x.IsValid() {
			return "nothing"
		}
		return brief(fmt.Sprint(x.Interface()))
	case protoreflect.EnumNumber:
		if d := v.FieldDescriptor.Enum(); d != nil && d.Values().ByNumber(x) != nil {
			return string(d.Values().ByNumber(x).Name())
		}
		return fmt.Sprint(x)
	case protoreflect.List:
		return fmt.Sprintf("%d items", x.Len())
	default:
		return brief(fmt.Sprint(x))
	}
}

// limit makes a rule's own text an order to the caller.
func limit(text string) string {
	return strings.TrimPrefix(text, "value ")
}

// brief cuts a value so that the message stays one that a person reads.
func brief(s string) string {
	const most = 80
	if len(s) <= most {
		return s
	}
	return strings.ToValidUTF8(s[:most], "") + "…"
}

// walk looks for server-written fields, and into packed messages.
func walk(m protoreflect.Message, at string, all *[]*fault.Error) {
	if packed, ok := m.Interface().(*anypb.Any); ok {
		unpack(packed, at, all)
		return
	}
	if err := moment(m.Interface(), strings.TrimSuffix(at, ".")); err != nil {
		*all = append(*all, err)
		return
	}
	m.Range(func(fd protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		path := at + string(fd.Name())
		if serverWritten.names[fd.Name()] || fd.Message() != nil && serverWritten.types[fd.Message().FullName()] {
			*all = append(*all, fault.Bad(path, "filled in", "the server writes it; leave it empty"))
			return true
		}
		if fd.Message() == nil {
			return true
		}
		switch {
		case fd.IsList():
			for i := range v.List().Len() {
				walk(v.List().Get(i).Message(), fmt.Sprintf("%s[%d].", path, i), all)
			}
		case fd.IsMap():
			walkMap(fd, v.Map(), path, all)
		default:
			walk(v.Message(), path+".", all)
		}
		return true
	})
}

// years that a moment in a message may lie in.
const firstYear, lastYear = 1970, 2199

// moment checks a time or a length of time, which the rules of a field take
// as they come.
func moment(m proto.Message, at string) *fault.Error {
	switch x := m.(type) {
	case *timestamppb.Timestamp:
		if x.CheckValid() != nil || x.AsTime().Year() < firstYear || x.AsTime().Year() > lastYear {
			return fault.Bad(at, brief(fmt.Sprintf("%d s %d ns", x.GetSeconds(), x.GetNanos())), fmt.Sprintf("a moment in the years %d to %d", firstYear, lastYear))
		}
	case *durationpb.Duration:
		if x.CheckValid() != nil {
			return fault.Bad(at, brief(fmt.Sprintf("%d s %d ns", x.GetSeconds(), x.GetNanos())), "a length of time whose seconds and nanoseconds have the same sign")
		}
	}
	return nil
}

func walkMap(fd protoreflect.FieldDescriptor, m protoreflect.Map, path string, all *[]*fault.Error) {
	if fd.MapValue().Message() == nil {
		return
	}
	m.Range(func(k protoreflect.MapKey, v protoreflect.Value) bool {
		walk(v.Message(), fmt.Sprintf("%s[%v].", path, k), all)
		return true
	})
}

func unpack(packed *anypb.Any, at string, all *[]*fault.Error) {
	inner, err := packed.UnmarshalNew()
	if err != nil {
		*all = append(*all, fault.Bad(strings.TrimSuffix(at, "."), brief(packed.GetTypeUrl()), "a packed message of a type that this program knows"))
		return
	}
	collect(inner, at, all)
}
