package floor_test

import (
	"fmt"
	"testing"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/floor"
	"seamwright/services/floor/floortest"
)

// What is kept of a seam's path is what all facts give: a floor that is asked
// after every event answers as one does that was never asked before.
func TestWhatIsKeptOfAPathIsWhatAllFactsGive(t *testing.T) {
	all := streams(t)
	seen := 0
	for _, s := range all[len(all)-crowds:] {
		asked := floor.New()
		for i, ev := range s.events {
			if err := asked.Apply(ev); err != nil {
				t.Fatal(err)
			}
			got := waysOf(asked)
			if i%20 != 0 {
				continue
			}
			anew, err := floortest.Fold(s.events[:i+1])
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(waysOf(anew), got); diff != "" {
				t.Fatalf("%s, event %d (-never asked +asked):\n%s", s.name, ev.Seq, diff)
			}
			seen += len(got)
		}
	}
	if seen < 300 {
		t.Errorf("%d clocks were compared, want at least 300", seen)
	}
}

// waysOf tells where each clock of a seam runs now, and in which zone alone.
func waysOf(f *floor.Floor) []string {
	var out []string
	for _, id := range f.Seams() {
		for _, r := range f.SeamClocks(id) {
			out = append(out, fmt.Sprint(r.ID, r.Zone, r.Alone, r.Path.AsOf(f.Last()).Edges(f.Last())))
		}
	}
	return out
}
