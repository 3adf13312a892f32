package floor

import (
	"testing"
	"time"
)

func TestATerminalThatWasNeverHeardIsSaidSo(t *testing.T) {
	for want, at := range map[string]time.Time{
		"was never heard": {}, "was last heard at 08:05": time.Date(2026, 3, 2, 8, 5, 0, 0, time.UTC),
	} {
		if got := lastHeard(at); got != want {
			t.Errorf("%s: %q, want %q", at, got, want)
		}
	}
}
