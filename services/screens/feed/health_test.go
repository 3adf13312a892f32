package feed

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/floor"
)

// Every name under which the gate holds for the program's own sake has words
// of its own on the screens, and says what to do.
func TestEveryTroubleOfTheProgramHasWords(t *testing.T) {
	seen := map[string]string{}
	for _, name := range floor.ProcessHolds() {
		w, ok := processWords[name]
		if !ok || !strings.HasSuffix(w.Text, ".") || !strings.HasSuffix(w.Do, ".") {
			t.Errorf("%s: %+v", name, w)
		}
		if other := seen[w.Text]; other != "" {
			t.Errorf("%s and %s have the same words", name, other)
		}
		seen[w.Text] = name
	}
	if len(processWords) != len(seen) {
		t.Errorf("%d words for %d names", len(processWords), len(seen))
	}
}

// TestHoursComeLast: what is wrong with the program stands before all else
// that a gate holds by, however the gate's reasons are sorted, and the hours
// of a booth, which end by themselves, stand behind.
func TestHoursComeLast(t *testing.T) {
	rs := []*boothv1.Reason{{Name: floor.HoldBoothClosed}, {Name: floor.HoldNoReading}, {Name: floor.HoldSilent}, {Name: floor.HoldBoothFault}}
	for _, name := range floor.ProcessHolds() {
		rs = append(rs, &boothv1.Reason{Name: name})
	}
	var got []string
	for _, r := range byRank(rs) {
		got = append(got, r.GetName())
	}
	n := len(floor.ProcessHolds())
	want := []string{floor.HoldBoothFault, floor.HoldNoReading, floor.HoldSilent, floor.HoldBoothClosed}
	if got[0] != floor.HoldDiskFull || got[1] != floor.HoldUnwritable || !slices.Equal(got[n:], want) {
		t.Errorf("%q", got)
	}
	v := &view{}
	if w := v.faultWords(rs); w != fmt.Sprintf("The shop's disk is full. Make room, then start the shop's program again. %d more faults below.", n-1) {
		t.Errorf("%q", w)
	}
	for name, w := range processWords {
		for _, word := range []string{"journal", "ground", "gate"} {
			if strings.Contains(strings.ToLower(w.Text+" "+w.Do), word) {
				t.Errorf("%s says %q to a painter: %s %s", name, word, w.Text, w.Do)
			}
		}
	}
}
