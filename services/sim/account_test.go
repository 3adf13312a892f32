package sim

import (
	"testing"

	floorv1 "seamwright/proto/seamwright/floor/v1"
)

// raisedAt is an assessment that raises one finding about a fact.
func raisedAt(d due) *floorv1.Assessment {
	return &floorv1.Assessment{Findings: []*floorv1.Finding{{Rule: d.rule, Subject: d.subject, Severity: d.severity, AboutSequence: d.about}}}
}

// A bead's finding that hangs on the air is raised by a later fact and lapses
// when the bead is removed, before the watchers come to either event. The
// older event, read then, does not bring it back: the bead is gone, whatever
// the air was.
func TestAnEventReadLateRaisesNothingAboutARemovedBead(t *testing.T) {
	d := due{rule: "near-dew-point", subject: "seam/3202/th", severity: query, about: 7}
	a := newAccount()
	a.again[d.key()] = func() bool { return true }
	a.add(d)
	a.reworked(d.subject)
	a.judgedAgain(raisedAt(d), 12)
	if f := a.findings[d.key()]; !f.lapsed || f.open() {
		t.Errorf("event 12 was read after the bead was removed: lapsed %t, open %t; want lapsed and not open", f.lapsed, f.open())
	}
	a.judgedAgain(&floorv1.Assessment{Lapsed: []string{"12.1"}}, 15)
	if f := a.findings[d.key()]; !f.lapsed {
		t.Error("the event that the bead was removed with was read, and its finding stands again")
	}
}

// Nor does it bring back what was wrong about a fact that was withdrawn.
func TestAnEventReadLateRaisesNothingAboutAWithdrawnFact(t *testing.T) {
	d := due{rule: "below-product-temperature", subject: "seam/3202/th", severity: query, about: 7}
	a := newAccount()
	a.again[d.key()] = func() bool { return true }
	a.add(d)
	a.withdrawn(d.about)
	a.judgedAgain(raisedAt(d), 7)
	if f := a.findings[d.key()]; !f.lapsed {
		t.Error("the fact was withdrawn, and a finding about it stands")
	}
}

// What lapsed because of the air, or because its fact was corrected, is raised
// again when by all that is known now it holds, and only then.
func TestAFindingThatHangsOnTheAirIsRaisedAgain(t *testing.T) {
	d := due{rule: "near-dew-point", subject: "seam/3202/th", severity: query, about: 7}
	holds := true
	a := newAccount()
	a.again[d.key()] = func() bool { return holds }
	a.add(d)
	a.judgedAgain(raisedAt(d), 7)
	for i, c := range []struct{ lapse func() }{
		{func() { a.judgedAgain(&floorv1.Assessment{Lapsed: []string{"7.1"}}, 9) }},
		{func() { a.lapse(d.about) }},
	} {
		holds = false
		c.lapse()
		a.judgedAgain(raisedAt(d), 10)
		if !a.findings[d.key()].lapsed {
			t.Errorf("case %d: raised by an event, though by the air it does not hold: it stands", i)
		}
		holds = true
		a.judgedAgain(raisedAt(d), 11)
		if a.findings[d.key()].lapsed {
			t.Errorf("case %d: raised by an event, and by the air it holds: it does not stand", i)
		}
	}
}
