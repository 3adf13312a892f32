package feed_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/app"
	"seamwright/services/screens"
)

// gunIsWhite tells that the gun of booth-1 was filled with white.
func (s *shop) gunIsWhite() {
	s.t.Helper()
	for _, p := range []boothv1.Phase{boothv1.Phase_PHASE_PREPARING, boothv1.Phase_PHASE_IDLE} {
		c := &boothv1.BoothPhaseChanged{BoothId: "booth-1", Phase: p}
		if p == boothv1.Phase_PHASE_PREPARING {
			c.Colour = "white"
		}
		_, err := boothv1.NewBoothServiceClient(s.conn).Record(s.t.Context(), &boothv1.RecordRequest{
			Stamp: s.stamp(painter, floorv1.Role_ROLE_PAINTER, "booth-screen"), Fact: &boothv1.RecordRequest_BoothPhaseChanged{BoothPhaseChanged: c},
		})
		must(s.t, err)
		s.wait(time.Minute)
	}
}

func (s *shop) atTheGun(label string) *screens.Button {
	s.t.Helper()
	all := s.booth("booth-1").Else
	if i := slices.IndexFunc(all, func(b screens.Button) bool { return b.Label == label }); i >= 0 {
		return &all[i]
	}
	return nil
}

// The painter says when the gun is set up to the next load's colour: the
// booth's screen and the board show until when, and nothing is offered twice.
func TestTheGunIsSetUp(t *testing.T) {
	s := open(t, app.Options{}, false)
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	s.until(at(8, 0))
	s.gunIsWhite()
	const label = "The gun is being set up to blue"
	b, press := s.booth("booth-1"), s.atTheGun(label)
	if press == nil || b.Gun != "white" || b.Change != "blue" || b.Setup != 20*time.Minute {
		t.Fatalf("gun %q, change to %q in %s, button %v", b.Gun, b.Change, b.Setup, press)
	}
	begun := s.time.Now()
	r, err := s.atBooth(painter, "booth-1", press, nil)
	must(t, err)
	ready := begun.Add(20 * time.Minute).Format("15:04")
	b = s.booth("booth-1")
	if r.Said != "Setting up the gun to blue began at "+begun.Format("15:04")+"." || b.Gun != "white, set up to blue at "+ready || b.Phase != "gun is set up to blue until "+ready || b.Change != "" {
		t.Errorf("pressed: %q; gun %q, phase %q, change %q", r.Said, b.Gun, b.Phase, b.Change)
	}
	if s.atTheGun(label) != nil || s.atTheGun("The setup is broken off") == nil {
		t.Errorf("while it is set up the booth offers %v", b.Else)
	}
	i := slices.IndexFunc(s.board().Lanes[0].Blocks, func(b screens.Block) bool { return b.Kind == screens.BlockColourChange })
	if i < 0 || s.board().Lanes[0].Blocks[i].To.Format("15:04") != ready {
		t.Errorf("the board's lane: %+v", s.board().Lanes[0].Blocks)
	}
	s.wait(25 * time.Minute)
	if b = s.booth("booth-1"); b.Gun != "blue" || s.atTheGun("The setup is broken off") != nil || strings.Contains(b.Phase, "until") {
		t.Errorf("set up: gun %q, phase %q", b.Gun, b.Phase)
	}
}

// A setup that is broken off leaves what was in the gun.
func TestTheSetupIsBrokenOff(t *testing.T) {
	s := open(t, app.Options{}, false)
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	s.until(at(8, 0))
	s.gunIsWhite()
	_, err := s.atBooth(painter, "booth-1", s.atTheGun("The gun is being set up to blue"), nil)
	must(t, err)
	s.wait(5 * time.Minute)
	_, err = s.atBooth(painter, "booth-1", s.atTheGun("The setup is broken off"), nil)
	must(t, err)
	if b := s.booth("booth-1"); b.Gun != "white" || b.Change != "blue" || b.Phase != "idle" {
		t.Errorf("broken off: gun %q, change to %q, phase %q", b.Gun, b.Change, b.Phase)
	}
}

// Who asks for the permit, or starts, while another colour is in the gun is
// told so beside the button; the gate itself does not mind.
func TestTheButtonsKnowTheGun(t *testing.T) {
	s := open(t, app.Options{}, false)
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	s.until(at(8, 0))
	s.gunIsWhite()
	s.lay()
	opens, _ := s.bounds()
	s.until(opens.DueCold.Add(time.Minute))
	s.bay(bay1, ro, ditch) // the tablet is alive
	const other = "the gun holds white: set it up to blue first"
	b := s.booth("booth-1")
	ask := b.Request
	if !ask.Ready || ask.Hint != other || b.Gate.Sentence != "Everything else is ready, but "+other+"." {
		t.Fatalf("with white in the gun: %q, %+v", b.Gate.Sentence, ask)
	}
	_, err := s.atBooth(painter, "booth-1", ask, nil)
	must(t, err)
	if b := s.booth("booth-1"); !b.Start.Ready || b.Start.Hint != other || !strings.HasSuffix(b.Gate.Sentence, " The gun holds white: set it up to blue first.") {
		t.Errorf("with a permit: %q, %+v", b.Gate.Sentence, b.Start)
	}
	_, err = s.atBooth(painter, "booth-1", s.atTheGun("The gun is being set up to blue"), nil)
	must(t, err)
	if b := s.booth("booth-1"); b.Start == nil || "white, "+strings.TrimPrefix(b.Start.Hint, "the gun is ") != b.Gun || !strings.Contains(b.Gun, "set up to blue at ") {
		t.Errorf("while it is set up: %+v, gun %q", b.Start, b.Gun)
	}
	s.wait(21 * time.Minute)
	if b := s.booth("booth-1"); b.Start != nil && b.Start.Hint != "" || b.Request != nil && b.Request.Hint != "" {
		t.Errorf("set up: %+v, %+v", b.Request, b.Start)
	}
}
