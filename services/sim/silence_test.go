package sim

import (
	"testing"
	"time"
)

// A permit may be taken back for a bay that was not heard in that moment, even
// if it has been heard again since; for one that was heard it may not.
func TestATerminalIsMissedInItsGapOnly(t *testing.T) {
	nine := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	at := func(min float64) time.Time { return nine.Add(time.Duration(min * float64(time.Minute))) }
	j := &job{ro: "3149", tablet: "bay-2-tablet"}
	s := &sim{heard: map[string]time.Time{}, gaps: map[string]gap{}, loads: map[string]*load{"3149-A": {id: "3149-A", job: j}}}
	for _, heard := range []float64{0, 2, 9.5, 11, 12} {
		s.now = at(heard)
		s.hears("bay-2-tablet")
	}
	p := &permit{load: "3149-A"}
	for _, c := range []struct {
		at      float64
		reasons []string
		want    bool
	}{
		{at: 6.9, reasons: []string{"terminal-silent terminal/bay-2-tablet"}},
		{at: 7.1, reasons: []string{"terminal-silent terminal/bay-2-tablet"}, want: true},
		{at: 9.4, reasons: []string{"permit-expired load/3149-A", "terminal-silent terminal/bay-2-tablet"}, want: true},
		{at: 9.4, reasons: []string{"permit-expired load/3149-A"}},
		{at: 9.4, reasons: []string{"terminal-silent terminal/bay-1-tablet"}},
		{at: 9.6, reasons: []string{"terminal-silent terminal/bay-2-tablet"}},
		{at: 17.1, reasons: []string{"terminal-silent terminal/bay-2-tablet"}, want: true},
	} {
		if got := s.missed(p, c.reasons, at(c.at)); got != c.want {
			t.Errorf("%.1f min after the first sign of life, %v: missed is %t, want %t", c.at, c.reasons, got, c.want)
		}
	}
}
