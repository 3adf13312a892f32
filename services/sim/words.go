package sim

import (
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"
)

// term is the trade's word of an enum value of the contract, its name behind
// the enum's own: PROFILE_RIBBON is "ribbon". Empty when nothing is said.
func term[E protoreflect.Enum](e E) string {
	v := e.Descriptor().Values().ByNumber(e.Number())
	if v == nil || e.Number() == 0 {
		return ""
	}
	return strings.ToLower(strings.ReplaceAll(strings.TrimPrefix(string(v.Name()), enumOf(e)), "_", "-"))
}

// valued is the enum value of a word; the zero value when there is none.
func valued[E interface {
	~int32
	protoreflect.Enum
}](word string) E {
	var zero E
	name := enumOf(zero) + strings.ToUpper(strings.ReplaceAll(word, "-", "_"))
	if v := zero.Descriptor().Values().ByName(protoreflect.Name(name)); v != nil {
		return E(v.Number())
	}
	return zero
}

// enumOf is what all names of an enum's values begin with.
func enumOf[E protoreflect.Enum](e E) string {
	return strings.TrimSuffix(string(e.Descriptor().Values().ByNumber(0).Name()), "UNSPECIFIED")
}
