package floor

import (
	"fmt"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/calc/spec"
)

// foldSeam makes a seam out of its facts in order. A fact that does not fit
// is noted in misfits and leaves the rest as it was.
func (fl *Floor) foldSeam(b *book, id SeamID, facts []*fact) *Seam {
	if len(facts) == 0 {
		return nil
	}
	return fl.foldSeamFacts(b, id, facts)
}

// foldSeamFacts is foldSeam of a seam that may have no facts yet.
func (fl *Floor) foldSeamFacts(b *book, id SeamID, facts []*fact) *Seam {
	s := &Seam{ID: id, Job: id.RO(), said: map[window]announcement{}, misfits: map[uint64]string{}}
	s.firstCoat = fl.firstCoat(b, s.Job)
	s.surveyedLater(b, facts)
	for _, f := range facts {
		if why := fl.seamFact(b, s, f); why != "" {
			s.misfits[f.seq] = why
		}
		s.Stage = s.stage()
	}
	return s
}

// surveyedLater: a joint lay as it lies before anybody wrote it down. What
// was done to a seam that was surveyed afterwards is judged by that survey.
func (s *Seam) surveyedLater(b *book, facts []*fact) {
	if len(facts) > 0 {
		if _, ok := facts[0].body.(*jobsv1.SeamSurveyed); ok {
			return
		}
	}
	for _, f := range b.of(s.ID.key()) {
		if e, ok := f.body.(*jobsv1.SeamSurveyed); ok {
			s.survey(e)
			return
		}
	}
}

// seamFact folds one fact and says why it does not fit, or nothing.
func (fl *Floor) seamFact(b *book, s *Seam, f *fact) string {
	if f.lay != nil {
		return fl.layOn(b, s, f)
	}
	switch e := f.body.(type) {
	case *jobsv1.SeamSurveyed:
		return s.survey(e)
	case *jobsv1.SeamPlanned:
		return s.plan(e)
	case *jobsv1.ProcedureRecorded:
		s.Procedure = &spec.Procedure{Text: e.GetText(), Overrides: e.GetOverrides()}
	case *jobsv1.SurfacePrepped:
		return s.prep(e, f)
	case *jobsv1.CoatApplied:
		if e.GetOver() == floorv1.Coat_COAT_UNSPECIFIED {
			return s.undercoated(e, f)
		}
		return s.coat(e, f)
	case *jobsv1.SeamReworked:
		if s.Bead == nil && s.elsewhere == NoStage {
			return "there was no bead to remove"
		}
		s.strip()
	case *jobsv1.DoneElsewhere:
		return s.doneElsewhere(e, f)
	case *jobsv1.PhotoAttached:
		s.Photos++
	case *curesv1.WindowOpened, *curesv1.WindowClosed, *curesv1.WindowRetracted:
		s.announce(f)
	default:
		return s.handle(f)
	}
	return ""
}

func (s *Seam) survey(e *jobsv1.SeamSurveyed) string {
	s.Panel, s.Place, s.Side = PanelID(e.GetPanel()), e.GetPlace(), e.GetSide()
	s.LengthMM, s.DrainHoles, s.Hidden, s.SheetMM = e.GetLengthMm(), e.GetDrainHolesNear(), e.GetHidden(), e.GetSheetMm()
	s.Orientation, s.Finish = spec.Orientation(enumWord(e.GetOrientation())), spec.Finish(enumWord(e.GetFinish()))
	s.Found = substrateOf(e.GetSubstrate())
	if !s.prepped && s.under == nil {
		s.Substrate = s.Found
	}
	r := e.GetReference()
	s.Reference = spec.Reference{
		Source: spec.ReferenceSource(enumWord(r.GetSource())), Class: spec.Class(enumWord(r.GetClass())),
		Profile: spec.Profile(enumWord(r.GetProfile())), Colour: r.GetColour(), Lab: labOf(r.GetLab()),
		WidthMM: r.GetWidthMm(), HeightMM: r.GetHeightMm(),
	}
	return ""
}

func (s *Seam) plan(e *jobsv1.SeamPlanned) string {
	if s.Bead != nil {
		return "the bead is already laid; it is judged by the plan that it was laid under"
	}
	s.Plan = &Plan{
		Product: ProductID(e.GetProductId()), Profile: spec.Profile(enumWord(e.GetProfile())),
		WidthMM: e.GetWidthMm(), HeightMM: e.GetHeightMm(), Technique: spec.Technique(enumWord(e.GetTechnique())),
		Nozzle: e.GetNozzle(), Volume: toUL(e.GetVolumeMl()), Reasons: e.GetReasons(), Cautions: e.GetCautions(),
	}
	return ""
}

func (s *Seam) prep(e *jobsv1.SurfacePrepped, f *fact) string {
	if s.Bead != nil {
		return "the bead is already laid"
	}
	s.prepped, s.PreppedAt = true, f.at
	if e.GetSubstrate() != floorv1.Substrate_SUBSTRATE_UNSPECIFIED {
		s.Substrate = substrateOf(e.GetSubstrate())
		if s.under != nil && s.under.makes != s.Substrate {
			s.under = nil // it was ground away, or lies elsewhere
		}
	}
	return ""
}

func (s *Seam) undercoated(e *jobsv1.CoatApplied, f *fact) string {
	if s.Bead != nil {
		return "the bead is already laid; an undercoat comes before it"
	}
	s.Substrate = substrateOf(e.GetUnder())
	s.under = &undercoat{
		at: f.at, late: f.late, dryMin: e.GetDryMin(), recoat: e.GetRecoatMin(),
		product: e.GetProduct(), makes: s.Substrate, sequence: f.seq,
	}
	return ""
}

func (s *Seam) coat(e *jobsv1.CoatApplied, f *fact) string {
	switch {
	case !s.Complete():
		return "the seam is not laid with all its layers"
	case s.Finish == spec.Exposed:
		return "the seam is to be left exposed"
	}
	if !s.coated {
		s.coated, s.CoatedAt, s.CoatedWith = true, f.at, spec.Coat(enumWord(e.GetOver()))
	}
	return ""
}

func (s *Seam) doneElsewhere(e *jobsv1.DoneElsewhere, f *fact) string {
	to := Stage(enumWord(e.GetStage()))
	r := to.Rank()
	if r <= s.Stage.Rank() {
		return fmt.Sprintf("the seam is %s already", s.Stage)
	}
	s.elsewhere = to
	if r >= Prepped.Rank() {
		s.prepped = true
	}
	if r >= Laid.Rank() && s.Bead == nil { // a bead of ours keeps its clocks
		s.Bead = &Bead{Began: f.seq, Elsewhere: true, ReadyFrom: f.late, SpentFrom: f.early, Ended: f.at, By: e.GetWho()}
	}
	s.coated = s.coated || r >= CoatedOn.Rank() && s.Finish != spec.Exposed
	s.cured, s.tested, s.accepted = s.cured || r >= Cured.Rank(), s.tested || r >= Tested.Rank(), s.accepted || r >= Accepted.Rank()
	return ""
}

// handle folds what is done to a bead that lies there.
func (s *Seam) handle(f *fact) string {
	switch f.body.(type) {
	case *jobsv1.SeamScuffed:
		if s.Bead == nil && s.under != nil {
			s.under.scuffed = f.early
			return ""
		}
	case *jobsv1.WaterTested, *jobsv1.SeamInspected, *jobsv1.WaxApplied, *jobsv1.HeatApplied, *curesv1.StageObserved:
		return s.finishWork(f)
	}
	switch {
	case s.Bead == nil:
		return "nothing is laid on the seam"
	case s.coated && !disturbs(f):
		return "the seam is already coated"
	}
	switch f.body.(type) {
	case *jobsv1.BeadTooled:
		s.Bead.Tooled = true
	case *jobsv1.BeadDeaired:
		s.Bead.Deaired = true
	case *jobsv1.BeadDisturbed:
		s.Bead.Disturbed = true
	case *jobsv1.SeamScuffed:
		s.Bead.Scuffed = &Scuff{Began: f.seq, At: f.early}
		s.closed = false
	}
	return ""
}

// disturbs: a bead can be damaged at any time.
func disturbs(f *fact) bool {
	_, ok := f.body.(*jobsv1.BeadDisturbed)
	return ok
}

func (s *Seam) finishWork(f *fact) string {
	switch e := f.body.(type) {
	case *jobsv1.HeatApplied:
		return "" // heat to a bare joint is as good a fact as any
	case *jobsv1.WaxApplied:
		if !s.coated && s.Finish != spec.Exposed {
			return "cavity wax goes on after the last coat"
		}
		s.Waxed = true
	case *jobsv1.WaterTested:
		if !s.Complete() {
			return "the seam is not laid with all its layers"
		}
		s.tested = e.GetTight()
		if !s.tested { // a leak found later is inspected anew
			s.accepted = false
			if s.elsewhere.Rank() > Cured.Rank() {
				s.elsewhere = Cured
			}
		}
	case *jobsv1.SeamInspected:
		if s.Stage.Rank() < Tested.Rank() && e.GetAccepted() {
			return fmt.Sprintf("the seam is %s; it is accepted once it has cured and was tested", s.Stage)
		}
		s.accepted = e.GetAccepted()
	case *curesv1.StageObserved:
		if !s.Complete() {
			return "the seam is not laid with all its layers"
		}
	}
	return ""
}

// announce folds what the clock keeper said.
func (s *Seam) announce(f *fact) {
	switch e := f.body.(type) {
	case *curesv1.WindowOpened:
		say(s.said, window{e.GetClock(), spec.Coat(enumWord(e.GetCoat())), e.GetBegan()}, announcement{f.seq, e.GetDue().AsTime()})
	case *curesv1.WindowClosed:
		say(s.said, window{e.GetClock(), spec.Coat(enumWord(e.GetCoat())), e.GetBegan()}, announcement{f.seq, e.GetDue().AsTime()})
	case *curesv1.WindowRetracted:
		for w, a := range s.said {
			if a.seq == e.GetAnnounced() {
				delete(s.said, w)
			}
		}
	}
	s.readAnnouncements()
}

// say notes an announcement. The last one told counts, though it may be about
// an earlier moment: what was taken back can be told again as due sooner.
func say[W comparable](said map[W]announcement, w W, a announcement) {
	if said[w].seq < a.seq {
		said[w] = a
	}
}

// readAnnouncements derives the flags of the stage from what was said about
// the bead as it is now; what was said about an earlier bead is void.
func (s *Seam) readAnnouncements() {
	s.flowedOut, s.opened, s.closed, s.cured = false, false, false, s.elsewhere.Rank() >= Cured.Rank()
	if s.Bead == nil {
		return
	}
	for w := range s.said {
		if w.Began != s.Bead.Began && (s.Bead.Scuffed == nil || w.Began != s.Bead.Scuffed.Began) {
			continue
		}
		switch w.Clock {
		case floorv1.Clock_CLOCK_FLOW_OUT:
			s.flowedOut = true
		case floorv1.Clock_CLOCK_COAT_OPENS:
			s.opened = s.opened || w.Coat == s.firstCoat
		case floorv1.Clock_CLOCK_COAT_CLOSES:
			s.closed = s.closed || w.Coat == s.firstCoat && (s.Bead.Scuffed == nil || w.Began == s.Bead.Scuffed.Began)
		case floorv1.Clock_CLOCK_FULL_CURE:
			s.cured = true
		}
	}
}
