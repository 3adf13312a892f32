package floor

import (
	"strings"
	"sync"
	"time"

	"google.golang.org/protobuf/reflect/protoreflect"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/spec"
)

// The words of the protos and of package spec are the same words: an enum
// value is its word in capitals behind the enum's name. enumWord gives "" for
// the unspecified value.
func enumWord[E protoreflect.Enum](e E) string {
	if e.Number() == 0 {
		return ""
	}
	return wordsOf(e.Descriptor())[e.Number()]
}

// enumWords keeps the words of each enum by number, since every fact of a
// seam asks for some each time that the seam is folded.
var enumWords sync.Map // protoreflect.FullName: map[protoreflect.EnumNumber]string

func wordsOf(d protoreflect.EnumDescriptor) map[protoreflect.EnumNumber]string {
	if ws, ok := enumWords.Load(d.FullName()); ok {
		return ws.(map[protoreflect.EnumNumber]string)
	}
	ws, prefix := map[protoreflect.EnumNumber]string{}, enumPrefix(d)
	for i := range d.Values().Len() {
		v := d.Values().Get(i)
		ws[v.Number()] = strings.ToLower(strings.ReplaceAll(strings.TrimPrefix(string(v.Name()), prefix), "_", "-"))
	}
	enumWords.Store(d.FullName(), ws)
	return ws
}

// enumPrefix is the part that all of an enum's value names begin with: the
// zero value's name without UNSPECIFIED.
func enumPrefix(d protoreflect.EnumDescriptor) string {
	return strings.TrimSuffix(string(d.Values().ByNumber(0).Name()), "UNSPECIFIED")
}

// wordEnum is the inverse of enumWord; an unknown word is unspecified.
func wordEnum[E protoreflect.Enum](word string) E {
	var zero E
	d := zero.Descriptor()
	name := enumPrefix(d) + strings.ToUpper(strings.ReplaceAll(word, "-", "_"))
	v := d.Values().ByName(protoreflect.Name(name))
	if v == nil {
		return zero
	}
	return zero.Type().New(v.Number()).(E)
}

// Word is the trade's word for an enum value of the protos, "bare-steel";
// empty for the unspecified value.
func Word[E protoreflect.Enum](e E) string { return enumWord(e) }

// Enum is the enum value of a word; unspecified when there is none.
func Enum[E protoreflect.Enum](word string) E { return wordEnum[E](word) }

func substrateOf(s floorv1.Substrate) spec.Substrate {
	if s == floorv1.Substrate_SUBSTRATE_UNSPECIFIED {
		return spec.SubstrateUnknown
	}
	return spec.Substrate(enumWord(s))
}

func labOf(l *floorv1.Lab) *spec.Lab {
	if l == nil {
		return nil
	}
	return &spec.Lab{L: l.GetL(), A: l.GetA(), B: l.GetB()}
}

// ul is a volume in whole microlitres: sums of them are exact.
type ul int64

func toUL(ml float64) ul { return ul(ml*1000 + 0.5) }

// ML is the volume in millilitres.
func (v ul) ML() float64 { return float64(v) / 1000 }

func minutes(m float64) time.Duration { return time.Duration(m * float64(time.Minute)) }
