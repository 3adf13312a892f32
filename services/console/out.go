package console

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"time"

	"seamwright/services/fault"
)

// Out is where a command's answer goes.
type Out struct {
	W    io.Writer
	JSON bool
}

// answer is what a command found out. Marshalled it is the JSON form; Lines
// is the form for people.
type answer interface {
	Lines() []string
}

// put writes an answer in the form that was asked for.
func (o Out) put(a answer) error {
	if o.JSON {
		enc := json.NewEncoder(o.W)
		enc.SetEscapeHTML(false)
		enc.SetIndent("", "  ")
		if err := enc.Encode(a); err != nil {
			return fault.Wrap(err, fault.Internal, "answer", "")
		}
		return nil
	}
	return o.lines(a.Lines()...)
}

func (o Out) lines(lines ...string) error {
	for _, l := range lines {
		if _, err := fmt.Fprintln(o.W, l); err != nil {
			return fault.Wrap(err, fault.Unavailable, "output", "")
		}
	}
	return nil
}

// Exit statuses of the program.
const (
	ExitOK      = 0
	ExitTrouble = 1 // the shop's program or its surroundings
	ExitRefused = 2 // what was asked or given is not well formed, or not there
	ExitNoPlace = 3 // a plan was told, but a load has no place in it
	ExitHold    = 4 // a gate was read and holds
	ExitOver    = 5 // a gate was read and is under a foreman's override
)

// Explain gives the one line that an error is told in and the exit status.
func Explain(err error) (line string, status int) {
	line = strings.Join(strings.Fields(err.Error()), " ")
	switch fault.ReasonOf(err) {
	case reasonNoPlace:
		return line, ExitNoPlace
	case reasonHolds:
		return line, ExitHold
	case reasonOverridden:
		return line, ExitOver
	}
	switch fault.KindOf(err) {
	case fault.Invalid, fault.NotFound, fault.Refused, fault.Denied, fault.Exists:
		return line, ExitRefused
	}
	return line, ExitTrouble
}

// stamp is a moment in an answer: UTC to the millisecond, or null.
func stamp(t time.Time) *string {
	if t.IsZero() {
		return nil
	}
	s := moment(t)
	return &s
}

// moment prints a moment in UTC to the millisecond.
func moment(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000Z07:00") }

// list keeps an empty list from becoming null.
func list[T any](in []T) []T {
	if in == nil {
		return []T{}
	}
	return in
}
