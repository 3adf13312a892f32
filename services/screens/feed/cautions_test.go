package feed

import (
	"strings"
	"testing"
)

// TestCautionsOfTheStepFirst: what belongs to few steps stands before what
// belongs to many, what belongs to another step is left out, and one that the
// table does not know comes first of all.
func TestCautionsOfTheStepFirst(t *testing.T) {
	all := []string{
		"Gloves, eye protection, ventilation: read the sheet.",
		"Lay only with the surface at least 3 K above the dew point.",
		"Keep the drain holes open.",
		"Brush inside the tooling time.",
		"Cavity wax goes on last, after the paint.",
		"The battery is disconnected.",
	}
	want := "The battery is disconnected.|Brush inside the tooling time.|Keep the drain holes open.|Lay only with the surface at least 3 K above the dew point."
	if got := strings.Join(orderCautions(all, stepBead), "|"); got != want {
		t.Errorf("at the bead:\n%s\nwant\n%s", got, want)
	}
	if got := strings.Join(orderCautions(all, stepWax), "|"); got != "The battery is disconnected.|Cavity wax goes on last, after the paint.|Keep the drain holes open." {
		t.Errorf("at the wax: %s", got)
	}
}
