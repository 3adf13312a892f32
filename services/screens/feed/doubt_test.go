package feed_test

import (
	"strings"
	"testing"
	"time"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/app"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// overdraw lays the test's bead with 5000 ml for 50 out of a cartridge of 168
// or so, and brings the seam on until nothing is left to lay on it.
func (s *shop) overdraw() {
	s.t.Helper()
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	for _, do := range []string{
		"take the plan", "prep", "open a cartridge of self-levelling grey", "bring both sides level", "fit a nozzle: round tip cut at 14 mm", "purge",
	} {
		s.big(ro, ditch, do, nil)
		s.wait(time.Minute)
	}
	r := s.press(technician, bay1, ro, ditch, s.other("Bead laid earlier, or with another volume"), map[string]string{"volume_ml": "5000"})
	if !strings.Contains(strings.Join(r.Findings, "\n"), "weigh or mark it") {
		s.t.Fatalf("5000 ml are no query: %q", r.Findings)
	}
	s.big(ro, ditch, "take the trapped air out", nil)
	s.wait(3 * time.Minute)
}

// offered lists the buttons of a kind under "Something else".
func (s *shop) offered(terminal string, k screens.Kind) (out []screens.Button) {
	s.t.Helper()
	for _, b := range s.bay(terminal, ro, ditch).Seam.Else {
		if b.Kind == k {
			out = append(out, b)
		}
	}
	return out
}

// TestACartridgeInDoubt: as long as its query is open, a cartridge that was
// overdrawn is weighed, marked or told empty at the page of the seam that was
// laid from it, at whatever tablet, and the query stands there to be answered.
// Its twin, without the slip, is not offered away from where it is in hand.
func TestACartridgeInDoubt(t *testing.T) {
	s := open(t, app.Options{}, false)
	s.overdraw()
	for _, terminal := range []string{bay1, "bay-2-tablet"} {
		page := s.bay(terminal, ro, ditch).Seam
		if !strings.Contains(strings.Join(page.Findings, "\n"), "query: 5000.0 ml out of cartridge C1 are ") {
			t.Errorf("%s says %q", terminal, page.Findings)
		}
		if w, e := s.offered(terminal, screens.DoWeigh), s.offered(terminal, screens.DoEmpty); len(w) != 1 || len(e) != 1 || e[0].Label != "Cartridge C1 is empty" {
			t.Errorf("%s offers %+v and %+v", terminal, w, e)
		}
	}
	weigh := s.other("Cartridge C1: what is left")
	a := s.action(weigh, map[string]string{"volume_ml": "110", "how": "guessed"})
	a.RO, a.Seam, a.Actor, a.Terminal = ro, ditch, technician, bay1
	if _, err := s.src.Post(t.Context(), a); fault.KindOf(err) != fault.Invalid || !strings.Contains(err.Error(), "how: guessed: marked or weighed") {
		t.Errorf("guessed: %v", err)
	}
	s.press(technician, bay1, ro, ditch, weigh, map[string]string{"volume_ml": "110", "how": "weighed"})
	s.left(t, 110)
	s.press(technician, bay1, ro, ditch, s.other("Cartridge C1: what is left"), map[string]string{"volume_ml": "108"})
	s.left(t, 108)

	// The foreman's answer ends it; a cartridge is neither scuffed nor redone.
	answer := s.answerTo("5000.0 ml out of cartridge C1")
	for _, o := range answer.Asks[0].Options {
		if o.Value == "scuff" || o.Value == "redo" {
			t.Errorf("a cartridge may be answered with %q", o.Value)
		}
	}
	s.press(foreman, bay1, ro, ditch, answer, map[string]string{"disposition": "accept", "reason": "mistyped, it was weighed", "pin": pin})
	if w := s.offered("bay-2-tablet", screens.DoWeigh); len(w) != 0 {
		t.Errorf("after the answer another bay still offers %+v", w)
	}
	if w := s.offered(bay1, screens.DoWeigh); len(w) != 1 {
		t.Errorf("in hand it is offered as any other: %+v", w)
	}
}

// answerTo is the button that answers a finding by what it says.
func (s *shop) answerTo(reason string) *screens.Button {
	s.t.Helper()
	for _, b := range s.offered(bay1, screens.DoDispose) {
		if strings.HasPrefix(b.Hint, reason) {
			return &b
		}
	}
	s.t.Fatalf("no answer to %q", reason)
	return nil
}

func (s *shop) left(t *testing.T, want float64) {
	t.Helper()
	s.look(func(f *floor.Floor) {
		if got := f.Cartridge("C1").Remaining.ML(); got != want {
			t.Errorf("%g ml are left, want %g", got, want)
		}
	})
}

// TestAVolumeIsMended: who mistyped a volume gives the right one at the seam's
// page, long after the undo; the query is gone with it.
func TestAVolumeIsMended(t *testing.T) {
	s := open(t, app.Options{}, false)
	s.overdraw()
	b := s.other("The bead took another volume")
	a := s.action(b, map[string]string{"volume_ml": "50"})
	a.RO, a.Seam, a.Actor, a.Terminal = ro, ditch, "Jory Quillbeck", bay1
	if _, err := s.src.Post(t.Context(), a); !fault.Is(err, "not-your-fact") {
		t.Errorf("somebody else mended it: %v", err)
	}
	a.Actor, a.Fields = technician, map[string]string{"fact": a.Fields["fact"], "reason": "mistyped"}
	if _, err := s.src.Post(t.Context(), a); fault.KindOf(err) != fault.Invalid || !strings.Contains(err.Error(), "volume_ml: nothing") {
		t.Errorf("no volume: %v", err)
	}
	var before float64 // the book, with the 5000 ml
	s.look(func(f *floor.Floor) { before = f.Cartridge("C1").Remaining.ML() })
	r := s.press(technician, bay1, ro, ditch, b, map[string]string{"volume_ml": "50"})
	if !strings.HasPrefix(r.Said, "Corrected") {
		t.Errorf("it says %q", r.Said)
	}
	s.left(t, before+5000-50)
	page := s.bay(bay1, ro, ditch).Seam
	if strings.Contains(strings.Join(page.Findings, "\n"), "out of cartridge C1") || len(s.offered("bay-2-tablet", screens.DoWeigh)) != 0 || len(s.offered(bay1, screens.DoCorrect)) != 0 {
		t.Errorf("the query stands: %q", page.Findings)
	}
}

// TestTooFullAndEmpty: a weight of more than can be in it is such a query too.
// An overdrawn cartridge that is told empty threw nothing away.
func TestTooFullAndEmpty(t *testing.T) {
	s := open(t, app.Options{}, false)
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	s.lay()
	if w := s.offered("bay-2-tablet", screens.DoWeigh); len(w) != 0 {
		t.Errorf("nothing is wrong with it, yet another bay offers %+v", w)
	}
	s.press(technician, bay1, ro, ditch, s.other("Cartridge C1: what is left"), map[string]string{"volume_ml": "900"})
	if w := s.offered("bay-2-tablet", screens.DoWeigh); len(w) != 1 {
		t.Errorf("weighed too full, another bay offers %+v", w)
	}

	s = open(t, app.Options{}, false)
	s.overdraw()
	s.press(technician, bay1, ro, ditch, s.other("Cartridge C1 is empty"), nil)
	s.look(func(f *floor.Floor) {
		if c := f.Cartridge("C1"); !c.Emptied || c.Discarded != 0 {
			t.Errorf("emptied %v, %v thrown away", c.Emptied, c.Discarded.ML())
		}
	})
	if e := s.offered(bay1, screens.DoEmpty); len(e) != 0 {
		t.Errorf("told empty it is offered so again: %+v", e)
	}
	if w := s.offered(bay1, screens.DoWeigh); len(w) != 1 {
		t.Errorf("told empty by mistake it cannot be weighed: %+v", w)
	}
}
