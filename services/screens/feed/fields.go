package feed

import (
	"fmt"
	"strconv"
	"time"

	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/durationpb"

	"seamwright/services/fault"
	"seamwright/services/floor"
)

// fields reads what a press carries. Every mistake is kept, so that one
// fault names them all, and a field that nobody read is one too: what a person
// typed is not dropped in silence.
type fields struct {
	m    map[string]string
	read map[string]bool
	bad  []*fault.Error
}

func newFields(m map[string]string) *fields { return &fields{m: m, read: map[string]bool{}} }

func (f *fields) fail(e *fault.Error) { f.bad = append(f.bad, e) }

// text is a field as it stands, empty when it was not sent.
func (f *fields) text(name string) string {
	f.read[name] = true
	return f.m[name]
}

// need is a field that must be there.
func (f *fields) need(name, what string) string {
	v := f.text(name)
	if v == "" {
		f.fail(fault.Bad(name, "nothing", what))
	}
	return v
}

// number reads a field within limits; nil when it was not sent.
func (f *fields) number(name string, low, high float64, unit string) *float64 {
	t := f.text(name)
	if t == "" {
		return nil
	}
	v, err := strconv.ParseFloat(t, 64)
	if err != nil || !(v >= low && v <= high) {
		f.fail(fault.Bad(name, t, fmt.Sprintf("%s to %s %s; correct the number", number(low), number(high), unit)))
		return nil
	}
	return &v
}

// minutes reads a length of time; nil when it was not sent.
func (f *fields) minutes(name string, most time.Duration) *durationpb.Duration {
	v := f.number(name, 0, most.Minutes(), "minutes")
	if v == nil {
		return nil
	}
	return durationpb.New(time.Duration(*v * float64(time.Minute)))
}

// yes reads a tick or a pick of yes and no.
func (f *fields) yes(name string) bool {
	switch v := f.need(name, "yes or no"); v {
	case "yes":
		return true
	case "no", "":
	default:
		f.fail(fault.Bad(name, v, "yes or no"))
	}
	return false
}

// word reads a word of the trade into its enum; unspecified when it was not
// sent.
func word[E protoreflect.Enum](f *fields, name string) E {
	t := f.text(name)
	e := floor.Enum[E](t)
	if t != "" && e.Number() == 0 {
		f.fail(fault.Bad(name, t, "a word of the list; pick one"))
	}
	return e
}

// done is the fault of all that was wrong; nil when nothing was.
func (f *fields) done() error {
	for _, name := range sortedNames(f.m) {
		if !f.read[name] && f.m[name] != "" {
			f.fail(fault.Bad(name, f.m[name], "is not kept with this fact; tell it in words to the foreman"))
		}
	}
	if len(f.bad) == 0 {
		return nil
	}
	return f.bad[0].Join(f.bad[1:]...)
}
