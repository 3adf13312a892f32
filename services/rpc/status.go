package rpc

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/protoadapt"

	"seamwright/services/fault"
)

// domain stands in each ErrorInfo: whose reasons they are.
const domain = "seamwright"

// neutral is all that a caller learns of an internal error.
const neutral = "something went wrong inside the shop's program; its log has the details"

// Keys of the metadata in ErrorInfo.
const (
	metaKind  = "kind"
	metaHint  = "hint"
	metaValue = "value_" // and the number of the field
)

// maxText keeps a status within what transports take in a header.
const maxText = 1000

var toCode = map[fault.Kind]codes.Code{
	fault.Internal:    codes.Internal,
	fault.Invalid:     codes.InvalidArgument,
	fault.NotFound:    codes.NotFound,
	fault.Conflict:    codes.Aborted,
	fault.Refused:     codes.FailedPrecondition,
	fault.Denied:      codes.PermissionDenied,
	fault.Unavailable: codes.Unavailable,
	fault.Exists:      codes.AlreadyExists,
	fault.Corrupt:     codes.DataLoss,
	fault.Cancelled:   codes.Canceled,
}

// toKind reads a status that was not made by ToStatus: by the library, a
// proxy, another program.
var toKind = map[codes.Code]fault.Kind{
	codes.Canceled:           fault.Cancelled,
	codes.InvalidArgument:    fault.Invalid,
	codes.OutOfRange:         fault.Invalid,
	codes.DeadlineExceeded:   fault.Unavailable,
	codes.NotFound:           fault.NotFound,
	codes.AlreadyExists:      fault.Exists,
	codes.PermissionDenied:   fault.Denied,
	codes.Unauthenticated:    fault.Denied,
	codes.ResourceExhausted:  fault.Unavailable,
	codes.FailedPrecondition: fault.Refused,
	codes.Aborted:            fault.Conflict,
	codes.Unavailable:        fault.Unavailable,
	codes.DataLoss:           fault.Corrupt,
}

// asFault classifies any error. One that nobody classified is internal.
func asFault(err error) *fault.Error {
	if e, ok := errors.AsType[*fault.Error](err); ok {
		return e
	}
	if errors.Is(err, context.DeadlineExceeded) {
		return fault.Because(err, fault.Unavailable, "deadline", late, lateHint)
	}
	if errors.Is(err, context.Canceled) {
		return fault.Wrap(err, fault.Cancelled, "cancelled", "")
	}
	if s, ok := status.FromError(err); ok {
		return FromStatus(s)
	}
	return fault.Wrap(err, fault.Internal, "internal", "")
}

// ToStatus makes the wire form of an error: the code of its kind, its message,
// an ErrorInfo with reason, kind and hint, and for wrong fields a BadRequest.
// An internal error keeps its text to itself.
func ToStatus(err error) *status.Status {
	e := asFault(err)
	if e.Kind == fault.Internal {
		e = fault.New(fault.Internal, "internal", neutral, "")
	}
	info := &errdetails.ErrorInfo{
		Reason: upperSnake(e.Reason), Domain: domain,
		Metadata: map[string]string{metaKind: e.Kind.String()},
	}
	if e.Hint != "" {
		info.Metadata[metaHint] = clean(e.Hint)
	}
	details := []protoadapt.MessageV1{info}
	if len(e.Fields) > 0 {
		bad := &errdetails.BadRequest{}
		for i, f := range e.Fields {
			bad.FieldViolations = append(bad.FieldViolations, &errdetails.BadRequest_FieldViolation{Field: clean(f.Path), Description: clean(f.Limit)})
			info.Metadata[fmt.Sprint(metaValue, i)] = clean(f.Value)
		}
		details = append(details, bad)
	}
	code := toCode[e.Kind]
	if e.Reason == ReasonTooManyCalls {
		code = codes.ResourceExhausted
	}
	s := status.New(code, clean(e.Message))
	if with, err := s.WithDetails(details...); err == nil {
		return with
	}
	return s
}

// What is said when a call ran out of time, on either side.
const (
	late     = "the shop did not get done in time"
	lateHint = "look at its gate and its log: its disk or its journal may be the trouble; a fact that is told again with the id that it had counts once"
)

// FromStatus makes the fault again. A status of another program becomes a
// fault by its code, with the reason "grpc-<code>".
func FromStatus(s *status.Status) *fault.Error {
	e := &fault.Error{Kind: toKind[s.Code()], Reason: "grpc-" + strings.ToLower(s.Code().String()), Message: s.Message()}
	var values map[string]string
	for _, d := range s.Details() {
		switch d := d.(type) {
		case *errdetails.ErrorInfo:
			if d.Domain != domain {
				continue
			}
			values = d.Metadata
			e.Kind, e.Reason, e.Hint = fault.ParseKind(values[metaKind]), lowerKebab(d.Reason), values[metaHint]
		case *errdetails.BadRequest:
			for i, v := range d.FieldViolations {
				e.Fields = append(e.Fields, fault.Field{Path: v.Field, Value: values[fmt.Sprint(metaValue, i)], Limit: v.Description})
			}
		}
	}
	return e
}

// upperSnake writes a reason as ErrorInfo wants it: bad-field, BAD_FIELD.
func upperSnake(reason string) string {
	return strings.ToUpper(strings.ReplaceAll(clean(reason), "-", "_"))
}

func lowerKebab(reason string) string {
	return strings.ToLower(strings.ReplaceAll(reason, "_", "-"))
}

// clean makes text fit for the wire: valid UTF-8, not endless.
func clean(s string) string {
	s = strings.ToValidUTF8(s, "\uFFFD")
	if len(s) <= maxText {
		return s
	}
	return strings.ToValidUTF8(s[:maxText], "") + "…"
}
