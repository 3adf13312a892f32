package floor_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/types/known/durationpb"
	"pgregory.net/rapid"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/floor"
	"seamwright/services/floor/floortest"
)

// heard tells a reading of a probe (empty: by hand), some minutes ago.
func heard(t testing.TB, core *floortest.Core, id, probe string, c, ago float64) *floorv1.Receipt {
	t.Helper()
	st := &floorv1.Stamp{CommandId: id, Actor: "x", Role: floorv1.Role_ROLE_MACHINE, Terminal: "gw-1", Age: &floorv1.Age{
		Kind: floorv1.AgeKind_AGE_KIND_MEASURED, Length: durationpb.New(time.Duration(ago * float64(time.Minute))),
	}}
	r, err := core.Tell(floor.Command{Stamp: st, Body: &curesv1.ReadingTaken{ZoneId: "bay-2", ProbeId: probe, TempC: c, ByHand: probe == ""}})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func bay2(t testing.TB) *floortest.Core {
	t.Helper()
	core := floortest.NewCore(noon)
	core.Quiet = true
	s := floortest.NewScript(scenarios, func(time.Time) (floortest.Shop, error) { return core, nil })
	mustDo(t, s, "open-shop 2026-03-02 07:30\nperson Frank foreman tab-desk\nzone bay-2 limits 5..35 error 0.5 drift 0.2 stale 15m settle 30m bay")
	return core
}

func air(core *floortest.Core) (a floor.Air) {
	core.Look(func(f *floor.Floor) { a, _ = f.Air("bay-2", core.Now()) })
	return a
}

func within(t *testing.T, s cure.Set, lo, hi float64) {
	t.Helper()
	if math.Abs(s.Lo-lo) > 1e-9 || math.Abs(s.Hi-hi) > 1e-9 {
		t.Errorf("the set is %.3f to %.3f °C, want %.3f to %.3f", s.Lo, s.Hi, lo, hi)
	}
}

// TestTwoProbesGiveTheHullOfWhatTheySay: one by the door, one by the stove.
// Each errs by 0.5 K and 0.2 K of dead band, and drifts by 0.2 K a minute.
func TestTwoProbesGiveTheHullOfWhatTheySay(t *testing.T) {
	core := bay2(t)
	heard(t, core, "reading-01", "door", 17, 3)
	heard(t, core, "reading-02", "stove", 22, 2)
	if r := heard(t, core, "reading-03", "door", 17, 1); len(r.GetFindings()) > 0 {
		t.Errorf("two probes that differ are no jump: %v", r.GetFindings())
	}
	heard(t, core, "reading-04", "stove", 22, 0)
	// The stove now, and the door a minute ago.
	within(t, air(core).Set, 17-0.7-0.2, 22+0.7)
	if a := air(core); a.Jumped || a.Last.C != 22 {
		t.Errorf("jumped %v, last %.1f", a.Jumped, a.Last.C)
	}
	// The stove's probe says 30 a minute later: it jumped away from itself.
	if err := core.Advance(noon.Add(time.Minute)); err != nil {
		t.Fatal(err)
	}
	r := heard(t, core, "reading-05", "stove", 30, 0)
	if len(r.GetFindings()) != 1 || r.GetFindings()[0].GetRule() != "implausible-jump" || !air(core).Jumped {
		t.Errorf("a probe that jumps: %v, jumped %v", r.GetFindings(), air(core).Jumped)
	}
	if s := air(core).Set; s.Hi < 30 || s.Lo > 17 {
		t.Errorf("after a jump the set is %v, want the hull", s)
	}
}

// TestAProbeThatIsSilentDropsOut: when it is stale it no longer counts, and
// the other one is taken at its word as far as the drift lets it.
func TestAProbeThatIsSilentDropsOut(t *testing.T) {
	core := bay2(t)
	heard(t, core, "reading-01", "door", 17, 0)
	for m := 1; m <= 40; m++ {
		if err := core.Advance(noon.Add(time.Duration(m) * time.Minute)); err != nil {
			t.Fatal(err)
		}
		heard(t, core, fmt.Sprintf("reading-1%02d", m), "stove", 22, 0)
		a := air(core)
		if !a.Fresh || m <= 15 && a.Set.Lo > 17-0.7 || a.Jumped {
			t.Errorf("after %d minutes: %v, fresh %v, jumped %v", m, a.Set, a.Fresh, a.Jumped)
		}
	}
	within(t, air(core).Set, 21.3, 22.7)
}

// TestAHandReadingStandsForItself: it is of the same air, with a wider error,
// and narrows the set like any other.
func TestAHandReadingStandsForItself(t *testing.T) {
	core := bay2(t)
	heard(t, core, "reading-01", "door", 20, 10)
	within(t, air(core).Set, 20-0.7-2, 20+0.7+2)
	heard(t, core, "reading-02", "", 20, 0)
	within(t, air(core).Set, 18.5, 21.5)
}

// TestAProbeThatIsOffTakesNothingFromTheOthers: the stove's probe sends a
// reading of an hour ago, which leaves open where the air was when both began
// to speak, and then jumps. What the door's probe said a minute ago stands all
// the same, before it speaks again and after.
func TestAProbeThatIsOffTakesNothingFromTheOthers(t *testing.T) {
	core := bay2(t)
	heard(t, core, "reading-01", "door", 15, 2)
	heard(t, core, "reading-02", "stove", 15.2, 1)
	heard(t, core, "reading-03", "stove", 22, 60)
	heard(t, core, "reading-04", "stove", 28, 0)
	if a := air(core); !a.Jumped || a.Set.Lo > 15-0.7+1e-9 || a.Set.Hi < 28 {
		t.Errorf("the set is %v, jumped %v", a.Set, a.Jumped)
	}
	if err := core.Advance(noon.Add(time.Minute)); err != nil {
		t.Fatal(err)
	}
	heard(t, core, "reading-05", "door", 15, 0)
	if a := air(core); a.Jumped || a.Set.Lo > 15-0.7+1e-9 || a.Set.Hi < 28 {
		t.Errorf("once the door's probe has spoken again: the set is %v, jumped %v", a.Set, a.Jumped)
	}
}

// TestAHandReadingBesideSeveralProbes: a zone with two of them is not at one
// temperature, and a hand that measures beside the one says nothing of the
// other's place.
func TestAHandReadingBesideSeveralProbes(t *testing.T) {
	core := bay2(t)
	heard(t, core, "reading-01", "door", 17, 3)
	heard(t, core, "reading-02", "stove", 22, 2)
	heard(t, core, "reading-03", "door", 17, 1)
	heard(t, core, "reading-04", "", 22, 0)
	within(t, air(core).Set, 17-0.7-0.2, 22+0.7+0.4) // the stove's 2 minutes ago, as the hand's is no further
	if err := core.Advance(noon.Add(16 * time.Minute)); err != nil {
		t.Fatal(err)
	}
	heard(t, core, "reading-05", "", 20, 0) // nobody else is heard any more
	within(t, air(core).Set, 18.5, 21.5)
}

// TestAReadingAtAnUncertainMoment widens by what the air may have changed:
// a claimed one may have been taken at any time since.
func TestAReadingAtAnUncertainMoment(t *testing.T) {
	core := bay2(t)
	st := &floorv1.Stamp{CommandId: "reading-01", Actor: "Frank", Role: floorv1.Role_ROLE_FOREMAN, Terminal: "tab-desk", Age: &floorv1.Age{
		Kind: floorv1.AgeKind_AGE_KIND_CLAIMED, Length: durationpb.New(5 * time.Minute),
	}}
	if _, err := core.Tell(floor.Command{Stamp: st, Body: &curesv1.ReadingTaken{ZoneId: "bay-2", TempC: 20, ByHand: true}}); err != nil {
		t.Fatal(err)
	}
	core.Look(func(f *floor.Floor) {
		a, _ := f.Air("bay-2", noon.Add(-5*time.Minute))
		within(t, a.Set, 20-0.5-1-1, 20+0.5+1+1) // probe error, hand, 5 min at 0.2 K
	})
}

// TestReadingsInAnyOrder: readings of several probes, late or not, withdrawn
// or not, come to the same course.
func TestReadingsInAnyOrder(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(1, 14).Draw(rt, "readings")
		ago := rapid.SliceOfNDistinct(rapid.IntRange(0, 90), n, n, rapid.ID[int]).Draw(rt, "ago")
		type reading struct {
			id, probe string
			c, ago    float64
			wrong     bool
		}
		var all []reading
		for i, m := range ago {
			all = append(all, reading{
				fmt.Sprintf("reading-%02d", i), rapid.SampledFrom([]string{"door", "stove", "beam", ""}).Draw(rt, "probe"),
				float64(rapid.IntRange(15, 25).Draw(rt, "°C")), float64(m), rapid.IntRange(0, 4).Draw(rt, "wrong") == 0,
			})
		}
		course := func(rs []reading, withdrawn bool) string {
			core := bay2(t)
			var wrong []uint64
			for _, r := range rs {
				if r.wrong && !withdrawn {
					continue
				}
				seq := heard(t, core, r.id, r.probe, r.c, r.ago).GetSequence()
				if r.wrong {
					wrong = append(wrong, seq)
				}
			}
			for _, seq := range wrong {
				tellWithdrawn(t, core, seq)
			}
			var b strings.Builder
			core.Look(func(f *floor.Floor) {
				c := f.ZoneCourse("bay-2")
				for _, r := range c.Readings() {
					fmt.Fprintf(&b, "%s %.9f %.9f %v\n", r.At, r.C, r.ExtraErrorC, c.Hindsight().Edges(r.At))
				}
				a, _ := f.Air("bay-2", core.Now())
				fmt.Fprintf(&b, "%v %v %v\n", a.Set, a.Jumped, a.Last)
			})
			return b.String()
		}
		in := slices.Clone(all)
		slices.SortFunc(in, func(a, b reading) int { return int(b.ago - a.ago) })
		want := course(in, false)
		if diff := cmp.Diff(want, course(rapid.Permutation(all).Draw(rt, "heard as"), true)); diff != "" {
			rt.Fatalf("heard late and withdrawn it differs (-in order +late): %s", diff)
		}
	})
}

func tellWithdrawn(t testing.TB, core *floortest.Core, seq uint64) {
	t.Helper()
	c := floor.Command{
		Stamp: live("Frank", floorv1.Role_ROLE_FOREMAN, fmt.Sprintf("withdraw-%d", seq)), Body: &jobsv1.FactWithdrawn{Sequence: seq, Why: "a hand on the probe"},
	}
	if _, err := core.Tell(c); err != nil {
		t.Fatal(err)
	}
}

// TestTheSetHoldsTheTruth: two places of a room drift each for itself, no
// faster than the zone allows; two probes read them within their error, now
// and then. At every minute the set holds both temperatures, as known then
// and in hindsight.
func TestTheSetHoldsTheTruth(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		core := bay2(t)
		truth := [2]float64{rapid.Float64Range(8, 32).Draw(rt, "door"), rapid.Float64Range(8, 32).Draw(rt, "stove")}
		var was [][2]float64
		var last [2]int // minutes; a probe that is stale no longer counts
		n := 0
		for m := range 60 {
			if err := core.Advance(noon.Add(time.Duration(m) * time.Minute)); err != nil {
				rt.Fatal(err)
			}
			for i, probe := range []string{"door", "stove"} {
				truth[i] = min(max(truth[i]+rapid.Float64Range(-0.2, 0.2).Draw(rt, "drift"), 5), 35)
				if m == 0 || m-last[i] == 15 || rapid.IntRange(0, 3).Draw(rt, "read") == 0 {
					n, last[i] = n+1, m
					heard(t, core, fmt.Sprintf("reading-%03d", n), probe, truth[i]+rapid.Float64Range(-0.5, 0.5).Draw(rt, "error"), 0)
				}
			}
			was = append(was, truth)
			holdsTruth(rt, "as known then", air(core).Set, truth, m)
		}
		core.Look(func(f *floor.Floor) {
			seen := f.ZoneCourse("bay-2").Hindsight()
			for m, truth := range was {
				holdsTruth(rt, "in hindsight", seen.Edges(noon.Add(time.Duration(m)*time.Minute)), truth, m)
			}
		})
	})
}

// TestTheSetHoldsTheTruthBesideAProbeThatIsOff: the door's probe reads the
// truth within its error, now or late. The stove's says anything of any time,
// and so do hands. At every minute the set holds the temperature at the door,
// as known then and in hindsight.
func TestTheSetHoldsTheTruthBesideAProbeThatIsOff(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		core := bay2(t)
		truth := rapid.Float64Range(8, 32).Draw(rt, "door")
		var was [][2]float64
		n, last := 0, 0
		say := func(probe string, c, ago float64) {
			n++
			heard(t, core, fmt.Sprintf("reading-%03d", n), probe, c, ago)
		}
		for m := range 45 {
			if err := core.Advance(noon.Add(time.Duration(m) * time.Minute)); err != nil {
				rt.Fatal(err)
			}
			truth = min(max(truth+rapid.Float64Range(-0.2, 0.2).Draw(rt, "drift"), 5), 35)
			was = append(was, [2]float64{truth, truth})
			if m == 0 {
				say("stove", truth, 0.5)
			}
			if m == 0 || m-last == 15 || rapid.IntRange(0, 3).Draw(rt, "read") == 0 {
				last = m
				say("door", truth+rapid.Float64Range(-0.5, 0.5).Draw(rt, "error"), 0)
			}
			switch rapid.IntRange(0, 5).Draw(rt, "else") {
			case 0:
				say("stove", rapid.Float64Range(-5, 50).Draw(rt, "said"), rapid.Float64Range(0, 90).Draw(rt, "ago"))
			case 1:
				say("stove", rapid.Float64Range(-5, 50).Draw(rt, "said"), 0)
			case 2:
				say("", rapid.Float64Range(5, 35).Draw(rt, "by hand"), 0)
			case 3:
				ago := rapid.IntRange(0, m).Draw(rt, "late")
				say("door", was[m-ago][0]+rapid.Float64Range(-0.5, 0.5).Draw(rt, "error"), float64(ago))
			}
			holdsTruth(rt, "as known then", air(core).Set, was[m], m)
		}
		core.Look(func(f *floor.Floor) {
			seen := f.ZoneCourse("bay-2").Hindsight()
			for m, truth := range was {
				holdsTruth(rt, "in hindsight", seen.Edges(noon.Add(time.Duration(m)*time.Minute)), truth, m)
			}
		})
	})
}

func holdsTruth(t *rapid.T, when string, s cure.Set, truth [2]float64, m int) {
	t.Helper()
	for _, c := range truth {
		if c < s.Lo-1e-9 || c > s.Hi+1e-9 {
			t.Fatalf("%s at minute %d the set %.3f to %.3f °C does not hold %.3f", when, m, s.Lo, s.Hi, c)
		}
	}
}
