// Package fault holds the one error type of the project.
//
// An error that a person may read says three things: the value that was
// wrong, the limit that it broke and what to do next. Shells map the kind to
// a gRPC status, an HTTP status or an exit status; nothing else is decided
// by looking at an error's text.
package fault

import (
	"errors"
	"fmt"
	"strings"
)

// Kind says what class of trouble an error is.
type Kind uint8

// The zero Kind is Internal, so that an error nobody classified is never
// taken for the caller's mistake.
const (
	Internal    Kind = iota // a defect or broken surroundings: the text goes to the log only
	Invalid                 // ill-formed input: name the field, the value, the limit
	NotFound                // a thing that was named does not exist
	Conflict                // the floor moved on: read again and decide again
	Refused                 // a permission was refused; the fact, if any, was still recorded
	Denied                  // this person or terminal may not do it
	Unavailable             // try again later: store, bus or follower is not there
	Exists                  // the same identifier is already in use for something else
	Corrupt                 // stored bytes are not what was acknowledged
	Cancelled               // the caller went away
)

var kindNames = [...]string{
	"internal", "invalid", "not-found", "conflict", "refused",
	"denied", "unavailable", "exists", "corrupt", "cancelled",
}

// String returns the kind's name as used in logs and error details.
func (k Kind) String() string {
	if int(k) < len(kindNames) {
		return kindNames[k]
	}
	return fmt.Sprintf("kind-%d", uint8(k))
}

// ParseKind is the inverse of Kind.String; an unknown name is Internal.
func ParseKind(s string) Kind {
	for i, n := range kindNames {
		if n == s {
			return Kind(i)
		}
	}
	return Internal
}

// Field is what was wrong with one field of the input.
type Field struct {
	Path  string // where: "seam.length_mm", "products/a.yaml:12"
	Value string // what stood there
	Limit string // what is allowed
}

// Error is the project's error. Reason is a short stable identifier
// (kebab-case) that programs may compare; Message and Hint are for people.
type Error struct {
	Kind    Kind
	Reason  string
	Message string
	Hint    string
	Fields  []Field
	cause   error
}

// New makes an error of a kind. The message names the value and the limit,
// the hint says what to do next and may be empty.
func New(kind Kind, reason, message, hint string) *Error {
	return &Error{Kind: kind, Reason: reason, Message: message, Hint: hint}
}

// Bad makes an Invalid error about one field in the form
// "field: value: limit".
func Bad(path string, value any, limit string) *Error {
	v := fmt.Sprint(value)
	return &Error{
		Kind: Invalid, Reason: "bad-field",
		Message: fmt.Sprintf("%s: %s: %s", path, v, limit),
		Fields:  []Field{{Path: path, Value: v, Limit: limit}},
	}
}

// Missing makes a NotFound error: what was looked for, under which name.
func Missing(what, id, hint string) *Error {
	return &Error{
		Kind: NotFound, Reason: what + "-not-found",
		Message: fmt.Sprintf("%s %q is not known", what, id), Hint: hint,
	}
}

// Wrap gives an outside error a kind and a reason; its text is kept.
func Wrap(err error, kind Kind, reason, hint string) *Error {
	return &Error{Kind: kind, Reason: reason, Message: err.Error(), Hint: hint, cause: err}
}

// Join adds the fields of others to e, for input with several mistakes.
func (e *Error) Join(others ...*Error) *Error {
	for _, o := range others {
		e.Fields = append(e.Fields, o.Fields...)
		e.Message += "; " + o.Message
	}
	return e
}

// Error renders message and hint on one line.
func (e *Error) Error() string {
	if e.Hint == "" {
		return e.Message
	}
	return strings.TrimSuffix(e.Message, ".") + "; " + e.Hint
}

// Unwrap gives the outside error that this one was made from, if any.
func (e *Error) Unwrap() error { return e.cause }

// KindOf classifies any error: nil has no kind and must not be asked about,
// an error that is not ours is Internal.
func KindOf(err error) Kind {
	if e, ok := errors.AsType[*Error](err); ok {
		return e.Kind
	}
	return Internal
}

// Is reports whether err is a fault with that reason.
func Is(err error, reason string) bool {
	e, ok := errors.AsType[*Error](err)
	return ok && e.Reason == reason
}

// ReasonOf is the reason of an error; empty for one that is not ours.
func ReasonOf(err error) string {
	if e, ok := errors.AsType[*Error](err); ok {
		return e.Reason
	}
	return ""
}

// Because is Wrap with a message of its own: what an outside error means here.
func Because(err error, kind Kind, reason, message, hint string) *Error {
	return &Error{Kind: kind, Reason: reason, Message: message, Hint: hint, cause: err}
}
