package floor_test

import (
	"strings"
	"testing"

	"seamwright/services/calc/spec"
)

// What a scale may be off by is 2 ml, a mark 5 ml, two readings together the
// sum (common practice, no source); the limits below are reckoned by hand.
func TestMoreThanCanBeInACartridgeIsAsked(t *testing.T) {
	const hem, asPlanned = "wait 2m lay 2207/hem cartridge C1 nozzle N1 45ml over 1m\n", "wait 2m lay 2207/hem cartridge C1 nozzle N1 over 1m\n" // 13 ml by its plan
	for name, c := range map[string]struct{ before, wrong, right, reason string }{
		"its size":                    {"unpack C1 from L-mb\n", "weigh C1 202.1ml", "weigh C1 202ml", "C1 is weighed at 202.1 ml, yet 200.0 ml at most can be in it: that is its size (what was read may be 2 ml off); weigh it again and take back what is wrong; while this stands it corrects nothing."},
		"its size by a mark":          {"unpack C1 from L-mb\n", "mark C1 205.1ml", "mark C1 205ml", "C1 is marked at 205.1 ml, yet 200.0 ml at most can be in it"},
		"its size, weighed first":     {"weigh C1 150ml\nunpack C1 from L-mb\n", "weigh C1 203ml", "weigh C1 202ml", "that is its size"},
		"the weight before":           {ready("L-mb") + "weigh C1 120ml\nwait 1h ", "weigh C1 124.1ml", "weigh C1 124ml", "yet 120.0 ml at most can be in it: weighed on 2 Mar at 08:05 it held 120.0 ml (what was read may be 4 ml off)"},
		"the mark before":             {ready("L-mb") + "mark C1 120ml\n", "mark C1 130.1ml", "mark C1 130ml", "10 ml off"},
		"a weight after a mark":       {ready("L-mb") + "mark C1 120ml\n", "weigh C1 127.1ml", "weigh C1 127ml", "7 ml off"},
		"what was told since":         {ready("L-mb") + hem, "weigh C1 152.1ml", "weigh C1 152ml", "opened full on 2 Mar at 08:05 it held 200.0 ml, and 50.0 ml are told to have left it since"},
		"the plan is no limit":        {ready("L-mb") + asPlanned, "weigh C1 197.1ml", "weigh C1 197ml", "5.0 ml are told to have left it"},
		"told empty":                  {ready("L-mb") + "empty C1\n", "weigh C1 2.1ml", "weigh C1 2ml", "told empty on 2 Mar"},
		"thrown away":                 {ready("L-mb") + "discard C1\n", "weigh C1 50ml", "weigh C1 1ml", "told empty on 2 Mar"},
		"after it was overdrawn":      {ready("L-mb") + "weigh C1 40ml\nwait 2m lay 2207/hem cartridge C1 nozzle N1 60ml over 1m\n", "weigh C1 44.1ml", "weigh C1 20ml", "yet 40.0 ml at most can be in it"},
		"a wrong weight stands":       {ready("L-mb") + "weigh C1 120ml\nweigh C1 150ml\n", "weigh C1 155ml", "weigh C1 124ml", "weighed on 2 Mar at 08:05 it held 120.0 ml"},
		"of a lot that nobody knows":  {"lay 2207/hem cartridge C9 nozzle N1 60ml over 1m\nweigh C9 100ml\n", "weigh C9 105ml", "weigh C9 104ml", "weighed on 2 Mar at 08:05 it held 100.0 ml"},
		"what was in it is not known": {"unpack C1 from L-mb\n", "weigh C1 230ml", "lay 2207/hem cartridge C9 nozzle N1 60ml over 1m\nweigh C9 300ml", ""},
	} {
		p := shop(t)
		p.do(seams + "\n" + c.before)
		had := len(p.holding("weighed-too-full"))
		p.do(c.wrong)
		found := p.holding("weighed-too-full")
		if len(found) != had+1 {
			t.Errorf("%s: %q has %d findings raised, want one", name, c.wrong, len(found)-had)
			continue
		}
		f := found[had]
		if !strings.Contains(f.Reason, c.reason) || f.Severity != spec.Query || !strings.HasPrefix(f.Thing(), "cartridge/C") || !f.Open() {
			t.Errorf("%s: %s %s of %s, want a query that says %q", name, f.Severity, f.Reason, f.Thing(), c.reason)
		}
		p = shop(t)
		p.do(seams + "\n" + c.before + "\n" + c.right)
		if found := p.holding("weighed-too-full"); len(found) != had {
			t.Errorf("%s: %q is asked about: %s", name, c.right, found[had].Reason)
		}
	}
}

// A weight is judged by when it was: told late it has those after it judged
// again, and taken back it takes its question along.
func TestAWeightThatIsTakenBackAsksNothing(t *testing.T) {
	p := shop(t)
	p.do(seams + "\n" + ready("L-mb") + "at 08:30 weigh C1 150ml named second")
	if n := len(p.holding("weighed-too-full")); n != 0 {
		t.Fatalf("150 ml of 195 are asked about %d times", n)
	}
	p.do("weigh C1 120ml measured 10m named first")
	if fs := p.holding("weighed-too-full"); len(fs) != 1 || !strings.Contains(fs[0].Reason, "weighed on 2 Mar at 08:20 it held 120.0 ml") {
		t.Fatalf("a smaller weight ten minutes before it has %d questions raised", len(fs))
	}
	p.do("withdraw first because the wrong cartridge stood there")
	if n := len(p.holding("weighed-too-full")); n != 0 {
		t.Errorf("the smaller one taken back, %d questions are left", n)
	}
	p.do("product mb-grey medium-bodied grey 100ml energy 52 at 21 gel 8 tooling 12 handling 45 full 1440 solventborne 0..2880 measured 40m")
	if fs := p.holding("weighed-too-full"); len(fs) != 1 || !strings.Contains(fs[0].Reason, "yet 100.0 ml at most can be in it: that is its size") {
		t.Errorf("the product's size corrected, %d questions are raised", len(fs))
	}
}

// A reading that cannot be leaves the cartridge as it was, also one that was
// emptied; taken back or not, the next that can be counts from what stood
// before.
func TestAWeightThatCannotBeChangesNothing(t *testing.T) {
	const laid = "wait 2m lay 2207/hem cartridge C1 nozzle N1 over 1m\n" // as planned, 13 ml
	for name, c := range map[string]struct {
		do      string
		left    float64
		emptied bool
	}{
		"over its size":        {laid + "mark C1 250ml", 182, false},
		"over what can be":     {laid + "weigh C1 199ml", 182, false},
		"then one that can be": {laid + "mark C1 250ml\nmark C1 180ml", 180, false},
		"and taken back":       {laid + "mark C1 250ml named wrong\nmark C1 180ml\nwithdraw wrong because misread", 180, false},
		"of an empty one":      {laid + "empty C1\nweigh C1 50ml", 0, true},
		"the lower was wrong":  {laid + "weigh C1 18ml named wrong\nweigh C1 180ml\nwithdraw wrong because misread", 180, false},
	} {
		p := shop(t)
		p.do(seams + "\n" + ready("L-mb") + c.do)
		if k := p.floor().Cartridge("C1"); k.Remaining.ML() != c.left || k.Emptied != c.emptied {
			t.Errorf("%s: %.1f ml are left, emptied %v; want %.1f and %v", name, k.Remaining.ML(), k.Emptied, c.left, c.emptied)
		}
		if b, _ := p.floor().Balance("L-mb"); !b.Closes() {
			t.Errorf("%s: balance %+v", name, b)
		}
	}
}
