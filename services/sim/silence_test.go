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

// The same for air: a permit may be taken back for a zone that counts and was
// not read for too long by then, and for no other.
func TestAirIsUnreadWhileItCounts(t *testing.T) {
	yard, next, other := bay("outdoors"), bay("bay-2"), bay("bay-1")
	for _, z := range []*air{yard, next, other} {
		z.read(after(0), 20, 0, 50)
	}
	next.read(after(40), 20, 0, 50)
	j := &job{ro: "3149"}
	j.course.to(began, yard)
	j.course.to(after(20), next) // the yard counts until minute 50
	s := &sim{loads: map[string]*load{"3149-A": {id: "3149-A", job: j}}, airs: map[string]*air{}}
	p := &permit{load: "3149-A"}
	for _, c := range []struct {
		at   float64
		zone string
		want bool
	}{{14, "outdoors", false}, {45, "outdoors", true}, {51, "outdoors", false}, {45, "bay-2", false}, {56, "bay-2", true}, {45, "bay-1", false}} {
		if got := s.unread(p, []string{"reading-stale zone/" + c.zone}, after(c.at)); got != c.want {
			t.Errorf("minute %g, %s: %t, want %t", c.at, c.zone, got, c.want)
		}
	}
	if s.unread(p, []string{"bead-disturbed seam/1"}, after(45)) {
		t.Error("taken for another reason")
	}
}
