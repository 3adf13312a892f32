package sim

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

const (
	note  = floorv1.Severity_SEVERITY_NOTE
	query = floorv1.Severity_SEVERITY_QUERY
	stop  = floorv1.Severity_SEVERITY_STOP
)

// due is a finding that must be found.
type due struct {
	rule, subject string
	severity      floorv1.Severity
	about         uint64 // the fact it is about; 0: the one that is told
}

// predicted are the notes that the account predicts. Other notes are counted
// only: they explain, and hold nothing.
var predicted = map[string]bool{
	"waterborne-waits": true, "bare-metal-coated": true, "opened-out-of-date": true,
	"implausible-jump": true, "outside-limits": true, "exposed-in-load": true, "technique-not-planned": true,
	"product-not-planned": true, "colour-under-paint": true, "no-reference": true,
}

// finding is what the account expects of one finding.
type finding struct {
	due
	lapsed bool
	over   bool // its fact was withdrawn or its bead removed: nothing raises it again
	answer floorv1.Disposition
	done   bool // what the answer ordered was done
}

func (f *finding) open() bool {
	switch {
	case f.lapsed:
		return false
	case f.answer == floorv1.Disposition_DISPOSITION_UNSPECIFIED:
		return true
	case f.answer == floorv1.Disposition_DISPOSITION_SCUFF || f.answer == floorv1.Disposition_DISPOSITION_REDO:
		return !f.done
	}
	return false
}

func (d due) key() string { return fmt.Sprintf("%s|%s|%d", d.rule, d.subject, d.about) }

// account is what must be found, kept independently of the shop.
type account struct {
	findings map[string]*finding
	order    []string
	of       map[string][]*finding  // by subject
	ids      map[string]string      // keys by the shop's own names of findings
	again    map[string]func() bool // whether a finding that hangs on the air holds by all that is known now
}

func newAccount() *account {
	return &account{findings: map[string]*finding{}, of: map[string][]*finding{}, ids: map[string]string{}, again: map[string]func() bool{}}
}

func (a *account) add(d due) {
	if _, ok := a.findings[d.key()]; !ok {
		f := &finding{due: d}
		a.findings[d.key()], a.of[d.subject] = f, append(a.of[d.subject], f)
		a.order = append(a.order, d.key())
	}
}

// answered compares a fact's receipt with what is due about it.
func (a *account) answered(s *sim, r *floorv1.Receipt, want []due) {
	s.checks.count("account")
	missing := map[string]due{}
	for _, d := range want {
		if d.about == 0 {
			d.about = r.GetSequence()
		}
		missing[d.key()] = d
		a.add(d)
	}
	for _, f := range r.GetFindings() {
		d := due{f.GetRule(), f.GetSubject(), f.GetSeverity(), f.GetAboutSequence()}
		if d.about == 0 {
			d.about = r.GetSequence()
		}
		if w, ok := missing[d.key()]; ok {
			delete(missing, d.key())
			if w.severity != d.severity {
				s.broken("account", "finding %s of %s at event %d is a %s, due was a %s", d.rule, d.subject, d.about, word(d.severity), word(w.severity))
			}
			continue
		}
		if holds := a.again[d.key()]; d.about != r.GetSequence() && holds != nil && holds() {
			a.add(d) // another fact had it judged again, by readings that came since
			continue
		}
		if d.severity != note || predicted[d.rule] {
			s.broken("account", "extra finding %s (%s) of %s at event %d: %s", d.rule, word(d.severity), d.subject, r.GetSequence(), f.GetReason())
		}
	}
	for _, d := range inOrder(missing) {
		s.broken("account", "missing finding %s (%s) of %s at event %d", d.rule, word(d.severity), d.subject, r.GetSequence())
	}
}

func inOrder(m map[string]due) []due {
	var out []due
	for _, d := range m {
		out = append(out, d)
	}
	slices.SortFunc(out, func(x, y due) int { return cmp.Compare(x.key(), y.key()) })
	return out
}

// withdrawn says that a fact never happened: its findings lapse for good.
// Events that raised them may still be unread then.
func (a *account) withdrawn(about uint64) {
	for _, f := range a.findings {
		if f.about == about {
			f.lapsed, f.over = true, true
		}
	}
}

// lapse says that a fact's findings no longer hold.
func (a *account) lapse(about uint64) {
	for _, f := range a.findings {
		if f.about == about {
			f.lapsed = true
		}
	}
}

// lapseRule says that one finding about a fact no longer holds.
func (a *account) lapseRule(rule string, about uint64) {
	for _, f := range a.findings {
		if f.about == about && f.rule == rule {
			f.lapsed = true
		}
	}
}

// reworked: what was wrong with the bead that was removed no longer matters;
// an order to remove it stays in the report and is done. Events that raised
// the others may still be unread.
func (a *account) reworked(subject string) {
	for _, f := range a.of[subject] {
		switch {
		case f.answer == floorv1.Disposition_DISPOSITION_REDO:
			f.done = true
		case f.open():
			f.lapsed, f.over = true, true
		}
	}
}

// openOf counts a thing's open findings of a severity.
func (a *account) openOf(subject string, sev floorv1.Severity) int {
	n := 0
	for _, f := range a.of[subject] {
		if f.severity == sev && f.open() {
			n++
		}
	}
	return n
}

// waiting reports whether anything is due to be answered.
func (a *account) waiting() bool {
	for _, f := range a.findings {
		if f.severity != note && !f.lapsed && f.answer == floorv1.Disposition_DISPOSITION_UNSPECIFIED {
			return true
		}
	}
	return false
}

// compare sets the account against the whole list of findings. One that
// lapsed and was raised again stands in the list twice, once as lapsed.
func (a *account) compare(s *sim, list []*jobsv1.FindingState) {
	seen := map[string]*jobsv1.FindingState{}
	for _, st := range list {
		d := dueOf(st.GetFinding())
		s.checks.count("account")
		switch was := seen[d.key()]; {
		case was == nil || was.GetLapsed():
			seen[d.key()] = st
		case !st.GetLapsed():
			s.broken("account", "finding %s of %s about event %d stands twice", d.rule, d.subject, d.about)
		}
	}
	for _, k := range slices.Sorted(maps.Keys(seen)) {
		a.compareOne(s, seen[k])
	}
	for _, k := range a.order {
		if seen[k] == nil {
			d := a.findings[k].due
			s.broken("account", "missing finding %s (%s) of %s about event %d", d.rule, word(d.severity), d.subject, d.about)
		}
	}
}

func (a *account) compareOne(s *sim, st *jobsv1.FindingState) {
	d := dueOf(st.GetFinding())
	want, ok := a.findings[d.key()]
	switch {
	case !ok && (d.severity != note || predicted[d.rule]) && d.about > s.began:
		s.broken("account", "extra finding %s (%s) of %s about event %d: %s", d.rule, word(d.severity), d.subject, d.about, st.GetFinding().GetReason())
	case ok && st.GetLapsed() != want.lapsed:
		s.broken("account", "finding %s of %s about event %d: lapsed %t, due was %t", d.rule, d.subject, d.about, st.GetLapsed(), want.lapsed)
	case ok && st.GetOpen() != want.open():
		s.broken("account", "finding %s of %s about event %d: open %t, due was %t", d.rule, d.subject, d.about, st.GetOpen(), want.open())
	}
}

// dueOf is a finding as the shop tells it.
func dueOf(f *floorv1.Finding) due {
	return due{f.GetRule(), f.GetSubject(), f.GetSeverity(), f.GetAboutSequence()}
}

// judgedAgain takes in that the shop let findings lapse with an event. Only
// those that hang on the air may, when by all that is known now they do not
// hold; others are told by comparing.
func (a *account) judgedAgain(as *floorv1.Assessment, seq uint64) {
	for i, f := range as.GetFindings() {
		d := dueOf(f)
		if d.about == 0 {
			d.about = seq
		}
		a.ids[fmt.Sprintf("%d.%d", seq, i+1)] = d.key()
		if got := a.findings[d.key()]; got != nil && got.lapsed && !got.over && a.again[d.key()] != nil && a.again[d.key()]() {
			got.lapsed = false
		}
	}
	for _, id := range as.GetLapsed() {
		key := a.ids[id]
		if f, holds := a.findings[key], a.again[key]; f != nil && holds != nil && !holds() {
			f.lapsed = true
		}
	}
}

// hold is one reason to hold a load.
type hold struct{ name, subject string }

func (h hold) String() string { return h.name + " " + h.subject }

// asked compares the gate's answer with the reasons that are due.
func (a *account) asked(s *sim, l *load, want, got []hold) {
	missing := map[hold]bool{}
	for _, h := range want {
		missing[h] = true
	}
	for _, h := range got {
		if !missing[h] {
			s.broken("account", "extra hold %s over load %s", h, l.id)
		}
		delete(missing, h)
	}
	for _, h := range want {
		if missing[h] {
			s.broken(guarded(h.name), "load %s is not held by %s", l.id, h)
		}
	}
}

// guarded is the invariant that a reason to hold stands for.
func guarded(name string) string {
	switch name {
	case "coat-closed", "coat-may-close":
		return "I2"
	case "no-reading", "reading-stale", "reading-implausible":
		return "I3"
	case "journal-unhealthy", "clock-in-doubt", "clock-jumped", "gate-failed", "gate-paused", "fold-stopped", "unknown-event-type", "bad-record",
		"journal-gap", "record-changed", "records-lost", "records-unread", "follower-ended", "follower-behind", "journal-silent",
		"journal-closed", "journal-unwritable", "disk-full", "proof-not-kept", "keeper-stopped", "other-holder", "bus-silent":
		return "I4"
	case "permit-running":
		return "I5"
	}
	return "I1"
}

// word is an enum's value as the shop says it: "STOP" of SEVERITY_STOP.
func word(e fmt.Stringer) string {
	_, last, _ := strings.Cut(strings.ToLower(e.String()), "_")
	return last
}
