package floor_test

import (
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/anypb"
	"google.golang.org/protobuf/types/known/durationpb"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

func live(actor string, role floorv1.Role, id string) *floorv1.Stamp {
	return &floorv1.Stamp{
		CommandId: id, Actor: actor, Role: role, Terminal: "tab-1",
		Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE, Length: durationpb.New(0)},
	}
}

// TestTheSameCommandTakesEffectOnce: the floor remembers every command id
// that it ever applied (I8).
func TestTheSameCommandTakesEffectOnce(t *testing.T) {
	p := shop(t)
	p.do(seams)
	c := floor.Command{Stamp: live("Robin", floorv1.Role_ROLE_TECHNICIAN, "press-0001"), Body: &jobsv1.SeamScuffed{SeamId: "2207/hem"}}
	first, err := p.core.Tell(c)
	if err != nil {
		t.Fatal(err)
	}
	p.do("wait 24h")
	before := p.floor().Seq()
	again, err := p.core.Tell(c)
	if err != nil || !again.GetRepeated() || again.GetSequence() != first.GetSequence() || p.floor().Seq() != before {
		t.Errorf("told again: %v, %v; the journal went from %d to %d", again, err, before, p.floor().Seq())
	}
	if seq, ok := p.floor().Taken("press-0001"); !ok || seq != first.GetSequence() {
		t.Errorf("the id stands at %d, %v", seq, ok)
	}
	if _, ok := p.floor().Taken("press-0002"); ok {
		t.Error("an id that nobody used is taken")
	}
}

// TestDecideLeavesTheFloorAlone: a decision is a question.
func TestDecideLeavesTheFloorAlone(t *testing.T) {
	p := shop(t)
	p.do(seams + "\n" + ready("L-mb") + layHem)
	f := p.floor()
	before := f.Hash()
	body := &jobsv1.BeadLaid{SeamId: "2207/rip", Layer: floorv1.Layer_LAYER_BEAD, CartridgeId: "C1", NozzleId: "N1"}
	told := proto.Clone(body)
	ev, err := f.Decide(floor.Command{Stamp: live("Robin", floorv1.Role_ROLE_TECHNICIAN, "press-0001"), Body: body}, p.core.Now())
	if err != nil {
		t.Fatal(err)
	}
	if f.Hash() != before || !proto.Equal(body, told) {
		t.Error("a decision changed the floor or what was told")
	}
	if ev.Seq != f.Seq()+1 || ev.Aggregate != "seam.2207.rip" || ev.Rules != floor.RulesVersion {
		t.Errorf("event %d of %q by rules %q", ev.Seq, ev.Aggregate, ev.Rules)
	}
	if got := ev.Body.(*jobsv1.BeadLaid).GetPlannedMl(); got != 25 {
		t.Errorf("the planned volume is %.1f ml, want the plan's 25", got)
	}
}

// TestAClockThatWentBack: the floor never goes back; an event gets the moment
// of the newest one.
func TestAClockThatWentBack(t *testing.T) {
	p := shop(t)
	ev, err := p.floor().Decide(floor.Command{Stamp: live("Robin", floorv1.Role_ROLE_TECHNICIAN, "press-0001"), Body: &jobsv1.CarMoved{Ro: "2207", ZoneId: "bay-2"}},
		p.core.Now().Add(-time.Hour))
	if err != nil || !ev.Received.Equal(p.floor().Last()) {
		t.Errorf("received %s, %v; the floor heard something at %s", ev.Received, err, p.floor().Last())
	}
}

// TestWhatIsRefused: only what cannot be placed, and what is not the actor's
// to give. The error says which.
func TestWhatIsRefused(t *testing.T) {
	for _, c := range []struct{ name, do, says string }{
		{"a job that is not open", "survey 2299/a \"sill joint\" L panel sill vertical coated e-coat", `job "2299" is not known`},
		{"a seam that is not surveyed", "prep 2207/nothing e-coat", `seam "2207/nothing" is not known`},
		{"a plan with an unknown product", "plan 2207/hem nothing round direct-bead 6x3 5ml", `product "nothing" is not known`},
		{"a zone that is not defined", "car 2207 nowhere", "known are bay-1"},
		{"a load with another job's seam", "job 2208 van\nload B of 2208 in booth-1 seams 2207/hem", "a load is one job's"},
		{"a load of another job", loadA + "job 2208 van\nload A of 2208 in booth-1", "belongs to job 2207"},
		{"an answer by a technician", ready("L-mb") + layHem + "\ndisturb 2207/hem because x\nRobin: answer bead-disturbed on seam/2207/hem accept because y", "answered by a foreman"},
		{"a withdrawal twice", "scuff 2207/hem named s\nwithdraw s because x\nwithdraw s because y", "was withdrawn before"},
		{"a correction into another thing", "prep 2207/hem e-coat named s\ncorrect s to prep 2207/rd e-coat because x", "must be about the same thing"},
		{"an age signed by a technician", "Robin: scuff 2207/hem signed 5m", "signed by a foreman"},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := shop(t)
			p.do(seams)
			before := p.floor().Seq()
			out := p.do(c.do)
			if !strings.Contains(out, "refused") || !strings.Contains(out, c.says) {
				t.Errorf("the shop said %q, want a refusal with %q; the journal went from %d to %d", out, c.says, before, p.floor().Seq())
			}
		})
	}
}

// TestWhatIsNotCorrected: another type, and what no person told. An answer is
// given again by who may give it, or a technician could turn a foreman's redo
// into an override.
func TestWhatIsNotCorrected(t *testing.T) {
	p := shop(t)
	p.do(seams + "\nscuff 2207/hem named s\n" + ready("L-mb") + layHem +
		"\ndisturb 2207/hem because x\nFrank: answer bead-disturbed on seam/2207/hem redo because y named a\nwait 60m")
	override, err := anypb.New(&jobsv1.FindingDisposed{
		FindingId: string(p.holding("bead-disturbed")[0].ID), Disposition: floorv1.Disposition_DISPOSITION_OVERRIDE, Reason: "z",
	})
	if err != nil {
		t.Fatal(err)
	}
	window := uint64(0)
	for _, ev := range p.core.Events() {
		if _, ok := ev.Body.(*curesv1.WindowOpened); ok {
			window = ev.Seq
		}
	}
	body, err := anypb.New(&jobsv1.BeadDeaired{SeamId: "2207/hem"})
	if err != nil {
		t.Fatal(err)
	}
	for name, b := range map[string]*jobsv1.FactCorrected{
		"another type":       {Sequence: p.script.Fact("s"), Why: "x", Body: body},
		"nothing to correct": {Sequence: p.script.Fact("s"), Why: "x"},
		"no such fact":       {Sequence: 9999, Why: "x", Retime: true},
		"an answer":          {Sequence: p.script.Fact("a"), Why: "x", Body: override},
		"what time brought":  {Sequence: window, Why: "x", Retime: true},
	} {
		_, err := p.floor().Decide(floor.Command{Stamp: live("Robin", floorv1.Role_ROLE_TECHNICIAN, "press-0009"), Body: b}, p.core.Now())
		if k := fault.KindOf(err); err == nil || k != fault.Invalid && k != fault.NotFound {
			t.Errorf("%s gives %v", name, err)
		}
	}
}

// TestLateFactsRaiseAndLetLapse: what is wrong about a fact changes with what
// is learned about the time before it.
func TestLateFactsRaiseAndLetLapse(t *testing.T) {
	for _, c := range []struct {
		name, first, late string
		rule              string
		raised            bool
	}{
		{"a nozzle that was changed in the pause", ready("L-mb") + "wait 20m lay 2207/hem cartridge C1 nozzle N1 over 1m", "fit N1 on C1 measured 6m\npurge C1 measured 4m", "nozzle-gelled", false},
		{"a pause that nobody had told of", "unpack C1 from L-mb\nequalise C1\nfit N1 on C1\nwait 12m lay 2207/hem cartridge C1 nozzle N1 over 1m", "purge C1 measured 11m", "nozzle-gelled", true},
		{"a delivery that was out of date", "unpack C1 from L-new\nequalise C1\nfit N1 on C1\npurge C1\n" + layHem, "lot L-new of mb-grey cartridges 3 expires 2026-03-01", "lot-out-of-date", true},
		{"a recall", ready("L-mb") + layHem, "recall L-mb because it is soft", "lot-recalled", true},
		{"an undercoat that was still wet", ready("L-sl") + "wait 3m lay 2207/rd cartridge C1 nozzle N1 over 1m", "undercoat 2207/rd epoxy-primer dry 30m measured 20m", "undercoat-not-dry", true},
		{"a scuff before the seal", "undercoat 2207/rd epoxy-primer recoat 30m\nwait 40m " + "\n" + ready("L-sl") + "wait 3m lay 2207/rd cartridge C1 nozzle N1 over 1m", "scuff 2207/rd measured 5m", "undercoat-past-recoat", false},
		{"prep that was told late", "survey 2207/n \"sill joint\" L panel sill vertical coated e-coat length 500\n" + ready("L-mb") + "wait 2m lay 2207/n cartridge C1 nozzle N1 5ml over 1m", "prep 2207/n e-coat measured 10m", "not-prepped", false},
		{"a wet bed that was told late", "prep 2207/rip bare-steel\n" + ready("L-mb") + "wait 4m lay 2207/rip direct-bead cartridge C1 nozzle N1 9ml over 1m", "lay 2207/rip bed cartridge C1 nozzle N1 5ml over 1m measured 3m", "ripple-bare-metal", false},
		{"a car that had stood in the yard", "probe yard 2 rh 80 every 5m\n" + ready("L-mb") + layHem, "car 2207 bay-1 measured 4m\ncar 2207 yard measured 30m", "below-product-temperature", true},
		{"a scuff before the coat", ready("L-mb") + layHem + "\nat 2026-03-04 16:00 coat 2207/hem solventborne over 10m", "scuff 2207/hem measured 30m", "coat-after-close", false},
		{"a bead laid earlier than told", "wait 90m\n" + ready("L-mb") + layHem + " named b\nwait 50m coat 2207/hem waterborne over 5m", "retime b measured 80m because it was before breakfast", "coat-before-open", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := shop(t)
			p.do(seams)
			p.do(c.first)
			if got := len(p.holding(c.rule)) > 0; got == c.raised {
				t.Fatalf("%s before the late fact: %v", c.rule, got)
			}
			p.do(c.late)
			if got := len(p.holding(c.rule)) > 0; got != c.raised {
				t.Errorf("%s after the late fact: %v, want %v; holding %v", c.rule, got, c.raised, wrongs(p.floor()))
			}
		})
	}
}

// TestAnswers: what a foreman answers, what that orders, and what taking it
// back brings.
func TestAnswers(t *testing.T) {
	disturbed := ready("L-mb") + layHem + "\ndisturb 2207/hem because of a sleeve\n"
	open := func(p *played) bool {
		s := p.holding("bead-disturbed")
		return len(s) > 0 && s[0].Open()
	}
	for _, c := range []struct {
		name, do string
		open     bool
	}{
		{"nobody answered", "", true},
		{"accepted", "answer bead-disturbed on seam/2207/hem accept because it was only touched", false},
		{"overridden", "answer bead-disturbed on seam/2207/hem override because the customer waits", false},
		{"scuff ordered", "answer bead-disturbed on seam/2207/hem scuff because of dust", true},
		{"scuff ordered and done", "answer bead-disturbed on seam/2207/hem scuff because of dust\nscuff 2207/hem", false},
		{"scuffed before the order", "scuff 2207/hem\nanswer bead-disturbed on seam/2207/hem scuff because of dust", true},
		{"scuff ordered, done and withdrawn", "answer bead-disturbed on seam/2207/hem scuff because of dust\nscuff 2207/hem named s\nwithdraw s because it was the other door", true},
		{"redo ordered", "answer bead-disturbed on seam/2207/hem redo because it is torn", true},
		{"redo ordered and scuffed only", "answer bead-disturbed on seam/2207/hem redo because it is torn\nscuff 2207/hem", true},
		{"redo ordered and done", "answer bead-disturbed on seam/2207/hem redo because it is torn\nrework 2207/hem because it is torn", false},
		{"redo ordered, done and withdrawn", "answer bead-disturbed on seam/2207/hem redo because it is torn\nrework 2207/hem because it is torn named r\nwithdraw r because it was the other door", true},
		{"accepted, and the answer taken back", "Frank: answer bead-disturbed on seam/2207/hem accept because x named a\nwithdraw a because it was another car", true},
		{"redo, then accepted, and that taken back", "answer bead-disturbed on seam/2207/hem redo because x\nFrank: answer bead-disturbed on seam/2207/hem accept because y named a\nwithdraw a because z", true},
		{"reworked without an answer", "rework 2207/hem because it is torn", false},
		{"reworked without an answer, and that withdrawn", "rework 2207/hem because it is torn named r\nwithdraw r because it was the other door", true},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := shop(t)
			p.do(seams + "\n" + disturbed)
			p.do("wait 1m " + "\n" + c.do)
			if got := open(p); got != c.open {
				t.Errorf("open is %v, want %v: %v", got, c.open, wrongs(p.floor()))
			}
		})
	}
	p := shop(t)
	p.do(seams + "\n" + disturbed + "answer bead-disturbed on seam/2207/hem redo because x\nFrank: answer bead-disturbed on seam/2207/hem accept because y named a\nwithdraw a because z")
	if s := p.holding("bead-disturbed")[0]; s.Answer != floorv1.Disposition_DISPOSITION_REDO || s.AnswerText != "x" {
		t.Errorf("with the second answer taken back the first holds again, not %v %q", s.Answer, s.AnswerText)
	}
}

// TestPermits: one runs a booth; spraying uses it up, whatever the terminal
// named, and a terminal that was late is judged by the permit of then.
func TestPermits(t *testing.T) {
	p := shop(t)
	p.do(seams + "\n" + laidHem() + loadA + "permit A\nwait 1m")
	if pm := p.floor().Permit("booth-1"); pm == nil || pm.Load != "A" {
		t.Fatalf("running: %+v", pm)
	}
	p.do("spray A named s")
	if pm := p.floor().Permit("booth-1"); pm != nil {
		t.Errorf("sprayed, %s still runs", pm.ID)
	}
	if l := p.floor().Load("A"); l.Permit != "P1" || l.Sprayed.IsZero() {
		t.Errorf("the load was sprayed %s under %q", l.Sprayed, l.Permit)
	}
	if w := p.holding("sprayed-without-permit"); len(w) != 0 {
		t.Errorf("findings: %v", w)
	}

	// Offline: begun while the permit ran, told after it was given back.
	p = shop(t)
	p.do(seams + "\n" + laidHem() + loadA + "permit A\nwait 3m return A\nwait 10m spray A measured 12m")
	if w := p.holding("sprayed-without-permit"); len(w) != 0 {
		t.Errorf("begun under a permit: %v", w[0].Reason)
	}
	if l := p.floor().Load("A"); l.Permit != "P1" {
		t.Errorf("it was begun under %q, want P1", l.Permit)
	}
	// Begun after it was given back.
	p = shop(t)
	p.do(seams + "\n" + laidHem() + loadA + "permit A\nwait 3m return A\nwait 10m spray A measured 5m")
	if w := p.holding("sprayed-without-permit"); len(w) != 1 {
		t.Errorf("begun after the permit: %v", wrongs(p.floor()))
	}
	// A permit for another load is none, and stays.
	p = shop(t)
	p.do(seams + "\n" + laidHem() + loadA + "load B of 2207 in booth-1 seams 2207/hem\npermit A\nspray B permit P1")
	if w := p.holding("sprayed-without-permit"); len(w) != 1 || w[0].Thing() != "load/B" {
		t.Errorf("with another load's permit: %v", wrongs(p.floor()))
	}
}
