package console

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/anypb"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/floor"
)

// lateAfter is how long after a fact its telling is worth a word.
const lateAfter = time.Minute

// entryLines says an event as a foreman reads it: when, what happened to
// which thing, who said so; then what was wrong about it.
func entryLines(e *floorv1.Entry, body proto.Message) []string {
	thing := strings.Replace(typed(e.GetAggregate()), ".", " ", 1)
	thing = strings.ReplaceAll(thing, ".", "/")
	line := fmt.Sprintf("%s  #%d  %s: %s", moment(e.GetOccurred().AsTime()), e.GetSequence(), thing, words(string(body.ProtoReflect().Descriptor().Name())))
	if d := details(body.ProtoReflect(), e.GetAggregate()); len(d) > 0 {
		line += ", " + strings.Join(d, ", ")
	}
	line += "  (" + typed(e.GetActor())
	if e.GetTerminal() != "" {
		line += " at " + typed(e.GetTerminal())
	}
	if late := e.GetReceived().AsTime().Sub(e.GetOccurred().AsTime()); late > lateAfter {
		line += ", " + oneLine(e.GetAgeKind()) + " " + late.Round(time.Second).String() + " later"
	}
	out := []string{line + ")"}
	if a, ok := body.(interface{ GetAssessment() *floorv1.Assessment }); ok {
		for _, f := range a.GetAssessment().GetFindings() {
			out = append(out, findingLine(f))
		}
		for _, id := range a.GetAssessment().GetLapsed() {
			out = append(out, "    no longer holds: finding "+oneLine(id))
		}
	}
	if r, ok := body.(interface{ GetFinding() *floorv1.Finding }); ok {
		out = append(out, findingLine(r.GetFinding()))
	}
	return out
}

func findingLine(f *floorv1.Finding) string {
	return fmt.Sprintf("    %s: %s", floor.Word(f.GetSeverity()), oneLine(f.GetReason()))
}

// words splits a type's name: BeadLaid is "bead laid".
func words(name string) string {
	var b strings.Builder
	for i, r := range name {
		if unicode.IsUpper(r) && i > 0 {
			b.WriteByte(' ')
		}
		b.WriteRune(unicode.ToLower(r))
	}
	return b.String()
}

// units are the endings of field names that are units.
var units = map[string]string{
	"mm": "mm", "ml": "ml", "c": "°C", "min": "min", "percent": "%", "days": "days", "mol": "kJ/mol",
}

// details says the fields that are set, in the order of the contract: "layer
// bead, volume 47 ml". What stands in the thing's own name is left out.
func details(m protoreflect.Message, aggregate string) []string {
	var out []string
	fields := m.Descriptor().Fields()
	for i := range fields.Len() {
		fd := fields.Get(i)
		if !m.Has(fd) || fd.Name() == "assessment" || fd.Name() == "finding" {
			continue
		}
		v := value(fd, m.Get(fd))
		if v == "" || fd.Kind() == protoreflect.StringKind && !fd.IsList() && strings.HasSuffix("."+aggregate, "."+strings.ReplaceAll(v, "/", ".")) {
			continue
		}
		out = append(out, label(fd, v))
	}
	return out
}

// label puts a field's name before its value and its unit behind.
func label(fd protoreflect.FieldDescriptor, v string) string {
	name := strings.TrimSuffix(strings.TrimSuffix(string(fd.Name()), "_id"), "_ids")
	if rate, ok := strings.CutSuffix(name, "_c_per_min"); ok {
		name, v = rate, v+" K/min"
	}
	parts := strings.Split(name, "_")
	if u, ok := units[parts[len(parts)-1]]; ok && len(parts) > 1 && fd.Kind() == protoreflect.DoubleKind {
		parts, v = parts[:len(parts)-1], v+" "+u
	}
	if fd.Kind() == protoreflect.BoolKind {
		return strings.Join(parts, " ")
	}
	return strings.Join(parts, " ") + " " + v
}

func value(fd protoreflect.FieldDescriptor, v protoreflect.Value) string {
	if fd.IsList() {
		return listValue(fd, v.List())
	}
	switch fd.Kind() {
	case protoreflect.EnumKind:
		return enumWord(fd.Enum(), v.Enum())
	case protoreflect.DoubleKind:
		return strconv.FormatFloat(v.Float(), 'f', -1, 64)
	case protoreflect.MessageKind:
		return messageValue(v.Message())
	case protoreflect.StringKind:
		return show(v.String())
	}
	return v.String()
}

// listValue lists identifiers and words, and counts what is longer.
func listValue(fd protoreflect.FieldDescriptor, l protoreflect.List) string {
	if fd.Kind() == protoreflect.MessageKind || l.Len() > 8 {
		return strconv.Itoa(l.Len())
	}
	items := make([]string, l.Len())
	for i := range items {
		switch fd.Kind() {
		case protoreflect.EnumKind:
			items[i] = enumWord(fd.Enum(), l.Get(i).Enum())
		default:
			items[i] = show(l.Get(i).String())
		}
	}
	return strings.Join(items, " ")
}

func messageValue(m protoreflect.Message) string {
	switch x := m.Interface().(type) {
	case *timestamppb.Timestamp:
		return moment(x.AsTime())
	case *durationpb.Duration:
		return x.AsDuration().String()
	case *anypb.Any:
		return packed(x)
	}
	if inner := details(m, ""); len(inner) > 0 && len(inner) <= 8 {
		return "(" + strings.Join(inner, ", ") + ")"
	}
	return ""
}

// packed says the fact that stands within a correction.
func packed(x *anypb.Any) string {
	m, err := x.UnmarshalNew()
	if err != nil {
		return "of a type that this program does not know"
	}
	inner := append([]string{words(string(m.ProtoReflect().Descriptor().Name()))}, details(m.ProtoReflect(), "")...)
	return "(" + strings.Join(inner, ", ") + ")"
}

// enumWord is the trade's word of an enum value: its name behind the enum's.
func enumWord(d protoreflect.EnumDescriptor, n protoreflect.EnumNumber) string {
	v := d.Values().ByNumber(n)
	if v == nil {
		return strconv.Itoa(int(n))
	}
	prefix := strings.TrimSuffix(string(d.Values().ByNumber(0).Name()), "UNSPECIFIED")
	return strings.ToLower(strings.ReplaceAll(strings.TrimPrefix(string(v.Name()), prefix), "_", "-"))
}
