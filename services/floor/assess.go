package floor

import (
	"cmp"
	"slices"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/calc/spec"
)

// Assess says what is wrong about an event that is about to be recorded, and
// what it changes about facts that happened after it: findings about those
// are raised or lapse with it. The floor is not changed.
func (fl *Floor) Assess(ev *Event) *floorv1.Assessment {
	a := &assessor{fl: fl, book: newBook(fl.book), ev: ev, out: &floorv1.Assessment{}}
	switch b := ev.Body.(type) {
	case *jobsv1.FactWithdrawn:
		a.withdraw(b.GetSequence())
	case *jobsv1.FactCorrected:
		a.correct(b)
	case *jobsv1.FindingDisposed:
	case *curesv1.ReadingTaken:
		for _, f := range fl.readingFindings(b, ev) {
			a.raise(f)
		}
	default:
		a.insert(ev, 0)
	}
	if r, ok := ev.Body.(*jobsv1.SeamReworked); ok {
		a.redone(SeamID(r.GetSeamId()))
	}
	a.sort()
	return a.out
}

// assessor looks at what the floor would be like with one more event.
type assessor struct {
	fl   *Floor
	book *book
	ev   *Event
	out  *floorv1.Assessment
}

func (a *assessor) raise(f Finding) { a.out.Findings = append(a.out.Findings, f.Proto()) }

// insert puts an event into the histories and judges it and what came after
// it. about is the event's sequence as its findings name it, 0 for the event
// that is being decided.
func (a *assessor) insert(ev *Event, about uint64) {
	ps := a.fl.place(ev)
	for _, p := range ps {
		a.book.insert(p.k, p.f)
	}
	for _, f := range a.judge(ps) {
		f.About = about
		a.raise(f)
	}
	a.recheck(ps)
}

// judge collects what is wrong about an event over all things that it
// concerns, each finding once.
func (a *assessor) judge(ps []placed) []Finding {
	var out []Finding
	for _, p := range ps {
		for _, f := range a.check(p) {
			if !slices.ContainsFunc(out, func(o Finding) bool { return o.Rule == f.Rule && o.Subject == f.Subject }) {
				out = append(out, f)
			}
		}
	}
	return out
}

// recheck judges the facts that stand behind the given ones again, and those
// that lean on them whenever they happened.
func (a *assessor) recheck(ps []placed) {
	seen := map[uint64]bool{a.ev.Seq: true}
	later := a.leaning(ps)
	for _, seq := range later {
		seen[seq] = true
	}
	for _, p := range ps {
		for _, f := range a.book.of(p.k) {
			if !seen[f.seq] && compareFacts(f, p.f) > 0 && reconsidered(f) {
				seen[f.seq] = true
				later = append(later, f.seq)
			}
		}
	}
	slices.Sort(later)
	for _, seq := range later {
		a.compare(seq)
	}
}

// reconsidered: facts whose findings hang on what came before them.
func reconsidered(f *fact) bool { return assessable(f.body) }

// compare raises what is newly wrong about an earlier recorded fact and lets
// lapse what no longer is.
func (a *assessor) compare(seq uint64) {
	ev, counts, ok := a.fl.Event(seq)
	if !ok || !counts {
		return
	}
	now := a.judge(a.fl.place(&ev))
	var old []*FindingState
	for _, id := range sortedFindings(a.fl.findings) {
		if s := a.fl.findings[id]; s.About == seq && !s.Lapsed && !raisedByTime(a.fl, s) {
			old = append(old, s)
		}
	}
	for _, f := range now {
		if !slices.ContainsFunc(old, func(s *FindingState) bool { return s.Rule == f.Rule && s.Subject == f.Subject }) {
			f.About = seq
			a.raise(f)
		}
	}
	for _, s := range old {
		if !slices.ContainsFunc(now, func(f Finding) bool { return s.Rule == f.Rule && s.Subject == f.Subject }) {
			a.out.Lapsed = append(a.out.Lapsed, string(s.ID))
		}
	}
}

func sortedFindings(m map[FindingID]*FindingState) []FindingID {
	ids := make([]FindingID, 0, len(m))
	for id := range m {
		ids = append(ids, id)
	}
	slices.SortFunc(ids, compareFindingIDs)
	return ids
}

// raisedByTime reports whether a finding came by an event of its own.
func raisedByTime(fl *Floor, s *FindingState) bool {
	ev, _, ok := fl.Event(seqOf(s.ID))
	if !ok {
		return false
	}
	_, own := ev.Body.(*jobsv1.FindingRaised)
	return own
}

// withdraw judges what came after a fact as if it had never happened.
func (a *assessor) withdraw(seq uint64) {
	ev, _, ok := a.fl.Event(seq)
	if !ok {
		return
	}
	ps := a.fl.place(&ev)
	for _, p := range ps {
		a.book.remove(p.k, seq)
	}
	a.recheck(ps)
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
	was := a.fl.place(&old)
	for _, p := range was {
		a.book.remove(p.k, old.Seq)
	}
	if r, ok := fixed.Body.(*curesv1.ReadingTaken); ok {
		for _, f := range a.fl.readingFindings(r, &fixed) {
			f.About = old.Seq
			a.raise(f)
		}
		return
	}
	a.insert(&fixed, old.Seq)
	a.recheck(was)
}

// redone: what was wrong with the bead that was removed no longer matters.
func (a *assessor) redone(id SeamID) {
	for _, s := range a.fl.SeamFindings(id) {
		if ev, _, ok := a.fl.Event(s.About); s.Open() && ok && !ev.Occurred.After(a.ev.Occurred) {
			a.out.Lapsed = append(a.out.Lapsed, string(s.ID))
		}
	}
}

// sort gives the assessment one order, whatever maps were walked.
func (a *assessor) sort() {
	slices.SortStableFunc(a.out.Findings, func(x, y *floorv1.Finding) int {
		return cmp.Or(cmp.Compare(x.GetAboutSequence(), y.GetAboutSequence()), cmp.Compare(x.GetSubject(), y.GetSubject()), cmp.Compare(x.GetRule(), y.GetRule()))
	})
	a.out.Findings = slices.CompactFunc(a.out.Findings, func(x, y *floorv1.Finding) bool {
		return x.GetAboutSequence() == y.GetAboutSequence() && x.GetSubject() == y.GetSubject() && x.GetRule() == y.GetRule()
	})
	slices.Sort(a.out.Lapsed)
	a.out.Lapsed = slices.Compact(a.out.Lapsed)
}

// check judges one fact as it concerns one thing.
func (a *assessor) check(p placed) []Finding {
	kind, id := p.k.split()
	switch kind {
	case "seam":
		return a.checkSeam(SeamID(id), p.f)
	case "cartridge":
		return a.checkCartridge(CartridgeID(id), p.f)
	case "lot":
		return a.checkLot(p.f)
	case "job":
		return a.checkJob(RO(id), p.f)
	case "load":
		return a.checkLoad(LoadID(id), p.f)
	}
	return nil
}

// checkSeam judges a fact about a seam against what the seam was before it.
func (a *assessor) checkSeam(id SeamID, f *fact) []Finding {
	facts := a.book.upTo(id.key(), f)
	before := a.fl.foldSeam(a.book, id, facts)
	after := a.fl.foldSeam(a.book, id, append(slices.Clip(facts), f))
	c := seamCheck{a: a, s: before, after: after, f: f}
	if why := after.misfits[f.seq]; why != "" {
		c.add("stage-misfit", spec.Query, "Recorded, but it does not fit: "+why+".", spec.CommonPractice)
		return c.out
	}
	c.run()
	return c.out
}
