package rpc_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"pgregory.net/rapid"

	"seamwright/services/fault"
	"seamwright/services/rpc"
)

var same = cmpopts.IgnoreUnexported(fault.Error{})

// Every kind but internal comes over the wire as it went in.
func TestFaultsRoundTrip(t *testing.T) {
	codesOf := map[codes.Code]fault.Kind{}
	for kind := fault.Internal; kind <= fault.Cancelled; kind++ {
		in := &fault.Error{
			Kind: kind, Reason: "lot-expired", Message: "lot L-204 expired 3 days ago", Hint: "scan another cartridge",
			Fields: []fault.Field{{Path: "bead_laid.volume_ml", Value: "-1", Limit: "at least 0"}, {Path: "stamp.age", Value: "", Limit: "must be there"}},
		}
		s := rpc.ToStatus(fmt.Errorf("while deciding: %w", in))
		if before, twice := codesOf[s.Code()]; twice {
			t.Errorf("%s and %s share the code %s", before, kind, s.Code())
		}
		codesOf[s.Code()] = kind
		out := rpc.FromStatus(s)
		if kind == fault.Internal {
			if out.Kind != fault.Internal || strings.Contains(out.Error(), "L-204") || strings.Contains(s.String(), "L-204") {
				t.Errorf("an internal fault told its text: %v", s)
			}
			continue
		}
		if diff := cmp.Diff(in, out, same); diff != "" {
			t.Errorf("%s (-in +out):\n%s", kind, diff)
		}
	}
	if len(codesOf) < 10 {
		t.Errorf("only %d kinds were tried", len(codesOf))
	}
}

func TestAnyFaultRoundTrips(t *testing.T) {
	text := rapid.StringMatching(`[ -~äß°]{0,60}`)
	rapid.Check(t, func(t *rapid.T) {
		in := &fault.Error{
			Kind:    fault.Kind(rapid.IntRange(int(fault.Invalid), int(fault.Cancelled)).Draw(t, "kind")),
			Reason:  rapid.StringMatching(`[a-z][a-z0-9]{0,8}(-[a-z0-9]{1,8}){0,3}`).Draw(t, "reason"),
			Message: text.Draw(t, "message"), Hint: text.Draw(t, "hint"),
		}
		for range rapid.IntRange(0, 3).Draw(t, "fields") {
			in.Fields = append(in.Fields, fault.Field{Path: text.Draw(t, "path"), Value: text.Draw(t, "value"), Limit: text.Draw(t, "limit")})
		}
		if diff := cmp.Diff(in, rpc.FromStatus(rpc.ToStatus(in)), same); diff != "" {
			t.Fatal(diff)
		}
	})
}

func TestOutsideErrorsGetAKind(t *testing.T) {
	for _, c := range []struct {
		err  error
		code codes.Code
		kind fault.Kind
	}{
		{errors.New("dsn=secret"), codes.Internal, fault.Internal},
		{context.Canceled, codes.Canceled, fault.Cancelled},
		{fmt.Errorf("wait: %w", context.DeadlineExceeded), codes.Unavailable, fault.Unavailable},
		{status.Error(codes.ResourceExhausted, "too large"), codes.Unavailable, fault.Unavailable},
	} {
		s := rpc.ToStatus(c.err)
		if s.Code() != c.code || rpc.FromStatus(s).Kind != c.kind {
			t.Errorf("%v became %s, %s; want %s, %s", c.err, s.Code(), rpc.FromStatus(s).Kind, c.code, c.kind)
		}
		if strings.Contains(s.Message(), "secret") {
			t.Errorf("the text of an unknown error went out: %s", s.Message())
		}
	}
}

func TestTextThatTheWireDoesNotTakeIsMadeFit(t *testing.T) {
	in := fault.Bad("place", "roof\xff"+strings.Repeat("x", 5000), "at most 80 bytes")
	s := rpc.ToStatus(in)
	out := rpc.FromStatus(s)
	if out.Kind != fault.Invalid || len(out.Fields) != 1 || !strings.HasPrefix(out.Fields[0].Value, "roof\uFFFD") || len(s.Message()) > 1100 {
		t.Errorf("got %d bytes, %d fields: %v", len(s.Message()), len(out.Fields), out.Kind)
	}
}
