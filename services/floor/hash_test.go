package floor_test

import (
	"strings"
	"testing"

	"seamwright/services/floor"
)

// TestTheHashTellsFloorsApart: whatever can differ between two floors shows in
// the hash.
func TestTheHashTellsFloorsApart(t *testing.T) {
	base := seams + "\n" + ready("L-mb") + layHem + " named bead\n" + loadA + "permit A\n"
	seen := map[string]string{}
	for _, more := range []string{
		"", "scuff 2207/hem", "deair 2207/hem", "tool 2207/hem", "wax 2207/hem", "photo 2207/hem", "water-test 2207/hem tight",
		"coat 2207/hem solventborne over 4m", "rework 2207/hem because x", "withdraw bead because x", "heat 2207/hem over 5m",
		"car 2207 bay-2", "panel 2207 door-l bay-2 off", "read bay-1 21.2", "read bay-1 21.2 rh 50", "read bay-1 30",
		"fit N2 on C1", "take-off N1", "store C1", "weigh C1 100ml", "discard C1", "count L-mb 3", "recall L-mb because x", "lot L-z of mb-grey cartridges 1",
		"spray A", "return A", "fault booth-1 because x", "phase booth-1 baking for 5m", "load A of 2207 in booth-1 coat waterborne seams 2207/hem",
		"cancel 2207 because x", "procedure 2207/hem text sets-aside sl-not-level", "disturb 2207/hem because x",
		"disturb 2207/hem because x\nanswer bead-disturbed on seam/2207/hem accept because y",
		"disturb 2207/hem because x\nanswer bead-disturbed on seam/2207/hem redo because y",
		"zone bay-1 limits 4..35 error 0.5 drift 0.2 stale 15m settle 30m terminals tab-1 bay",
		"zone bay-1 limits 5..35 error 0.5 drift 0.2 stale 15m settle 30m terminals tab-1",
	} {
		p := shop(t)
		p.do(base + more)
		h := p.floor().Hash()
		if other, ok := seen[h]; ok {
			t.Errorf("%q and %q come to the same hash", more, other)
		}
		seen[h] = more
	}
}

// TestTheCanonicalFormIsWholeNumbers: no line of it hangs on how a machine
// prints fractions.
func TestTheCanonicalFormIsWholeNumbers(t *testing.T) {
	p := shop(t)
	p.do(seams + "\n" + ready("L-mb") + layHem + "\n" + loadA + "permit A")
	var b strings.Builder
	p.floor().Canonical(&b)
	if floor.New().Hash() == p.floor().Hash() || !strings.HasPrefix(b.String(), "floor|") {
		t.Error("the canonical form does not begin with the floor")
	}
	for line := range strings.SplitSeq(b.String(), "\n") {
		if strings.Contains(line, "e+") || strings.Contains(line, "0001-01-01") {
			t.Errorf("not canonical: %s", line)
		}
	}
}
