package floor

import (
	"strconv"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/fault"
)

// withdraw takes a fact back: it never happened.
func (fl *Floor) withdraw(seq uint64) error {
	if seq == 0 || seq > uint64(len(fl.log)) {
		return nil
	}
	e := &fl.log[seq-1]
	if e.withdrawn {
		return nil
	}
	e.withdrawn = true
	fl.lapseOf(seq)
	ev := e.ev
	return fl.takeOut(&ev)
}

// lapseOf lets the findings about a fact lapse.
func (fl *Floor) lapseOf(seq uint64) {
	for _, id := range fl.byFact[seq] {
		fl.findings[id].Lapsed = true
	}
}

// takeOut removes an event from the histories that it stands in.
func (fl *Floor) takeOut(ev *Event) error {
	switch b := ev.Body.(type) {
	case *curesv1.ReadingTaken:
		return fl.unread(b, ev.Seq)
	case *jobsv1.FindingDisposed:
		fl.undispose(b, ev.Seq)
		return nil
	}
	e := &fl.log[ev.Seq-1]
	ps := e.placed
	for _, p := range ps {
		fl.book.remove(p.k, ev.Seq)
	}
	e.placed = nil
	return fl.refresh(ps)
}

// correct replaces a fact's body, its time, or both.
func (fl *Floor) correct(b *jobsv1.FactCorrected, by *Event) error {
	seq := b.GetSequence()
	if seq == 0 || seq > uint64(len(fl.log)) || fl.log[seq-1].withdrawn {
		return nil
	}
	ev, err := corrected(fl.log[seq-1].ev, b, by.Header)
	if err != nil {
		return err
	}
	fl.lapseOf(seq)
	old := fl.log[seq-1].ev
	if err := fl.takeOut(&old); err != nil {
		return err
	}
	fl.log[seq-1].ev = ev
	switch body := ev.Body.(type) {
	case *curesv1.ReadingTaken:
		return fl.read(body, &ev)
	case *materialsv1.ProductDefined:
		if err := fl.keepRevision(body, seq); err != nil {
			return err
		}
	}
	return fl.putIn(seq)
}

// corrected is an event as a correction makes it.
func corrected(ev Event, b *jobsv1.FactCorrected, by Header) (Event, error) {
	if b.GetRetime() {
		ev.Occurred, ev.Earliest, ev.Latest = by.Occurred, by.Earliest, by.Latest
	}
	if b.GetBody() == nil {
		return ev, nil
	}
	m, err := b.GetBody().UnmarshalNew()
	if err != nil {
		return ev, fault.Wrap(err, fault.Invalid, "bad-correction", "send the corrected body as a message of the fact's own type")
	}
	if m.ProtoReflect().Descriptor() != ev.Body.ProtoReflect().Descriptor() {
		return ev, fault.Bad("fact_corrected.body", m.ProtoReflect().Descriptor().FullName(),
			"must be of the fact's own type "+ev.Type())
	}
	ev.Body = m
	return ev, nil
}

// seqOf is the sequence of the event that a finding stands in.
func seqOf(id FindingID) uint64 {
	seq, err := strconv.ParseUint(id.event(), 10, 64)
	if err != nil {
		return 0
	}
	return seq
}
