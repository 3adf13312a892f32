package feed_test

import (
	"strings"
	"testing"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/app"
	"seamwright/services/fault"
	"seamwright/services/screens"
)

// atDesk presses a button of the foreman's desk.
func (s *shop) atDesk(b *screens.Button, filled map[string]string) (screens.Result, error) {
	s.t.Helper()
	a := s.action(b, filled)
	a.Desk, a.Actor, a.Terminal = true, filled["person"], "desk"
	r, err := s.src.Post(s.t.Context(), a)
	if err == nil {
		must(s.t, s.app.AdvanceTo(s.t.Context(), s.time.Now()))
	}
	return r, err
}

// TestTheDeskPlacesLoads: a foreman puts a load by hand with the PIN and gives
// it back; nobody else does, and nothing is told of what does not fit.
func TestTheDeskPlacesLoads(t *testing.T) {
	s := open(t, app.Options{Plan: true}, true)
	s.until(at(8, 0))
	desk := func() screens.Plan {
		t.Helper()
		p, err := s.src.Plan(t.Context(), screens.Question{})
		must(t, err)
		return p
	}
	of := func(id string) *boothv1.PlannedLoad {
		for _, l := range s.plan().GetLoads() {
			if l.GetLoadId() == id {
				return l
			}
		}
		return nil
	}
	d := desk()
	if d.Place == nil || d.Free != nil {
		t.Fatalf("by hand: %+v, to give back: %+v", d.Place, d.Free)
	}
	fill := func(more ...string) map[string]string {
		out := map[string]string{"load": "2219-A", "person": foreman, "pin": pin, "reason": "the owner waits"}
		for i := 0; i < len(more); i += 2 {
			out[more[i]] = more[i+1]
		}
		return out
	}
	before := s.app.Desk().Writer.Seq()
	for name, c := range map[string]struct {
		with map[string]string
		says string
	}{
		"a wrong PIN":   {fill("start", "15:30", "pin", "1357"), "PIN"},
		"no foreman":    {fill("start", "15:30", "person", painter), "a load is placed by a foreman"},
		"no start":      {fill(), "a start, or the booth that it stays in"},
		"no hour":       {fill("start", "soon"), "an hour of today like 14:10, or with its day"},
		"no day":        {fill("start", "31 Feb 10:00"), "an hour of today like 14:10, or with its day"},
		"gone by":       {fill("start", "07:10"), "not before 08:00, the shop's time"},
		"another booth": {fill("start", "15:30", "booth", "prep-1"), "takes primer-surfacer, undercoat"},
	} {
		if _, err := s.atDesk(d.Place, c.with); err == nil || fault.KindOf(err) == fault.Internal || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want %q", name, err, c.says)
		}
	}
	if got := s.app.Desk().Writer.Seq(); got != before {
		t.Fatalf("what was refused was told: the journal went from %d to %d", before, got)
	}
	r, err := s.atDesk(d.Place, fill("start", "15:30"))
	must(t, err)
	s.until(at(8, 2))
	l := of("2219-A")
	if !strings.Contains(r.Said, "2219-A is put into booth 1 by hand") || l.GetKeep() != boothv1.Keep_KEEP_START || !l.GetStart().AsTime().Equal(at(15, 30)) {
		t.Errorf("%q: %v", r.Said, l)
	}
	s.app.Desk().Writer.View(func(uint64) {
		ev, _, _ := s.app.Desk().Floor.Event(r.Seq)
		if ev.Actor != foreman || ev.Body.(*boothv1.LoadPlanned).GetReason() != "the owner waits" {
			t.Errorf("told by %s: %v", ev.Actor, ev.Body)
		}
	})
	if d = desk(); d.Free == nil {
		t.Fatal("nothing is to be given back")
	}
	r, err = s.atDesk(d.Free, fill())
	must(t, err)
	s.until(at(8, 4))
	if l := of("2219-A"); !strings.Contains(r.Said, "2219-A is the planner's") || l.GetKeep() != boothv1.Keep_KEEP_NOTHING || desk().Free != nil {
		t.Errorf("given back: %q, %v", r.Said, l)
	}
	if r, err := s.atDesk(desk().Place, fill("start", "4 Mar 09:00")); err != nil || !of("2219-A").GetStart().AsTime().Equal(at(9, 0).AddDate(0, 0, 2)) {
		t.Errorf("on another day: %q, %v, %v", r.Said, err, of("2219-A"))
	}
}
