package feed

import (
	"strings"
	"testing"

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
