package fault_test

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"seamwright/services/fault"
)

func TestKindNamesRoundTrip(t *testing.T) {
	seen := map[string]bool{}
	for k := fault.Internal; k <= fault.Cancelled; k++ {
		name := k.String()
		if strings.HasPrefix(name, "kind-") || seen[name] {
			t.Errorf("kind %d is called %q: want a name of its own", k, name)
		}
		seen[name] = true
		if got := fault.ParseKind(name); got != k {
			t.Errorf("ParseKind(%q) = %v, want %v", name, got, k)
		}
	}
	if got := fault.ParseKind("no such kind"); got != fault.Internal {
		t.Errorf("an unknown name is %v, want internal: never taken for the caller's mistake", got)
	}
}

func TestKindOfAndIsSeeThroughWrapping(t *testing.T) {
	err := fmt.Errorf("import: %w", fault.Missing("lot", "L204", "receive it first"))
	if fault.KindOf(err) != fault.NotFound || !fault.Is(err, "lot-not-found") {
		t.Errorf("%v is %v: want not-found with reason lot-not-found", err, fault.KindOf(err))
	}
	if got := fault.KindOf(io.EOF); got != fault.Internal {
		t.Errorf("an error that is not ours is %v, want internal", got)
	}
	if fault.Is(io.EOF, "lot-not-found") {
		t.Error("an error that is not ours has no reason")
	}
	if wrapped := fault.Wrap(io.EOF, fault.Unavailable, "store", "try again"); !errors.Is(wrapped, io.EOF) {
		t.Errorf("%v lost what it was made from", wrapped)
	}
}

func TestErrorSaysValueLimitAndWhatToDo(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{fault.Bad("seam.length_mm", -3, "must be 0 to 20000").Error(), "seam.length_mm: -3: must be 0 to 20000"},
		{fault.Missing("zone", "bay-9", "define it first").Error(), `zone "bay-9" is not known; define it first`},
		{fault.New(fault.Refused, "x", "Lot L204 expired.", "scan another").Error(), "Lot L204 expired; scan another"},
		{fault.Bad("a", 1, "b").Join(fault.Bad("c", 2, "d")).Error(), "a: 1: b; c: 2: d"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
	if got := fault.Bad("a", 1, "b").Join(fault.Bad("c", 2, "d")).Fields; len(got) != 2 || got[1].Path != "c" {
		t.Errorf("joined fields %v: want both", got)
	}
}
