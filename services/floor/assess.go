package floor

import (
	"cmp"
	"maps"
	"slices"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
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
	a.sort()
	return a.out
}

// assessor looks at what the floor would be like with one more event.
type assessor struct {
	fl   *Floor
	book *book
	ev   *Event
	skip uint64 // the fact that is withdrawn or corrected: not judged as it was
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
// concerns, each finding once. What was wrong about a bead that was removed
// since no longer matters.
func (a *assessor) judge(ps []placed) []Finding {
	var out []Finding
	for _, p := range ps {
		if a.removed(p) {
			continue
		}
		for _, f := range a.check(p) {
			if !slices.ContainsFunc(out, func(o Finding) bool { return o.Rule == f.Rule && o.Subject == f.Subject }) {
				out = append(out, f)
			}
		}
	}
	return out
}

// removed reports whether the seam that a fact is about was reworked after
// it.
func (a *assessor) removed(p placed) bool {
	kind, _ := p.k.split()
	return kind == "seam" && slices.ContainsFunc(a.book.after(p.k, p.f), isRework)
}

// recheck judges again the facts that lean on the given ones.
func (a *assessor) recheck(ps []placed) {
	lean := map[uint64]bool{}
	for _, p := range ps {
		a.leaning(p, lean)
	}
	for _, seq := range slices.Sorted(maps.Keys(lean)) {
		if seq != a.ev.Seq && seq != a.skip {
			a.compare(seq)
		}
	}
}

// leaning notes the facts that lean on one: those behind it; those about a
// bead that it removed; all that came out of a cartridge, whose lot its opening
// tells; what a nozzle did on the cartridges that bore it; and
// what was done to a bead whose material was another than thought.
func (a *assessor) leaning(p placed, lean map[uint64]bool) {
	facts := a.book.after(p.k, p.f)
	if isRework(p.f) || opens(p) {
		facts = a.book.of(p.k)
	}
	facts = append(slices.Clip(facts), a.drawnFrom(p)...)
	if kind, id := p.k.split(); kind == "nozzle" {
		for _, c := range carriers(a.book, NozzleID(id)) {
			facts = append(facts, a.book.after(c.key(), p.f)...)
		}
	}
	for _, f := range facts {
		lean[f.seq] = lean[f.seq] || assessable(f.body)
		if f.lay != nil {
			for _, g := range a.book.after(f.lay.seam.key(), f) {
				lean[g.seq] = lean[g.seq] || assessable(g.body)
			}
		}
	}
	maps.DeleteFunc(lean, func(_ uint64, judged bool) bool { return !judged })
}

// opens reports whether a fact says which lot a cartridge is of.
func opens(p placed) bool {
	kind, _ := p.k.split()
	_, ok := p.f.body.(*materialsv1.CartridgeOpened)
	return ok && kind == "cartridge"
}

// drawnFrom lists the facts that lean on what a lot or a product is, whenever
// they happened: a recall, a date or a sheet holds for all that came of it.
func (a *assessor) drawnFrom(p placed) []*fact {
	var lots []LotID
	switch kind, id := p.k.split(); kind {
	case "lot":
		switch p.f.body.(type) {
		case *materialsv1.CartridgeOpened, *materialsv1.StockCounted:
			return nil // says nothing about what came of the lot
		}
		lots = []LotID{LotID(id)}
	case "product":
		for _, l := range a.fl.Lots() {
			if a.fl.lots[l].Product == ProductID(id) {
				lots = append(lots, l)
			}
		}
	}
	var out []*fact
	for _, l := range lots {
		for _, c := range openedFrom(a.book, l) {
			out = append(out, a.book.of(c.key())...)
		}
	}
	return out
}

// compare raises what is newly wrong about an earlier recorded fact and lets
// lapse what no longer is.
func (a *assessor) compare(seq uint64) {
	ev, counts, ok := a.fl.Event(seq)
	if !ok || !counts {
		return
	}
	ps := a.fl.place(&ev)
	now := a.judge(ps)
	gone := slices.ContainsFunc(ps, a.removed)
	var old []*FindingState
	for _, id := range a.fl.byFact[seq] {
		if s := a.fl.findings[id]; !s.Lapsed && (gone || !raisedByTime(a.fl, s)) {
			old = append(old, s)
		}
	}
	for _, f := range now {
		if !slices.ContainsFunc(old, func(s *FindingState) bool { return s.same(f) }) {
			f.About = seq
			a.raise(f)
		}
	}
	for _, s := range old {
		still := slices.ContainsFunc(now, func(f Finding) bool { return s.same(f) })
		if !still && !(gone && s.history()) {
			a.out.Lapsed = append(a.out.Lapsed, string(s.ID))
		}
	}
}

// same reports whether two findings say the same: by rule, thing and weight.
// One that weighs another, because a procedure sets the rule aside or no
// longer does, is another finding.
func (f *Finding) same(o Finding) bool {
	return f.Rule == o.Rule && f.Subject == o.Subject && f.Severity == o.Severity
}

// history: an answer that was given about a bead that was removed stays in
// the report, as does the order to remove it.
func (s *FindingState) history() bool {
	return !s.Open() || s.Answer == floorv1.Disposition_DISPOSITION_REDO
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
	case "booth":
		return a.checkBooth(BoothID(id), p.f)
	case "nozzle":
		return a.checkNozzle(NozzleID(id), p.f)
	}
	return nil
}

// checkSeam judges a fact about a seam against what the seam was before it.
func (a *assessor) checkSeam(id SeamID, f *fact) []Finding {
	facts := a.book.upTo(id.key(), f)
	before := a.fl.foldSeamFacts(a.book, id, facts)
	after := a.fl.foldSeamFacts(a.book, id, append(facts, f))
	c := seamCheck{a: a, s: before, after: after, f: f}
	if why := after.misfits[f.seq]; why != "" {
		c.add("stage-misfit", spec.Query, "Recorded, but it does not fit: "+why+".", spec.CommonPractice)
		if f.lay != nil { // the material is there all the same
			c.recalled(f.lay.cartridge)
		}
		return c.out
	}
	c.run()
	return c.out
}
