package feed_test

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/app"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// TestPressTwice: the same page pressed twice is one event and one answer.
func TestPressTwice(t *testing.T) {
	s := open(t, app.Options{}, false)
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	s.big(ro, ditch, "take the plan", nil)
	s.big(ro, ditch, "prep", nil)
	a := s.action(s.bay(bay1, ro, ditch).Seam.Next, nil) // gives the cartridge its number
	a.RO, a.Seam, a.Actor, a.Terminal = ro, ditch, technician, bay1
	first, err := s.src.Post(t.Context(), a)
	must(t, err)
	again, err := s.src.Post(t.Context(), a)
	must(t, err)
	if diff := cmp.Diff(first, again); diff != "" {
		t.Errorf("the second press was answered differently:\n%s", diff)
	}
	s.look(func(f *floor.Floor) {
		if f.Seq() != first.Seq || len(f.Cartridges()) != 1 {
			t.Errorf("the journal stands at %d with %d cartridges, want %d and 1", f.Seq(), len(f.Cartridges()), first.Seq)
		}
	})
}

// TestAPressUnderTheIDOfAnother: a page's id stands for what was pressed on it.
// The same press about another seam, or to another bay, is refused and not
// answered as done.
func TestAPressUnderTheIDOfAnother(t *testing.T) {
	s := open(t, app.Options{}, true)
	press := func(id, seam string, kind screens.Kind, fields map[string]string) error {
		_, err := s.src.Post(t.Context(), screens.Action{
			Kind: kind, RO: "2207", Seam: seam, Actor: technician, Terminal: bay1, CommandID: id, Fields: fields,
		})
		return err
	}
	must(t, press("press-0001", "rd-l", screens.DoPrep, map[string]string{"substrate": "epoxy-primer"}))
	must(t, press("press-0002", "rd-l", screens.DoCarMoved, map[string]string{"zone": "bay-1"}))
	var seq uint64
	s.look(func(f *floor.Floor) { seq = f.Seq() })
	for name, err := range map[string]error{
		"another seam": press("press-0001", "rd-r", screens.DoPrep, map[string]string{"substrate": "epoxy-primer"}),
		"another bay":  press("press-0002", "rd-l", screens.DoCarMoved, map[string]string{"zone": "bay-2"}),
	} {
		if !fault.Is(err, "command-id-reused") {
			t.Errorf("%s: %v", name, err)
		}
	}
	s.look(func(f *floor.Floor) {
		if f.Seq() != seq {
			t.Errorf("%d events were recorded", f.Seq()-seq)
		}
	})
}

// TestUndo takes the last fact back within two minutes; who did not tell it
// may not.
func TestUndo(t *testing.T) {
	s := open(t, app.Options{}, false)
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	s.lay()
	before := s.bay(bay1, ro, ditch).Seam
	if before.Undo == nil || before.UndoAt.IsZero() {
		t.Fatal("nothing to undo after a fact a minute ago")
	}
	a := s.action(before.Undo, nil)
	a.RO, a.Seam, a.Actor, a.Terminal = ro, ditch, "Jory Quillbeck", bay1
	if _, err := s.src.Post(t.Context(), a); !fault.Is(err, "not-your-fact") {
		t.Errorf("somebody else took it back: %v", err)
	}
	r := s.press(technician, bay1, ro, ditch, before.Undo, nil)
	if !strings.HasPrefix(r.Said, "Taken back") {
		t.Errorf("undo says %q", r.Said)
	}
	if do := s.bay(bay1, ro, ditch).Seam.Do; do != "take the trapped air out" {
		t.Errorf("after the undo the next step is %q", do)
	}
	s.wait(3 * time.Minute)
	if u := s.bay(bay1, ro, ditch).Seam.Undo; u != nil {
		t.Errorf("three minutes later %q may still be undone", u.Hint)
	}
}

// TestBadFields: what was typed wrongly is named, and nothing is recorded.
func TestBadFields(t *testing.T) {
	s := open(t, app.Options{}, false)
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	var seq uint64
	s.look(func(f *floor.Floor) { seq = f.Seq() })
	for _, c := range []struct {
		kind   screens.Kind
		fields map[string]string
		want   []string
	}{
		{screens.DoLay, map[string]string{"volume_ml": "1e9", "minutes": "-3"}, []string{"volume_ml: 1e9", "minutes: -3"}},
		{screens.DoPrep, map[string]string{"substrate": "cheese"}, []string{"substrate: cheese"}},
		{screens.DoDisturbed, nil, []string{"reason: nothing"}},
		{screens.DoInspect, map[string]string{"passed": "perhaps"}, []string{"passed: perhaps"}},
		{screens.DoPurge, map[string]string{"cartridge": "C1", "volume_ml": "NaN"}, []string{"volume_ml: NaN"}},
		{screens.DoScuff, map[string]string{"grit": "320"}, []string{"grit: 320"}},
		{screens.DoCoat, map[string]string{"coat": "jam"}, []string{"coat: jam"}},
		{screens.DoWithdraw, map[string]string{"fact": "last"}, []string{"fact: last"}},
	} {
		_, err := s.src.Post(t.Context(), screens.Action{
			Kind: c.kind, RO: ro, Seam: ditch, Actor: technician, Terminal: bay1, CommandID: s.uuid(), Fields: c.fields,
		})
		if fault.KindOf(err) != fault.Invalid {
			t.Errorf("%s: %v, want an invalid fault", c.kind, err)
			continue
		}
		for _, w := range c.want {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("%s: %v does not name %q", c.kind, err, w)
			}
		}
	}
	s.look(func(f *floor.Floor) {
		if f.Seq() != seq {
			t.Errorf("%d events were recorded", f.Seq()-seq)
		}
	})
}

// TestForemanAnswers: a disturbed bead holds its seam until a foreman, by
// PIN, has it redone.
func TestForemanAnswers(t *testing.T) {
	s := open(t, app.Options{}, false)
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	s.lay()
	r := s.press(technician, bay1, ro, ditch, s.other("Bead disturbed"), map[string]string{"reason": "a sleeve touched it"})
	if len(r.Findings) != 1 || !strings.HasPrefix(r.Findings[0], "stop: The bead was disturbed") {
		t.Errorf("findings %q", r.Findings)
	}
	if row := s.row(row); row.Mark != screens.MarkHold || row.Hold != "bead disturbed: foreman to decide" {
		t.Errorf("held: %+v", row)
	}
	answer := s.other("Foreman answers: bead disturbed")
	redo := map[string]string{"disposition": "redo", "reason": "too deep to level", "pin": pin}
	a := s.action(answer, redo)
	a.RO, a.Seam, a.Terminal, a.Actor = ro, ditch, bay1, technician
	if _, err := s.src.Post(t.Context(), a); fault.KindOf(err) != fault.Denied {
		t.Errorf("a technician answered a finding: %v", err)
	}
	a.Actor, a.Fields["pin"] = foreman, "1357"
	if _, err := s.src.Post(t.Context(), a); !fault.Is(err, "wrong-pin") {
		t.Errorf("a wrong PIN: %v", err)
	}
	s.press(foreman, bay1, ro, ditch, answer, redo)
	s.big(ro, ditch, "take the bead off", nil)
	if p := s.bay(bay1, ro, ditch).Seam; p.Do != "lay the bead" || p.Hold != "" {
		t.Errorf("after the rework: %q, hold %q", p.Do, p.Hold)
	}
}

// other finds a button under "Something else".
func (s *shop) other(label string) *screens.Button {
	s.t.Helper()
	all := s.bay(bay1, ro, ditch).Seam.Else
	for i := range all {
		if all[i].Label == label {
			return &all[i]
		}
	}
	s.t.Fatalf("no button %q", label)
	return nil
}

// TestRefusedAndOverridden: a permit is refused with every reason in words; a
// foreman's override is shown as such and never as CLEAR.
func TestRefusedAndOverridden(t *testing.T) {
	s := open(t, app.Options{}, false)
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	s.until(at(8, 0))
	s.lay()
	_, err := s.src.Post(t.Context(), screens.Action{
		Kind: screens.DoRequestPermit, Booth: "booth-1", Actor: painter, Terminal: "booth-screen", CommandID: s.uuid(), Fields: map[string]string{"load": load},
	})
	if fault.KindOf(err) != fault.Refused || !strings.Contains(err.Error(), "Waits for roof ditch L") {
		t.Errorf("asked too early: %v", err)
	}
	b := s.booth("booth-1")
	if b.Override == nil {
		t.Fatal("no override is offered")
	}
	r, err := s.atBooth(painter, "booth-1", b.Override, map[string]string{"person": foreman, "pin": pin, "reason": "looked at, dry", "minutes": "10"})
	must(t, err)
	b = s.booth("booth-1")
	if b.Gate.State != screens.GateOverride || !strings.Contains(b.Gate.Sentence, foreman) || !strings.Contains(b.Gate.Sentence, "looked at, dry") {
		t.Errorf("after %q the booth shows %+v", r.Said, b.Gate)
	}
}
