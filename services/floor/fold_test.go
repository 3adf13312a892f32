package floor_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"seamwright/services/floor"
	"seamwright/services/floor/floortest"
)

// quiet opens a shop whose keeper says nothing and whose probes read only
// what the text reads: what is told is then all that there is.
func quiet(t testing.TB) (*floortest.Core, *floortest.Script) {
	t.Helper()
	var core *floortest.Core
	script := floortest.NewScript(scenarios, func(at time.Time) (floortest.Shop, error) {
		core = floortest.NewCore(at)
		core.Quiet = true
		return core, nil
	})
	mustDo(t, script, `open-shop 2026-03-02 07:30
include shop.inc
read bay-1 21 rh 45
read bay-2 19 rh 45
read yard 4
read booth-1 22
job 2207 red-hatchback colour red coats solventborne`)
	mustDo(t, script, strings.ReplaceAll(seams, "at 08:05", "load A of 2207 in booth-1 seams 2207/hem"))
	return core, script
}

func mustDo(t testing.TB, s *floortest.Script, lines string) string {
	t.Helper()
	out, err := s.Do(lines)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// happenings are facts about one seam and what it is laid from. Any of them
// may happen at any time, in any order, also where they make no sense.
var happenings = []string{
	"prep 2207/hem e-coat", "prep 2207/hem bare-steel", "undercoat 2207/hem epoxy-primer dry 20m recoat 60m over 2m",
	"plan 2207/hem hb-white round direct-bead 6x3 11ml", "plan 2207/hem mb-grey round wet-bed-then-bead 6x3 15ml",
	"survey 2207/hem \"door hem\" L panel door-x vertical coated e-coat length 800 like other-side medium-bodied round grey 6x3",
	"procedure 2207/hem \"the maker says so\" sets-aside sl-not-level",
	"unpack C1 from L-mb", "unpack C1 from L-hb", "unpack C2 from L-sl", "equalise C1 2ml", "equalise C2", "fit N1 on C1", "fit N1 on C2", "fit N2 on C1",
	"purge C1 5ml", "purge C2", "take-off N1", "take-off N2", "store C1", "store C1 with-nozzle", "weigh C1 120ml", "empty C1", "discard C2",
	"lay 2207/hem cartridge C1 nozzle N1 12ml over 1m", "lay 2207/hem bed cartridge C1 nozzle N1 4ml over 1m", "lay 2207/hem cartridge C2 nozzle N1 9ml over 1m",
	"lay 2207/rip cartridge C1 nozzle N1 over 1m", "lay 2207/floor cartridge C1 over 1m", "fit N3 on C1 4ml", "mark C1 160ml",
	"lay 2207/rip cartridge C1 nozzle N2 30ml over 1m", "run cartridge C1 nozzle N1 seams 2207/hem 2207/rip each 1m 6ml gap 20.5s",
	"lay 2207/hem direct-bead 10ml over 2m", "tool 2207/hem", "deair 2207/hem", "disturb 2207/hem because of a sleeve", "scuff 2207/hem",
	"heat 2207/hem over 3m source 60", "heat 2207/hem over 3m surface 30", "coat 2207/hem solventborne over 4m", "coat 2207/hem waterborne over 4m", "wax 2207/hem",
	"water-test 2207/hem tight", "water-test 2207/hem", "inspect 2207/hem accepted", "inspect 2207/hem", "photo 2207/hem", "rework 2207/hem because of a gap",
	"elsewhere 2207/hem laid by someone paper none", "elsewhere 2207/hem tested by someone paper none", "observe 2207/hem flow-out",
	"car 2207 bay-2", "car 2207 yard", "panel 2207 door-l bay-2 off", "panel 2207 door-l bay-1", "recall L-mb because it is soft", "count L-mb 8",
	"lot L-mb of mb-grey cartridges 2", "finish A in booth-1", "phase booth-1 baking", "spray A in booth-1",
}

// told draws facts with a moment each, in minutes before nine. No two happen
// in the same instant: then the order is the order in which they were heard.
func told(t *rapid.T, most int) []string {
	n := rapid.IntRange(1, most).Draw(t, "facts")
	minutes := rapid.SliceOfNDistinct(rapid.IntRange(1, 2000), n, n, rapid.ID[int]).Draw(t, "ago")
	out := make([]string, n)
	for i := range out {
		what, why, _ := strings.Cut(rapid.SampledFrom(happenings).Draw(t, "what"), " because")
		out[i] = fmt.Sprintf("%s measured %ds", what, minutes[i])
		if why != "" {
			out[i] += " because" + why
		}
	}
	return out
}

// TestAnyOrderOfDelivery: whatever the order in which facts arrive, the seam,
// the cartridge and what is wrong about them come out the same (I10).
func TestAnyOrderOfDelivery(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		facts := told(rt, 12)
		shuffled := rapid.Permutation(facts).Draw(rt, "heard as")
		a, b := arrived(t, facts), arrived(t, shuffled)
		if diff := cmp.Diff(a, b); diff != "" {
			rt.Fatalf("heard as\n%s\nand as\n%s\ndiffer (-first +second):\n%s", strings.Join(facts, "\n"), strings.Join(shuffled, "\n"), diff)
		}
	})
}

// arrived tells facts at nine, and gives what the floor amounts to.
func arrived(t testing.TB, facts []string) string {
	t.Helper()
	core, script := quiet(t)
	mustDo(t, script, "at 09:00\n"+strings.Join(facts, "\n"))
	var out string
	core.Look(func(f *floor.Floor) { out = snapshot(f, core.Now()) })
	return out
}

// TestWithdrawnIsNeverTold: a fact that was told and withdrawn leaves the
// floor as if it had not been told, whatever was told after it.
func TestWithdrawnIsNeverTold(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		facts := told(rt, 10)
		i := rapid.IntRange(0, len(facts)-1).Draw(rt, "withdrawn")
		j := rapid.IntRange(i, len(facts)-1).Draw(rt, "after")
		var with, without []string
		for k, f := range facts {
			if k == i {
				f = strings.Replace(f, " measured", " named wrong measured", 1)
			} else {
				without = append(without, f)
			}
			with = append(with, f)
			if k == j {
				with = append(with, "withdraw wrong because it never happened")
			}
		}
		if diff := cmp.Diff(arrived(t, without), arrived(t, with)); diff != "" {
			rt.Fatalf("told\n%s\ndiffers from never told (-never +withdrawn):\n%s", strings.Join(with, "\n"), diff)
		}
	})
}

// TestCorrectedIsToldRightly: a fact that was told wrongly and corrected
// leaves the floor as if it had been told rightly.
func TestCorrectedIsToldRightly(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		facts := told(rt, 10)
		i := rapid.IntRange(0, len(facts)).Draw(rt, "at")
		ago := rapid.IntRange(2001, 2400).Draw(rt, "ago")
		ml := rapid.IntRange(1, 60).Draw(rt, "ml")
		right := fmt.Sprintf("lay 2207/hem cartridge C1 nozzle N1 %dml over 1m measured %ds", ml, ago)
		wrong := fmt.Sprintf("lay 2207/hem bed cartridge C2 nozzle N2 55ml over 2m named wrong measured %ds", ago)
		a := append(append(append([]string{}, facts[:i]...), right), facts[i:]...)
		b := append(append(append([]string{}, facts[:i]...), wrong), facts[i:]...)
		b = append(b, fmt.Sprintf("correct wrong to lay 2207/hem cartridge C1 nozzle N1 %dml over 1m because it was typed wrongly", ml))
		if diff := cmp.Diff(arrived(t, a), arrived(t, b)); diff != "" {
			rt.Fatalf("told\n%s\ndiffers from told rightly (-rightly +corrected):\n%s", strings.Join(b, "\n"), diff)
		}
	})
}

// TestReplayHasTheSameHash: the journal folds to the floor that is live, with
// the keeper's and the booth's own events in it (I10).
func TestReplayHasTheSameHash(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := shop(t)
		p.do(seams + "\n" + loadA)
		for range rapid.IntRange(1, 15).Draw(rt, "facts") {
			p.do(rapid.SampledFrom(append(happenings, "wait 7m", "wait 2h", "permit A", "read bay-1 30", "read bay-1 21 measured 3m")).Draw(rt, "what"))
		}
		again := floor.New()
		for _, ev := range p.core.Events() {
			if err := again.Apply(ev); err != nil {
				rt.Fatal(err)
			}
		}
		if live := p.floor(); live.Hash() != again.Hash() {
			var a, b strings.Builder
			live.Canonical(&a)
			again.Canonical(&b)
			rt.Fatalf("replay differs (-live +again):\n%s", cmp.Diff(a.String(), b.String()))
		}
	})
}
