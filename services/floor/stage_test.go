package floor_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/floor"
)

// legal lists the changes of stage that an event of a type may bring (I13),
// "from>to". What is not listed leaves the stage as it was. The stages and
// their order are those of the design; that a further layer starts a bead
// anew, and that a leak takes the test back, is common practice, no source.
var legal = map[string][]string{
	"SeamSurveyed":   {">surveyed"},
	"SeamPlanned":    {"surveyed>planned"},
	"SurfacePrepped": {"surveyed>prepped", "planned>prepped"},
	"BeadLaid": {
		"surveyed>prepped", "planned>prepped", // a wet bed: the bead is still to come
		"surveyed>laid", "planned>laid", "prepped>laid", "surveyed>flowing", "planned>flowing", "prepped>flowing",
		"open>laid", "closed>laid", "flowing>laid", "open>flowing", "closed>flowing", "laid>flowing",
		"cured>laid", "tested>laid", "accepted>laid", "cured>flowing", "tested>flowing", "accepted>flowing", // of an exposed seam
		"laid>prepped", "cured>prepped", "tested>prepped", "accepted>prepped", // a wet bed over what was laid elsewhere: ours begins anew
	},
	"WindowOpened": {
		"flowing>laid", "flowing>open", "laid>open", "coated>cured", "laid>cured", "flowing>cured", "coated>tested", "laid>tested", "flowing>tested",
	},
	"WindowClosed":    {"laid>closed", "open>closed", "flowing>closed"},
	"WindowRetracted": {"open>laid", "open>flowing", "laid>flowing", "closed>open", "closed>laid", "closed>flowing", "cured>coated", "cured>laid", "cured>flowing"},
	"CoatApplied":     {"laid>coated", "flowing>coated", "open>coated", "closed>coated", "laid>cured", "open>cured", "closed>cured", "open>tested", "closed>tested", "laid>tested"},
	"SeamScuffed":     {"closed>open", "closed>laid", "closed>flowing"},
	"WaterTested":     {"cured>tested", "tested>cured", "accepted>cured"},
	"SeamInspected":   {"tested>accepted", "accepted>tested"},
	"SeamReworked":    {"laid>prepped", "flowing>prepped", "open>prepped", "closed>prepped", "coated>prepped", "cured>prepped", "tested>prepped", "accepted>prepped"},
	"DoneElsewhere":   {"surveyed>laid", "planned>laid", "prepped>laid", "surveyed>tested", "planned>tested", "prepped>tested", "laid>tested", "flowing>tested", "open>tested", "closed>tested", "coated>tested", "cured>tested"},
}

var steps = []string{
	"plan SEAM mb-grey round direct-bead 6x3 13ml", "prep SEAM e-coat", "prep SEAM epoxy-primer",
	"lay SEAM cartridge C1 nozzle N1 9ml over 1m", "lay SEAM cartridge C2 nozzle N2 9ml over 1m", "lay SEAM bed cartridge C1 nozzle N1 4ml over 1m",
	"tool SEAM", "deair SEAM", "disturb SEAM because of a sleeve", "scuff SEAM", "heat SEAM over 5m surface 40",
	"coat SEAM solventborne over 4m", "undercoat SEAM epoxy-primer dry 30m", "wax SEAM", "water-test SEAM tight", "water-test SEAM",
	"inspect SEAM accepted", "inspect SEAM", "rework SEAM because of a gap", "elsewhere SEAM laid by someone paper none", "elsewhere SEAM tested by someone paper none",
	"wait 7m", "wait 40m", "wait 12h", "wait 50h", "probe bay-1 14", "probe bay-1 24", "read bay-1 34",
}

// TestStagesChangeLegally: whatever happens to a seam, coated or exposed, its
// stage changes only as its kind allows, and a fact that does not fit leaves
// it as it was and says so.
func TestStagesChangeLegally(t *testing.T) {
	for _, seam := range []string{"2207/rd", "2207/floor"} {
		t.Run(seam, func(t *testing.T) {
			rapid.Check(t, func(rt *rapid.T) {
				p := shop(t)
				p.do(seams + "\nprobe bay-1 21 every 30m\nprobe booth-1 dies\nunpack C1 from L-mb\nunpack C2 from L-sl")
				for range rapid.IntRange(1, 25).Draw(rt, "steps") {
					p.do(strings.ReplaceAll(rapid.SampledFrom(steps).Draw(rt, "step"), "SEAM", seam))
				}
				for _, bad := range illegal(p.core.Events(), floor.SeamID(seam)) {
					rt.Error(bad)
				}
			})
		})
	}
}

// illegal folds a journal again, event by event, and tells which change of a
// seam's stage was not legal.
func illegal(events []floor.Event, id floor.SeamID) (bad []string) {
	f := floor.New()
	var was floor.Stage
	for _, ev := range events {
		if err := f.Apply(ev); err != nil {
			return []string{err.Error()}
		}
		var is floor.Stage
		if s := f.Seam(id); s != nil {
			is = s.Stage
		}
		kind := ev.Type()[strings.LastIndexByte(ev.Type(), '.')+1:]
		change := fmt.Sprintf("%s>%s", was, is)
		if is != was && !slices.Contains(legal[kind], change) {
			bad = append(bad, fmt.Sprintf("%s changed the stage %s", kind, change))
		}
		for _, s := range f.SeamFindings(id) {
			if s.Rule == "stage-misfit" && s.About == ev.Seq && is != was {
				bad = append(bad, fmt.Sprintf("%s does not fit and changed the stage %s: %s", kind, change, s.Reason))
			}
		}
		was = is
	}
	return bad
}

// TestALifeOfACoatedSeam goes through all stages in their order.
func TestALifeOfACoatedSeam(t *testing.T) {
	p := shop(t)
	for _, s := range []struct {
		do   string
		want floor.Stage
	}{
		{"survey 2207/a \"roof ditch\" L panel roof level coated epoxy-primer length 900 like before-tear-down self-levelling levelled grey 12x2", floor.Surveyed},
		{"plan 2207/a sl-grey levelled direct-bead 12x2 20ml", floor.Planned},
		{"wait 31m prep 2207/a epoxy-primer", floor.Prepped},
		{"job 2207 red-hatchback colour red coats waterborne\n" + ready("L-sl") + "wait 3m lay 2207/a cartridge C1 nozzle N1 over 2m", floor.Flowing},
		{"wait 20m", floor.Laid},
		{"wait 60m", floor.Open},
		{"wait 60h", floor.Closed},
		{"scuff 2207/a", floor.Open},
		{"wait 30m coat 2207/a waterborne over 8m", floor.Cured}, // it had cured in the meantime
		{"water-test 2207/a tight", floor.Tested},
		{"inspect 2207/a accepted", floor.Accepted},
		{"water-test 2207/a a drop", floor.Cured},
		{"rework 2207/a because it leaks", floor.Prepped},
	} {
		p.do(s.do)
		if got := p.floor().Seam("2207/a").Stage; got != s.want {
			t.Fatalf("after %q it is %s, want %s", s.do, got, s.want)
		}
	}
	// Coated before it has cured it is coated first.
	p.do("fit N2 on C1\npurge C1 2ml\nwait 2m lay 2207/a cartridge C1 nozzle N2 over 2m\nwait 90m coat 2207/a waterborne over 8m")
	if got := p.floor().Seam("2207/a").Stage; got != floor.CoatedOn {
		t.Errorf("coated and not yet cured it is %s", got)
	}
}

// TestTypesThatTheFoldDoesNotKnowStopIt: a program that is too old does not
// go on.
func TestTypesThatTheFoldDoesNotKnowStopIt(t *testing.T) {
	f := floor.New()
	err := f.Apply(floor.Event{Seq: 1, Body: &boothv1.Reason{Name: "x"}})
	if err == nil || !strings.Contains(err.Error(), "seamwright.booth.v1.Reason") {
		t.Errorf("an unknown type gives %v", err)
	}
	if err := floor.New().Apply(floor.Event{Seq: 2, Body: &jobsv1.JobDelivered{Ro: "1"}}); err == nil {
		t.Error("an event out of turn is applied")
	}
	if err := floor.New().Apply(floor.Event{Seq: 1, Body: &curesv1.ReadingTaken{ZoneId: "nowhere"}}); err != nil {
		t.Errorf("a reading of a zone that was withdrawn stops the fold: %v", err)
	}
}
