package sim

import (
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
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

// A permit that was taken back for such air a moment before another ground fell
// away was not taken back for the wrong reason.
func TestAPermitMayHaveBeenTakenBackBefore(t *testing.T) {
	for lapsing, sound := range map[string]bool{"booth-faulted booth/booth-1": true, "returned": false} {
		yard := bay("outdoors")
		yard.read(after(0), 20, 0, 50)
		j := &job{ro: "3090"}
		j.course.to(began, yard)
		p := &permit{id: "P1", load: "3090-A", lapsing: lapsing}
		s := &sim{
			loads: map[string]*load{"3090-A": {id: "3090-A", job: j}}, airs: map[string]*air{}, booths: map[string]*booth{"booth-1": {id: "booth-1", permit: p}},
			rep: newReport(Options{}),
		}
		s.checks = newChecks(s)
		s.revoked(&floorv1.Entry{Sequence: 7, Received: timestamppb.New(after(20))}, &boothv1.PermitRevoked{PermitId: "P1", BoothId: "booth-1", LoadId: "3090-A", Reasons: []string{"reading-stale zone/outdoors"}})
		if !p.ended || (len(s.rep.Violations) == 0) != sound {
			t.Errorf("due was %s: ended %t, %v", lapsing, p.ended, s.rep.Violations)
		}
	}
}

// Whether a bead was tooled late hangs on the air as far as it is known: what
// may have been late by a cone that grew from the last reading was not, once
// another reading has closed it.
func TestWhatMayHaveBeenTooledLateWasNot(t *testing.T) {
	room := bay("bay-1")
	room.read(after(0), 20, 0, 50)
	j := &job{ro: "3400"}
	j.course.to(began, room)
	tooling := 10.0
	b := &bead{seam: &seam{job: j}, spent: after(0), product: newProduct(&materialsv1.ProductDefined{Cure: &materialsv1.Cure{
		ReferenceTempC: 20, ActivationLowKjMol: 50, ActivationHighKjMol: 60, ToolingMin: &tooling,
	}})}
	at := after(9.1) // at 20 °C 0.9 of the 10 min are left over, along the hot edge none
	if !b.tooledLate(at) {
		t.Error("by the growing cone it may have been late")
	}
	room.read(after(9.2), 19.4, 0, 50)
	if b.tooledLate(at) {
		t.Error("by the next reading it was in time")
	}
}
