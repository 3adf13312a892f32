package booth

import (
	"fmt"
	"testing"
	"time"

	"seamwright/services/record/recordtest"
)

// TestOnlyEnrolledTerminalsAreRemembered: signs of life are copied at every
// beat, so names that no zone has must not pile up.
func TestOnlyEnrolledTerminalsAreRemembered(t *testing.T) {
	s := recordtest.New()
	s.Furnish(t)
	g := NewGate(s.Desk, Options{Holder: "gate"})
	at := s.Time.Now()
	for i := range 1000 {
		g.Hear(fmt.Sprintf("stranger-%d", i), at)
	}
	g.Hear("bay-1-tablet", at.Add(time.Second))
	if heard := g.live().Heard; len(heard) != 1 || !heard["bay-1-tablet"].Equal(at.Add(time.Second)) {
		t.Errorf("%d terminals are remembered (%v), want bay-1-tablet alone", len(heard), heard["bay-1-tablet"])
	}
}
