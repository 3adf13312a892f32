package spec

import "testing"

func TestNozzlesAreReadAsTheyAreSaid(t *testing.T) {
	for _, n := range []Nozzle{{RoundTip, 0}, {RoundTip, 6.5}, {Spreader, 25}, {Spreader, 0}, {GuidedStep, 0}} {
		if got, ok := ReadNozzle(n.String()); !ok || got != n {
			t.Errorf("%v is read as %v, %v", n, got, ok)
		}
	}
	if got, ok := ReadNozzle(string(Spreader)); !ok || got.Kind != Spreader {
		t.Errorf("a kind's own word: %v, %v", got, ok)
	}
	for _, text := range []string{"", "round", "spreader cut at wide", "spreader cut at NaN mm", "spreader cut at -3 mm", "spreader cut at 1e9 mm"} {
		if got, ok := ReadNozzle(text); ok {
			t.Errorf("%q is read as %v", text, got)
		}
	}
}
