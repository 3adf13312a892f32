package floor

import (
	"google.golang.org/protobuf/proto"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

// withdraw judges what came after a fact as if it had never happened.
func (a *assessor) withdraw(seq uint64) {
	ev, _, ok := a.fl.Event(seq)
	if !ok {
		return
	}
	ps := a.takeOut(seq)
	a.recheck(ps)
	a.revive(ev.Body)
}

// takeOut takes a fact out of the histories that it stands in.
func (a *assessor) takeOut(seq uint64) []placed {
	ps := a.fl.log[seq-1].placed
	for _, p := range ps {
		a.book.remove(p.k, seq)
	}
	a.skip = seq
	return ps
}

// revive raises again what time had brought and a fact that never happened
// let lapse. What was wrong at a fact is found again by judging it.
func (a *assessor) revive(m proto.Message) {
	for _, id := range assessmentOf(m).GetLapsed() {
		s := a.fl.findings[FindingID(id)]
		if s == nil || !raisedByTime(a.fl, s) {
			continue
		}
		if _, counts, ok := a.fl.Event(s.About); ok && counts {
			a.raise(s.Finding)
		}
	}
}

// correct judges a fact in its right form, and what came after it.
func (a *assessor) correct(b *jobsv1.FactCorrected) {
	old, _, ok := a.fl.Event(b.GetSequence())
	if !ok {
		return
	}
	fixed, err := corrected(old, b, a.ev.Header)
	if err != nil {
		return // refused by Decide before
	}
	was := a.takeOut(old.Seq)
	if r, ok := fixed.Body.(*curesv1.ReadingTaken); ok {
		for _, f := range a.fl.readingFindings(r, &fixed) {
			f.About = old.Seq
			a.raise(f)
		}
		return
	}
	a.insert(&fixed, old.Seq)
	a.recheck(was)
	a.revive(old.Body)
}
