package floortest

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/durationpb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/floor"
)

// Retell makes the command that a recorded fact was told with; false for an
// event that is no fact. A fact whose terminal's clock had jumped is told as a
// claim.
func Retell(ev floor.Event) (floor.Command, bool) {
	if ev.Body.ProtoReflect().Descriptor().Fields().ByName("assessment") == nil {
		return floor.Command{}, false
	}
	st := &floorv1.Stamp{
		CommandId: ev.CommandID, Actor: ev.Actor, Role: floor.Enum[floorv1.Role](string(ev.Role)), Terminal: ev.Terminal,
		Age: &floorv1.Age{Kind: floor.Enum[floorv1.AgeKind](string(ev.AgeKind))},
	}
	switch ev.AgeKind {
	case floor.AgeLive:
	case floor.AgeUncertain:
		st.Age.Kind = floorv1.AgeKind_AGE_KIND_CLAIMED
		fallthrough
	default:
		st.Age.Length = durationpb.New(ev.Received.Sub(ev.Occurred))
	}
	body := proto.Clone(ev.Body)
	bare(body.ProtoReflect())
	return floor.Command{Stamp: st, Body: body}, true
}

// bare takes out what only the floor writes.
func bare(m protoreflect.Message) {
	m.Range(func(f protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		switch {
		case f.Name() == "assessment" || f.Name() == "planned_ml":
			m.Clear(f)
		case f.IsList() && f.Message() != nil:
			for i := range v.List().Len() {
				bare(v.List().Get(i).Message())
			}
		}
		return true
	})
}

// Reach is what floor.Reach is: a way to tell which keys a decided event
// reads and writes.
type Reach func(f *floor.Floor, ev floor.Event) (reads, writes []string, alone bool)

// Told is a command and the moment at which it is heard.
type Told struct {
	floor.Command
	At time.Time
}

// Fold applies events to a new floor, which does not change them.
func Fold(events []floor.Event) (*floor.Floor, error) {
	f := floor.New()
	for _, ev := range events {
		if err := f.Apply(ev); err != nil {
			return nil, fmt.Errorf("event %d: %w", ev.Seq, err)
		}
	}
	return f, nil
}

// decided is a command as it comes out on one floor.
type decided struct {
	ev            floor.Event
	reads, writes []string
	alone         bool
	body          []byte
}

// decide decides as a writer would: at the moment given, on the floor as it
// stands. It is nothing when the floor refuses the command.
func (reach Reach) decide(f *floor.Floor, c Told, at time.Time) (d decided, ok bool) {
	ev, err := f.Decide(c.Command, at)
	if err != nil {
		return d, false
	}
	d.ev = ev
	d.body, err = proto.MarshalOptions{Deterministic: true}.Marshal(ev.Body)
	if err != nil {
		return d, false
	}
	d.reads, d.writes, d.alone = reach(f, ev)
	return d, true
}

// meets reports whether one list of keys has a key of another.
func meets(a, b []string) bool {
	return slices.ContainsFunc(a, func(k string) bool { return slices.Contains(b, k) })
}

// Before puts commands before others: each of first is decided and applied on
// a floor of the events, and then each of then is decided, on the floor with
// them and on one without. Where reach says that none of first matters to it,
// both must come out alike. It counts such pairs by their types, and says
// what is not alike.
func (reach Reach) Before(events []floor.Event, first, then []Told, count map[string]int) (wrong []string, err error) {
	plain, err := Fold(events)
	if err != nil {
		return nil, err
	}
	grown, err := Fold(events)
	if err != nil {
		return nil, err
	}
	at := plain.Last()
	var done []decided
	for _, a := range first {
		at = latest(at, a.At)
		d, ok := reach.decide(plain, a, at)
		if !ok || d.alone || slices.ContainsFunc(done, func(o decided) bool { return meets(o.writes, d.reads) }) {
			continue
		}
		done = append(done, d)
		d.ev.Seq, d.ev.Body = grown.Seq()+1, proto.Clone(d.ev.Body)
		if err := grown.Apply(d.ev); err != nil {
			return nil, err
		}
		for _, b := range then {
			now := latest(at, b.At)
			want, ok := reach.decide(plain, b, now)
			if !ok || want.alone || b.Stamp.GetCommandId() == a.Stamp.GetCommandId() ||
				slices.ContainsFunc(done, func(o decided) bool { return meets(o.writes, want.reads) }) {
				continue
			}
			count[name(a)+" before "+name(b)]++
			got, ok := reach.decide(grown, b, now)
			if !ok || !bytes.Equal(got.body, want.body) || got.ev.Header != want.ev.Header || got.ev.Aggregate != want.ev.Aggregate {
				wrong = append(wrong, fmt.Sprintf("%s (writes %v) before %s (reads %v): decided\n  %v\nwithout it\n  %v",
					name(a), d.writes, name(b), want.reads, got.ev.Body, want.ev.Body))
			}
		}
	}
	return wrong, nil
}

func latest(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

func name(c Told) string { return string(c.Body.ProtoReflect().Descriptor().Name()) }

// BothWays applies two commands that do not meet at all in both orders, and
// compares the floors that come of it: they are the same but for the numbers
// of the two. False: they meet, and nothing was compared.
func (reach Reach) BothWays(events []floor.Event, a, b Told) (compared bool, wrong string, err error) {
	f, err := Fold(events)
	if err != nil {
		return false, "", err
	}
	at := latest(f.Last(), latest(a.At, b.At))
	x, okX := reach.decide(f, a, at)
	y, okY := reach.decide(f, b, at)
	if !okX || !okY || x.alone || y.alone || a.Stamp.GetCommandId() == b.Stamp.GetCommandId() ||
		meets(x.writes, y.reads) || meets(x.reads, y.writes) || meets(x.writes, y.writes) {
		return false, "", nil
	}
	one, err := canonicalOf(events, x.ev, y.ev)
	if err != nil {
		return false, "", err
	}
	other, err := canonicalOf(events, y.ev, x.ev)
	if err != nil {
		return false, "", err
	}
	n := f.Seq() + 1
	only := without(one, other)
	swapped := make([]string, 0, len(only))
	for _, l := range without(other, one) {
		swapped = append(swapped, swap(l, fmt.Sprint(n), fmt.Sprint(n+1)))
	}
	slices.Sort(only)
	slices.Sort(swapped)
	if !slices.Equal(only, swapped) {
		wrong = fmt.Sprintf("%s and %s:\none way\n  %s\nthe other\n  %s", name(a), name(b), strings.Join(only, "\n  "), strings.Join(swapped, "\n  "))
	}
	return true, wrong, nil
}

// canonicalOf is the canonical form of a floor with two more events, in lines.
func canonicalOf(events []floor.Event, more ...floor.Event) ([]string, error) {
	f, err := Fold(events)
	if err != nil {
		return nil, err
	}
	for _, ev := range more {
		ev.Seq, ev.Body = f.Seq()+1, proto.Clone(ev.Body)
		if err := f.Apply(ev); err != nil {
			return nil, err
		}
	}
	var b strings.Builder
	f.Canonical(&b)
	return strings.Split(b.String(), "\n"), nil
}

// without lists the lines that another list does not have.
func without(lines, other []string) []string {
	has := map[string]bool{}
	for _, l := range other {
		has[l] = true
	}
	return slices.DeleteFunc(slices.Clone(lines), func(l string) bool { return has[l] })
}

// swap exchanges two numbers in a line, where they stand as words and not in
// a text.
func swap(line, a, b string) string {
	parts := strings.Split(line, `"`)
	for i := 0; i < len(parts); i += 2 {
		parts[i] = swapWords(parts[i], a, b)
	}
	return strings.Join(parts, `"`)
}

func swapWords(line, a, b string) string {
	word := func(c rune) bool { return c >= '0' && c <= '9' }
	var out strings.Builder
	for len(line) > 0 {
		n := strings.IndexFunc(line, func(c rune) bool { return !word(c) })
		switch {
		case n < 0:
			n = len(line)
		case n == 0:
			n = 1
		}
		switch w := line[:n]; w {
		case a:
			out.WriteString(b)
		case b:
			out.WriteString(a)
		default:
			out.WriteString(w)
		}
		line = line[n:]
	}
	return out.String()
}
