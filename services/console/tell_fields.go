package console

import (
	"context"
	"errors"
	"math"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/timestamppb"

	"seamwright/services/calc/quantity"
	"seamwright/services/fault"
	"seamwright/services/rpc"
)

const (
	momentType = "google.protobuf.Timestamp"
	lengthType = "google.protobuf.Duration"
	packedType = "google.protobuf.Any"
)

func isType(f protoreflect.FieldDescriptor, name string) bool {
	return f.Message() != nil && string(f.Message().FullName()) == name
}

func isAny(f protoreflect.FieldDescriptor) bool { return isType(f, packedType) }

// within reports whether a field has fields of its own.
func within(f protoreflect.FieldDescriptor) bool {
	return f.Message() != nil && !isType(f, momentType) && !isType(f, lengthType)
}

// kindWords says what a field takes.
func kindWords(f protoreflect.FieldDescriptor) string {
	what := "text"
	switch {
	case isType(f, momentType):
		what = "a moment, like 2026-03-02T07:30:00Z"
	case isType(f, lengthType):
		what = "a length of time, like 4 min 30 s"
	case f.Kind() == protoreflect.EnumKind:
		what = wordsOf(f.Enum())
	case f.Kind() == protoreflect.BoolKind:
		what = "yes or no"
	case f.Kind() == protoreflect.DoubleKind:
		what = "a number"
		if _, unit, ok := strings.Cut(label(f, ""), "  "); ok {
			what += " of " + unit
		}
	case f.Kind() != protoreflect.StringKind:
		what = "a whole number, from 0"
	}
	if f.IsList() {
		what += "; once for each"
	}
	return what
}

// wordsOf lists the words of an enum: "bead or bed".
func wordsOf(d protoreflect.EnumDescriptor) string {
	var out []string
	for i := 1; i < d.Values().Len(); i++ {
		out = append(out, enumWord(d, d.Values().Get(i).Number()))
	}
	if n := len(out) - 1; n > 0 {
		return strings.Join(out[:n], ", ") + " or " + out[n]
	}
	return strings.Join(out, "")
}

// numberOf is the value of an enum's word; the unspecified one has none.
func numberOf(d protoreflect.EnumDescriptor, word string) (protoreflect.EnumNumber, bool) {
	for i := 1; i < d.Values().Len(); i++ {
		if n := d.Values().Get(i).Number(); enumWord(d, n) == word {
			return n, true
		}
	}
	return 0, false
}

// faults are the paths of what is wrong with a message.
func faults(err error) (paths []string) {
	if e, ok := errors.AsType[*fault.Error](err); ok {
		for _, f := range e.Fields {
			paths = append(paths, f.Path)
		}
	}
	return paths
}

// form is a fact being read from its fields.
type form struct {
	kind  factKind
	given map[string]bool // paths
}

// read makes the fact out of its fields. A correction begins with the fact
// that it corrects.
func (k factKind) read(ctx context.Context, c grpc.ClientConnInterface, fields []string) (proto.Message, error) {
	m, f := made(k.field.Message()), form{k, map[string]bool{}}
	var inner []string
	for _, text := range fields {
		name, _, ok := strings.Cut(text, "=")
		if !ok {
			return nil, fault.Bad("FIELD=VALUE", show(text), "a field, = and its value; the fields are "+k.fieldWords())
		}
		if rest, ok := strings.CutPrefix(text, "body."); ok && name != "body" {
			inner = append(inner, rest)
			continue
		}
		if err := f.take(m.ProtoReflect(), text, ""); err != nil {
			return nil, err
		}
	}
	if err := f.complete(m); err != nil {
		return nil, err
	}
	if len(inner) == 0 {
		return m, nil
	}
	return f.correct(ctx, c, m, inner)
}

// complete refuses a fact that lacks what must be told.
func (f form) complete(m proto.Message) error {
	var lacks []*fault.Error
	needed := f.kind.needed()
	for _, d := range toldFields(m.ProtoReflect().Descriptor()) {
		name := string(d.Name())
		if needed[name] && !f.given[name] && !m.ProtoReflect().Has(d) {
			what := "its fields"
			if !within(d) {
				what = kindWords(d)
			}
			lacks = append(lacks, fault.Bad(name, "missing", "give "+what))
		}
	}
	if len(lacks) > 0 {
		out := lacks[0].Join(lacks[1:]...)
		out.Hint = "the fields are listed by: seamwright tell " + f.kind.name()
		return out
	}
	return rpc.Check(m)
}

// take puts FIELD=VALUE into a message; at stands before the field in errors.
func (f form) take(m protoreflect.Message, text, at string) error {
	name, value, _ := strings.Cut(text, "=")
	path := strings.Split(strings.ReplaceAll(name, "-", "_"), ".")
	d, inner, err := find(m, path, at)
	if err != nil {
		return err
	}
	if d == nil {
		of := string(m.Descriptor().Name())
		return fault.Bad(show(at+name), "no field of "+strings.ReplaceAll(words(of), " ", "-"), "one of "+fieldsOf(m.Descriptor(), at))
	}
	full := at + strings.Join(path, ".")
	if err := f.once(inner, d, full); err != nil {
		return err
	}
	if value == "" && (d.HasPresence() || d.Kind() == protoreflect.StringKind || d.Kind() == protoreflect.EnumKind) {
		inner.Clear(d)
		return nil
	}
	v, err := parsed(d, full, value)
	if err != nil {
		return err
	}
	if d.IsList() {
		inner.Mutable(d).List().Append(v)
		return nil
	}
	inner.Set(d, v)
	return nil
}

// once refuses a field told twice, and the second of two that exclude each
// other. A list that is told anew replaces the one that stood.
func (f form) once(m protoreflect.Message, d protoreflect.FieldDescriptor, full string) error {
	if f.given[full] && !d.IsList() {
		return fault.Bad(full, "given twice", "each field once")
	}
	if !f.given[full] && d.IsList() {
		m.Clear(d)
	}
	if o := d.ContainingOneof(); o != nil && !o.IsSynthetic() {
		for i := range o.Fields().Len() {
			other := strings.TrimSuffix(full, string(d.Name())) + string(o.Fields().Get(i).Name())
			if other != full && f.given[other] {
				return fault.Bad(full, "beside "+other, "one of them")
			}
		}
	}
	f.given[full] = true
	f.given[strings.Split(full, ".")[0]] = true
	return nil
}

// find looks a field up by its path, and the message that it stands in; of a
// list of messages the number stands behind its name, from 1. Nil: there is no
// such field.
func find(m protoreflect.Message, path []string, at string) (protoreflect.FieldDescriptor, protoreflect.Message, error) {
	d := m.Descriptor().Fields().ByName(protoreflect.Name(path[0]))
	switch {
	case d == nil || serverWritten[d.Name()] || isAny(d):
		return nil, nil, nil
	case !within(d):
		if len(path) > 1 {
			return nil, nil, nil
		}
		return d, m, nil
	case !d.IsList():
		if len(path) == 1 {
			return nil, nil, nil
		}
		return find(m.Mutable(d).Message(), path[1:], at+path[0]+".")
	case len(path) < 3:
		return nil, nil, nil
	}
	list := m.Mutable(d).List()
	n, err := strconv.Atoi(path[1])
	if err != nil || n < 1 || n > list.Len()+1 {
		return nil, nil, fault.Bad(at+strings.Join(path, "."), show(path[1]), "a number from 1 to "+strconv.Itoa(list.Len()+1)+"; they are counted without a gap")
	}
	if n > list.Len() {
		list.AppendMutable()
	}
	return find(list.Get(n-1).Message(), path[2:], at+path[0]+"."+path[1]+".")
}

func fieldsOf(d protoreflect.MessageDescriptor, at string) string {
	var out []string
	for _, f := range leaves(d, at) {
		out = append(out, f.Field+" ("+f.Kind+")")
	}
	return strings.Join(out, ", ")
}

// parsed reads a value of a field's kind.
func parsed(d protoreflect.FieldDescriptor, full, text string) (v protoreflect.Value, err error) {
	want, _, _ := strings.Cut(kindWords(d), ";")
	switch {
	case isType(d, momentType):
		t, err := when(full, text)
		return protoreflect.ValueOfMessage(timestamppb.New(t).ProtoReflect()), err
	case isType(d, lengthType):
		l, err := quantity.ParseDuration(full, text, quantity.Limits[quantity.Duration]{Most: oldestTold})
		return protoreflect.ValueOfMessage(lengthOf(l).ProtoReflect()), err
	}
	bad := fault.Bad(full, show(text), want)
	switch d.Kind() {
	case protoreflect.StringKind:
		return protoreflect.ValueOfString(text), nil
	case protoreflect.EnumKind:
		n, ok := numberOf(d.Enum(), text)
		if !ok {
			return v, bad
		}
		return protoreflect.ValueOfEnum(n), nil
	case protoreflect.BoolKind:
		if !slices.Contains([]string{"yes", "no"}, text) {
			return v, bad
		}
		return protoreflect.ValueOfBool(text == "yes"), nil
	case protoreflect.DoubleKind:
		x, err := number(full, text, want)
		return protoreflect.ValueOfFloat64(x), err
	case protoreflect.Int32Kind, protoreflect.Uint64Kind:
		n, err := strconv.ParseUint(text, 10, 64)
		if err != nil || d.Kind() == protoreflect.Int32Kind && n > math.MaxInt32 {
			return v, bad
		}
		if d.Kind() == protoreflect.Int32Kind {
			return protoreflect.ValueOfInt32(int32(n)), nil
		}
		return protoreflect.ValueOfUint64(n), nil
	}
	return v, fault.New(fault.Internal, "field-kind", full+" is of a kind that cannot be typed", "tell it over gRPC")
}
