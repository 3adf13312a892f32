package floor_test

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"seamwright/services/floor"
)

// laidHem lays the door hem so that a solventborne coat may follow at once.
func laidHem() string { return ready("L-mb") + layHem + "\n" }

const loadA = "load A of 2207 in booth-1 seams 2207/hem\n"

// held is one reason to hold by name, and what clears it.
type held struct {
	name  string
	holds string
	clear string // empty: nothing clears it
	live  func(*floor.Live)
	ends  func(*floor.Live)
}

var holds = []held{
	{name: floor.HoldLoadUnknown, holds: laidHem(), clear: loadA},
	{name: floor.HoldLoadEmpty, holds: laidHem() + "load A of 2207 in booth-1\n", clear: loadA},
	{name: floor.HoldLoadSprayed, holds: laidHem() + loadA + "permit A\nspray A named s\n", clear: "withdraw s because it was the other car"},
	{name: floor.HoldJobEnded, holds: laidHem() + loadA + "job 2208 van coats solventborne\ncancel 2207 because the customer fetched it\n"},
	{name: floor.HoldBoothUnknown, holds: laidHem() + "booth prep-9 zone booth-1 coat 5m process 60m named b\nload A of 2207 in prep-9 seams 2207/hem\nFrank: withdraw b because there is none\n", clear: "booth prep-9 zone booth-1 coat 5m process 60m"},
	{name: floor.HoldBoothFault, holds: laidHem() + loadA + "fault booth-1 because the fan tripped\n", clear: "reset booth-1 because new belt"},
	{
		name:  floor.HoldBoothBusy,
		holds: laidHem() + loadA + "survey 2207/x \"sill joint\" L panel sill vertical coated e-coat\nprep 2207/x e-coat\nlay 2207/x cartridge C1 nozzle N1 5ml over 20s\nload B of 2207 in booth-1 seams 2207/x\npermit B\nspray B\n",
		clear: "finish B\ncar 2207 bay-1\nwait 31m",
	},
	{name: floor.HoldBoothClosed, holds: laidHem() + loadA + "booth booth-1 zone booth-1 coat 10m process 75m open 07:30-08:15\n", clear: "booth booth-1 zone booth-1 coat 10m process 75m open 07:30-08:40"},
	{name: floor.HoldBoothPermitted, holds: laidHem() + loadA + "permit A\n", clear: "return A"},
	{name: floor.HoldSeamUnknown, holds: laidHem() + "survey 2207/x \"sill joint\" L panel sill vertical coated e-coat named s\nload A of 2207 in booth-1 seams 2207/hem,2207/x\nwithdraw s because there is none\n", clear: loadA},
	{name: floor.HoldNotLaid, holds: loadA, clear: laidHem()},
	{
		name:  floor.HoldLayerMissing,
		holds: "load A of 2207 in booth-1 seams 2207/rip\n" + ready("L-mb") + "wait 2m lay 2207/rip bed cartridge C1 nozzle N1 8ml over 1m\n",
		clear: "wait 2m lay 2207/rip cartridge C1 nozzle N1 over 1m",
	},
	{name: floor.HoldStop, holds: laidHem() + loadA + "disturb 2207/hem because a sleeve brushed it\n", clear: "answer bead-disturbed on seam/2207/hem accept because it was only touched"},
	{
		name:  floor.HoldProduct,
		holds: loadA + "survey 2207/hem \"door hem\" L panel door-l vertical coated e-coat\n",
		clear: "",
	},
	{name: floor.HoldElsewhere, holds: loadA + "elsewhere 2207/hem laid by someone paper none\n", clear: "rework 2207/hem because to be sure\n" + laidHem()},
	{name: floor.HoldCoatUnknown, holds: laidHem() + loadA + "job 2207 red-hatchback colour red\n", clear: "job 2207 red-hatchback colour red coats solventborne"},
	{name: floor.HoldZoneUnknown, holds: laidHem() + "zone z9 limits 5..35 error 0.5 drift 0.2 stale 15m settle 30m named z\nbooth prep-9 zone z9 coat 5m process 60m\nload A of 2207 in prep-9 seams 2207/hem\nFrank: withdraw z because there is none\n", clear: "booth prep-9 zone booth-1 coat 5m process 60m"},
	{name: floor.HoldNotOpen, holds: laidHem() + "load A of 2207 in booth-1 coat waterborne seams 2207/hem\n", clear: "wait 90m"},
	{name: floor.HoldMayClose, holds: laidHem() + loadA + "at 2026-03-03 22:00\nprobe bay-1 dies\nat 2026-03-04 00:10\n", clear: "read bay-1 21\nscuff 2207/hem"},
	{name: floor.HoldClosed, holds: laidHem() + loadA + "at 2026-03-04 16:00\n", clear: "scuff 2207/hem"},
	{name: floor.HoldNoReading, holds: laidHem() + loadA + "car 2207 bay-2\n", clear: "probe bay-2 21\nwait 31m"},
	{name: floor.HoldStale, holds: laidHem() + loadA + "probe bay-1 dies\nwait 16m\n", clear: "read bay-1 21"},
	{name: floor.HoldImplausible, holds: laidHem() + loadA + "read bay-1 34\n", clear: "wait 1m read bay-1 21"},
	{name: floor.HoldSilent, holds: laidHem() + loadA + "tablet tab-1 silent\nwait 6m\n", clear: "tablet tab-1 back"},
	{
		name: floor.HoldUnhealthy, holds: laidHem() + loadA,
		live: func(l *floor.Live) { l.Health = errors.New("the journal does not answer") },
		ends: func(l *floor.Live) { l.Health = nil },
	},
}

// rule asks the gate about load A with all terminals heard that speak.
func (p *played) rule(change func(*floor.Live)) floor.Ruling {
	p.t.Helper()
	live := floor.Live{Heard: p.core.Heard()}
	if change != nil {
		change(&live)
	}
	return p.floor().Gate("A", p.core.Now(), live)
}

func names(r floor.Ruling) (out []string) {
	for _, why := range r.Reasons {
		out = append(out, why.Name)
	}
	return out
}

func TestEachReasonToHoldByName(t *testing.T) {
	for _, h := range holds {
		t.Run(h.name, func(t *testing.T) {
			p := shop(t)
			p.do(seams)
			if h.name == floor.HoldProduct {
				// A bead of which neither cartridge nor plan is known.
				p.do("survey 2207/y \"sill joint\" L panel sill vertical coated e-coat\nprep 2207/y e-coat\nlay 2207/y over 1m\nload A of 2207 in booth-1 seams 2207/y")
				h.holds, h.clear = "", ready("L-mb")+"rework 2207/y because unknown material\nwait 2m lay 2207/y cartridge C1 nozzle N1 5ml over 1m"
			}
			p.do(h.holds)
			r := p.rule(h.live)
			if r.Clear() || !slices.Contains(names(r), h.name) {
				t.Fatalf("the gate says %v, want %s among them", names(r), h.name)
			}
			for _, why := range r.Reasons {
				if why.Text == "" || why.Subject == "" {
					t.Errorf("%s has no words: %+v", why.Name, why)
				}
			}
			if h.clear == "" && h.ends == nil {
				return
			}
			p.do(h.clear)
			if r = p.rule(h.ends); !r.Clear() {
				t.Errorf("after %q the gate still says %v: %+v", h.clear, names(r), r.Reasons)
			}
		})
	}
}

func TestTheClockThatIsBehindTheJournalHolds(t *testing.T) {
	p := shop(t)
	p.do(seams + "\n" + laidHem() + loadA)
	early := p.core.Now().Add(-time.Second)
	if r := p.floor().Gate("A", early, floor.Live{Heard: p.core.Heard()}); !slices.Contains(names(r), floor.HoldClock) {
		t.Errorf("a clock one second behind gives %v", names(r))
	}
	if r := p.rule(nil); !r.Clear() {
		t.Errorf("the right clock gives %v", names(r))
	}
}

func TestWhatBreaksInTheGateHolds(t *testing.T) {
	var none *floor.Floor
	if r := none.Gate("A", time.Time{}, floor.Live{}); r.Clear() || !slices.Equal(names(r), []string{floor.HoldPanic}) {
		t.Errorf("a broken floor gives %v", names(r))
	}
	if (floor.Ruling{}).Clear() {
		t.Error("a ruling that nobody made is clear")
	}
}

// The painter's word stands for a silent terminal, and for nothing else.
func TestThePaintersWord(t *testing.T) {
	untouched := func(l *floor.Live) { l.Untouched = true }
	p := shop(t)
	p.do(seams + "\n" + laidHem() + loadA + "tablet tab-1 silent\nwait 6m")
	if r := p.rule(untouched); !r.Clear() {
		t.Errorf("with the painter's word the gate says %v", names(r))
	}
	p.do("probe bay-1 dies\nwait 20m")
	if r := p.rule(untouched); !slices.Contains(names(r), floor.HoldStale) {
		t.Errorf("stale readings with the painter's word: %v", names(r))
	}
}

// Nobody worked beside the car by a bay's terminal: then any terminal of its
// bay must be alive.
func TestTheBaysTerminalWhereNoneWasUsed(t *testing.T) {
	p := shop(t)
	p.do("survey 2207/hem \"door hem\" L panel door-l vertical coated e-coat length 900\n" + ready("L-mb") +
		"Frank: prep 2207/hem e-coat\nwait 32m\nfit N2 on C1\npurge C1\nFrank: lay 2207/hem cartridge C1 nozzle N2 5ml over 1m\n" + loadA)
	if r := p.rule(nil); !r.Clear() {
		t.Fatalf("with the bay's tablet heard: %v", r.Reasons)
	}
	p.do("tablet tab-1 silent\nwait 6m")
	if r := p.rule(nil); !slices.Contains(names(r), floor.HoldSilent) || !strings.Contains(silence(r), "tab-1 of the job's bay was last heard at 0") {
		t.Errorf("with the bay's tablet silent: %v, %q", names(r), silence(r))
	}
}

// silence is what a ruling says of a terminal that is not heard.
func silence(r floor.Ruling) string {
	for _, x := range r.Reasons {
		if x.Name == floor.HoldSilent {
			return x.Text
		}
	}
	return ""
}

// A window that is surely open in the cool bay may close before the first
// coat ends in a booth that is hot.
func TestTheFirstCoatEndsInTheBooth(t *testing.T) {
	p := shop(t)
	// At 21 °C a solventborne coat has 2880 min less 10 %, 43 h 12 min at the
	// hot end; the purge at 08:05 is when they began.
	p.do(seams + "\n" + laidHem() + loadA + "at 2026-03-04 00:10")
	r := p.rule(nil)
	if !r.Clear() {
		t.Fatalf("shortly before the end: %v", r.Reasons)
	}
	p.do("probe booth-1 60\nwait 1m\nread booth-1 60") // the second reading makes it plausible
	if r := p.rule(nil); !slices.Equal(names(r), []string{floor.HoldMayClose}) {
		t.Errorf("with the booth at 60 °C the gate says %v", r.Reasons)
	}
}

// Until is the moment that holds: at it the gate is clear, a second before it
// is not.
func TestTheTimeInTheHeadlineHolds(t *testing.T) {
	p := shop(t)
	p.do(seams + "\n" + laidHem() + "load A of 2207 in booth-1 coat waterborne seams 2207/hem\nwait 30m")
	r := p.rule(nil)
	if r.ClearAt.IsZero() || !r.MaybeAt.Before(r.ClearAt) {
		t.Fatalf("clear at %s, may be from %s", r.ClearAt, r.MaybeAt)
	}
	told := r.ClearAt
	// The minute that is said is one at which it has surely come.
	if said := "clear " + told.Add(time.Minute-1).Format("15:04"); told.Equal(told.Truncate(time.Minute)) || !strings.Contains(r.Reasons[0].Text, said) {
		t.Errorf("for %s it says %q, not %q", told, r.Reasons[0].Text, said)
	}
	p.do("at " + told.Format("15:04:05"))
	p.do("wait 1s")
	if r := p.rule(nil); !r.Clear() {
		t.Errorf("told clear at %s, and then: %v", told, r.Reasons)
	}
}

func TestReasonsAreSortedAndOnce(t *testing.T) {
	p := shop(t)
	p.do(seams + "\n" + loadA + "fault booth-1 because x\nprobe bay-1 dies\nwait 20m")
	r := p.rule(nil)
	if !slices.IsSorted(names(r)) {
		t.Errorf("not sorted: %v", names(r))
	}
	seen := map[string]bool{}
	for _, why := range r.Reasons {
		k := why.Name + " " + why.Subject
		if seen[k] {
			t.Errorf("%s stands there twice", k)
		}
		seen[k] = true
	}
	if strings.Contains(r.Reasons[0].Text, "%!") {
		t.Errorf("a broken sentence: %s", r.Reasons[0].Text)
	}
}

// A place that a car has left counts until its panels have settled to the new
// one: a silent probe there holds up to that moment and no longer, which the
// reason says. The settling is the zone's own, 30 min.
func TestAPlaceThatWasLeftHoldsUntilThePanelHasSettled(t *testing.T) {
	p := shop(t)
	p.do(seams + "\n" + laidHem() + loadA + "probe bay-2 21\nprobe bay-1 dies\nwait 16m")
	if r := p.rule(nil); len(r.Reasons) != 1 || r.Reasons[0].Name != floor.HoldStale || !r.Reasons[0].Until.IsZero() {
		t.Fatalf("with the car beside the silent probe: %+v", r.Reasons)
	}
	p.do("car 2207 bay-2")
	moved := p.core.Now()
	r := p.rule(nil)
	if len(r.Reasons) != 1 || r.Reasons[0].Name != floor.HoldStale || r.Reasons[0].Subject != "zone/bay-1" {
		t.Fatalf("once the car has left: %+v", r.Reasons)
	}
	until := r.Reasons[0].Until

	// In a booth that is that place itself it holds for as long as it is silent.
	p.do("booth prep-9 zone bay-1 coat 5m process 60m\nload A of 2207 in prep-9 seams 2207/hem")
	if r := p.rule(nil); len(r.Reasons) != 1 || !r.Reasons[0].Until.IsZero() || !r.ClearAt.IsZero() {
		t.Errorf("for a booth in the place that was left: %+v", r.Reasons)
	}
	p.do(loadA)
	if settled := until.Sub(moved); settled < 30*time.Minute || settled > 32*time.Minute || !r.ClearAt.Equal(until) {
		t.Errorf("it holds for %s, and is clear at %s; want 30 min and a little, and that moment", settled, r.ClearAt)
	}
	if want := "in bay-2 now and settles to it: until " + until.Add(time.Minute-1).UTC().Format("15:04") + " bay-1 counts as well"; !strings.Contains(r.Reasons[0].Text, want) {
		t.Errorf("it says %q, not %q", r.Reasons[0].Text, want)
	}
	p.do("wait " + (until.Sub(p.core.Now()) - time.Second).String())
	if r := p.rule(nil); r.Clear() {
		t.Error("clear a second before the panel has settled")
	}
	p.do("wait 1s")
	if r := p.rule(nil); !r.Clear() {
		t.Errorf("once it has settled: %+v", r.Reasons)
	}
}

// A place that a car may have come from counts too, and is not said to be one
// that it was in.
func TestAPlaceThatACarMayHaveComeFrom(t *testing.T) {
	p := shop(t)
	p.do(seams + "\n" + "job 2230 grey-van colour red coats solventborne\nsurvey 2230/hem \"door hem\" L panel door-l vertical coated e-coat length 900\ncar 2230 bay-1")
	p.do("load B of 2230 in booth-1 seams 2230/hem\n" + ready("L-mb") + "prep 2230/hem e-coat\nwait 1m lay 2230/hem cartridge C1 nozzle N1 5ml over 1m")
	r := p.floor().Gate("B", p.core.Now(), floor.Live{Heard: p.core.Heard()})
	for _, why := range r.Reasons {
		if why.Name != floor.HoldNoReading || why.Subject != "zone/bay-2" { // which no probe of this shop has ever told of
			continue
		}
		if !strings.Contains(why.Text, "nobody said where door hem L was before it came into bay-1, so every place it may have come from counts until ") || why.Until.IsZero() {
			t.Errorf("it says %q until %s", why.Text, why.Until)
		}
		return
	}
	t.Errorf("no word of bay-2: %+v", r.Reasons)
}
