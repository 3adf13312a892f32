package floor_test

import (
	"math"
	"slices"
	"testing"
	"time"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/floor"
)

// in asks which zones a seam's temperature is taken from now.
func (p *played) in(id floor.SeamID, want ...floor.ZoneID) {
	p.t.Helper()
	got := slices.Clone(p.floor().Places(p.floor().Seam(id), p.core.Now()))
	slices.Sort(got)
	slices.Sort(want)
	if !slices.Equal(got, want) {
		p.t.Errorf("at %s %s is taken to be in %v, want %v", p.core.Now().Format("15:04"), id, got, want)
	}
}

// set is the set that a seam's temperature lies in at a moment.
func (p *played) set(id floor.SeamID, at time.Time) cure.Set {
	p.t.Helper()
	for _, r := range p.floor().SeamClocks(id) {
		return r.Path.AsOf(p.core.Now()).Edges(at)
	}
	p.t.Fatalf("no clock runs on %s", id)
	return cure.Set{}
}

func TestTheCarSettlesInItsNewZone(t *testing.T) {
	p := shop(t)
	p.do(seams)
	p.in("2207/hem", "bay-1") // moved there at half past seven, settled by eight
	p.do("car 2207 yard")
	p.in("2207/hem", "bay-1", "yard")
	p.do("wait 29m")
	p.in("2207/hem", "bay-1", "yard")
	p.do("wait 1m")
	p.in("2207/hem", "yard")
	p.do("car 2207 bay-2\nwait 10m car 2207 bay-1")
	p.in("2207/hem", "yard", "bay-2", "bay-1")
	p.do("wait 22m")
	p.in("2207/hem", "bay-2", "bay-1")
	p.do("wait 10m")
	p.in("2207/hem", "bay-1")
}

func TestWhereNobodyKnows(t *testing.T) {
	p := shop(t)
	p.do("job 2208 van coats solventborne\nsurvey 2208/a \"sill joint\" L panel sill vertical coated e-coat length 500")
	p.in("2208/a", "bay-1", "bay-2")
	// The terminal that is in use tells: from then on it settles there.
	p.do("at 08:00 Sacha: prep 2208/a e-coat")
	p.in("2208/a", "bay-1", "bay-2")
	p.do("at 08:30")
	p.in("2208/a", "bay-2")
	// A claimed fact may be told anywhere.
	p.do("Robin: scuff 2208/a claimed 10m")
	p.in("2208/a", "bay-2")
}

// A claimed move: the panel may have come at any moment since.
func TestAClaimedMoveSettlesFromItsLatestMoment(t *testing.T) {
	p := shop(t)
	p.do(seams + "\nat 09:00 car 2207 yard claimed 20m")
	p.in("2207/hem", "bay-1", "yard")
	p.do("at 09:29")
	p.in("2207/hem", "bay-1", "yard")
	p.do("at 09:30")
	p.in("2207/hem", "yard")
}

func TestAPanelOffTheCarGoesItsOwnWay(t *testing.T) {
	p := shop(t)
	p.do(seams + "\npanel 2207 door-l bay-2 off\nwait 30m")
	p.in("2207/hem", "bay-2")
	p.in("2207/rd", "bay-1")
	p.do("car 2207 yard\nwait 30m")
	p.in("2207/hem", "bay-2")
	p.in("2207/rd", "yard")
	// Fitted again, it goes where the car goes.
	p.do("car 2207 bay-1\npanel 2207 door-l bay-1\nwait 30m car 2207 yard\nwait 30m")
	p.in("2207/hem", "yard")
	p.in("2207/rd", "yard")
}

func TestTheLoadIsInTheBoothFromTheBeginOfSpraying(t *testing.T) {
	p := shop(t)
	p.do(seams + "\n" + laidHem() + loadA + "permit A\nspray A")
	p.in("2207/hem", "bay-1", "booth-1")
	p.do("wait 30m")
	p.in("2207/hem", "booth-1")
	// Finished it is rolled out: into a bay, or not far.
	p.do("finish A")
	p.in("2207/hem", "bay-1", "bay-2", "booth-1")
	p.do("car 2207 yard")
	p.in("2207/hem", "yard", "bay-1", "bay-2", "booth-1")
	p.do("wait 30m")
	p.in("2207/hem", "yard")
}

// A terminal that stands in another bay today told of this bay yesterday.
func TestATerminalIsWhereItStoodThen(t *testing.T) {
	p := shop(t)
	p.do("job 2208 van coats solventborne\nsurvey 2208/a \"sill joint\" L panel sill vertical coated e-coat length 500\n" +
		"at 08:00 prep 2208/a e-coat\nat 09:00\n" +
		"zone bay-1 limits 5..35 error 0.5 drift 0.2 stale 15m settle 30m bay\n" +
		"zone bay-2 limits 5..35 error 0.5 drift 0.2 stale 15m settle 30m terminals tab-1,tab-2 bay\n" +
		"photo 2208/a before")
	p.in("2208/a", "bay-1")
	if z := p.floor().TerminalZone("tab-1"); z != "bay-2" {
		t.Errorf("tab-1 stands in %q now, want bay-2", z)
	}
	p.do("scuff 2208/a measured 50m") // told now, done when the tablet stood in bay-1
	p.in("2208/a", "bay-1")
	p.do("tool 2208/a\nwait 31m")
	p.in("2208/a", "bay-2")
}

// The heat of a gun, its setting known, widens the set while it is held there
// and until the panel has settled again.
func TestHeatWidensTheSetUntilItHasSettled(t *testing.T) {
	p := shop(t)
	p.do(seams + "\n" + laidHem() + "at 08:20 heat 2207/hem over 5m source 60\nat 09:30")
	for _, c := range []struct {
		at string
		hi float64
	}{{"08:14", 22}, {"08:16", 60}, {"08:21", 60}, {"08:49", 60}, {"08:51", 22}} {
		at, err := time.Parse("2006-01-02 15:04", "2026-03-02 "+c.at)
		if err != nil {
			t.Fatal(err)
		}
		if hi := p.set("2207/hem", at).Hi; math.Abs(hi-c.hi) > 0.5 {
			t.Errorf("at %s the hot edge is %.1f °C, want about %.0f", c.at, hi, c.hi)
		}
	}
	// Without a setting gentle heat counts as up to 80 °C.
	p.do("heat 2207/hem over 5m")
	if hi := p.set("2207/hem", p.core.Now()).Hi; hi != 80 {
		t.Errorf("heat of unknown setting goes to %.1f °C, want 80", hi)
	}
}

// A measured surface stands for the zone that the panel came from, until it
// is moved again.
func TestAMeasuredSurfaceStandsForTheOldZone(t *testing.T) {
	p := shop(t)
	p.do("probe yard 2 every 5m\ncar 2207 yard\n" + seams + "\nat 09:00 car 2207 bay-1\n" + ready("L-mb") +
		"wait 3m lay 2207/hem cartridge C1 nozzle N1 over 1m surface 15")
	at := p.core.Now()
	if lo := p.set("2207/hem", at).Lo; math.Abs(lo-14.5) > 0.01 {
		t.Errorf("the cold edge is %.2f °C, want what was measured less the probe's error, 14.5", lo)
	}
	p.do("wait 40m")
	if lo := p.set("2207/hem", p.core.Now()).Lo; lo < 19 {
		t.Errorf("settled, the cold edge is %.2f °C, want the bay's", lo)
	}
	p.do("car 2207 yard\nwait 5m")
	if s := p.set("2207/hem", p.core.Now()); s.Lo > 3 || s.Hi < 21 {
		t.Errorf("moved again, the set is %v, want the hull of bay and yard", s)
	}
}

// A clock waits in the hull while the car settles, and is the zone's alone
// afterwards.
func TestTheKeeperIsToldWhenAClockIsItsZonesAlone(t *testing.T) {
	p := shop(t)
	p.do(seams + "\n" + laidHem() + "car 2207 bay-2")
	moved := p.core.Now()
	for _, r := range p.floor().SeamClocks("2207/hem") {
		if r.Zone != "bay-2" || !r.Alone.Equal(moved.Add(30*time.Minute)) {
			t.Errorf("%s: alone in %q from %s, want bay-2 from %s", floor.Word[floorv1.Clock](r.ID.Clock), r.Zone, r.Alone, moved.Add(30*time.Minute))
		}
	}
}

// A sheet of 0.8 mm in still air on one face has a time constant of 7832 x 434
// x 0.0008 / 10 = 272 s (lumped capacitance, Incropera, section 5.1, from
// memory). From a bay of 5 to 35 °C to another one, 10 K more for air beyond
// the limits, it comes within the probe's 0.5 K after 272 ln(40/0.5) = 1192 s:
// sooner than the zone's 30 minutes. A sheet of 3 mm takes 74 minutes, so the
// usual time stands, and so it does where the sheet is not known.
func TestAThinSheetSettlesSooner(t *testing.T) {
	for sheet, settles := range map[string]time.Duration{" sheet 0.8": 1192 * time.Second, "": 30 * time.Minute, " sheet 3": 30 * time.Minute} {
		p := shop(t)
		p.do("survey 2207/sheet \"sill joint\" L panel sill vertical coated e-coat length 500" + sheet + "\n" + ready("L-mb") +
			"lay 2207/sheet cartridge C1 nozzle N1 over 1m\ncar 2207 bay-2")
		moved := p.core.Now()
		clocks := p.floor().SeamClocks("2207/sheet")
		if len(clocks) == 0 {
			t.Fatal("no clock runs")
		}
		for _, r := range clocks {
			if d := r.Alone.Sub(moved); r.Zone != "bay-2" || (d-settles).Abs() > 2*time.Second {
				t.Errorf("sheet%s: alone in %q after %s, want bay-2 after %s", sheet, r.Zone, d, settles)
			}
		}
		if got := len(p.floor().Places(p.floor().Seam("2207/sheet"), moved.Add(25*time.Minute))); (got == 1) != (sheet == " sheet 0.8") {
			t.Errorf("sheet%s: the air of %d zones counts after 25 minutes", sheet, got)
		}
	}
}
