package floor

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/calc/spec"
)

// Finding is something wrong about a fact.
type Finding struct {
	Rule     string
	Severity spec.Severity
	Subject  key    // "seam/2207/rd-l"
	About    uint64 // sequence of the fact; 0: the one it stands in
	Reason   string
	Basis    string
}

// FindingState is a finding and what became of it.
type FindingState struct {
	ID FindingID
	Finding
	Raised     time.Time
	Lapsed     bool
	Answer     floorv1.Disposition // unspecified: not answered
	AnsweredBy string
	AnsweredAt time.Time
	AnswerText string
	answers    []uint64 // events that answered it; the last one holds
	done       bool     // what the answer ordered (scuff, redo) was done
}

// Open reports whether it still wants something: an answer, or the work that
// the answer ordered.
func (s *FindingState) Open() bool {
	if s.Lapsed {
		return false
	}
	switch s.Answer {
	case floorv1.Disposition_DISPOSITION_UNSPECIFIED:
		return true
	case floorv1.Disposition_DISPOSITION_SCUFF, floorv1.Disposition_DISPOSITION_REDO:
		return !s.done
	}
	return false
}

// Seam is the seam that a finding is about; empty when it is about another
// thing.
func (f *Finding) Seam() SeamID {
	if kind, id := f.Subject.split(); kind == "seam" {
		return SeamID(id)
	}
	return ""
}

// Thing is the subject in words of the journal: "seam/2207/rd-l".
func (f *Finding) Thing() string { return string(f.Subject) }

// Proto is the finding as events carry it.
func (f *Finding) Proto() *floorv1.Finding {
	return &floorv1.Finding{
		Rule: f.Rule, Severity: wordEnum[floorv1.Severity](string(f.Severity)), Subject: string(f.Subject),
		AboutSequence: f.About, Reason: f.Reason, Basis: f.Basis,
	}
}

func findingFrom(p *floorv1.Finding, seq uint64) Finding {
	f := Finding{
		Rule: p.GetRule(), Severity: spec.Severity(enumWord(p.GetSeverity())), Subject: key(p.GetSubject()),
		About: p.GetAboutSequence(), Reason: p.GetReason(), Basis: p.GetBasis(),
	}
	if f.About == 0 {
		f.About = seq
	}
	return f
}

// assessmentOf is the assessment that an event carries, or nil.
func assessmentOf(m proto.Message) *floorv1.Assessment {
	if a, ok := m.(interface {
		GetAssessment() *floorv1.Assessment
	}); ok {
		return a.GetAssessment()
	}
	return nil
}

// assessed takes in what an event's assessment says.
func (fl *Floor) assessed(ev *Event) {
	a := assessmentOf(ev.Body)
	for _, id := range a.GetLapsed() {
		fl.lapse(FindingID(id))
	}
	for i, f := range a.GetFindings() {
		fl.raise(ev, i, f)
	}
}

func (fl *Floor) raise(ev *Event, n int, p *floorv1.Finding) {
	s := &FindingState{ID: findingID(ev.Seq, n), Finding: findingFrom(p, ev.Seq), Raised: ev.Received}
	fl.findings[s.ID] = s
	fl.about[s.Subject] = append(fl.about[s.Subject], s.ID)
	fl.byFact[s.About] = append(fl.byFact[s.About], s.ID)
}

func (fl *Floor) lapse(id FindingID) {
	if s, ok := fl.findings[id]; ok {
		s.Lapsed = true
	}
}

// dispose takes in a foreman's answer.
func (fl *Floor) dispose(b *jobsv1.FindingDisposed, ev *Event) {
	if s, ok := fl.findings[FindingID(b.GetFindingId())]; ok {
		s.answers = append(s.answers, ev.Seq)
		fl.settle(s)
	}
}

// undispose takes an answer back; the one before it holds again.
func (fl *Floor) undispose(b *jobsv1.FindingDisposed, seq uint64) {
	if s, ok := fl.findings[FindingID(b.GetFindingId())]; ok {
		s.answers = slices.DeleteFunc(s.answers, func(a uint64) bool { return a == seq })
		fl.settle(s)
	}
}

// settle reads the answer that holds, and whether what it ordered was done
// since.
func (fl *Floor) settle(s *FindingState) {
	s.Answer, s.AnswerText, s.AnsweredBy, s.AnsweredAt, s.done = 0, "", "", time.Time{}, false
	if len(s.answers) == 0 {
		return
	}
	ev := &fl.log[s.answers[len(s.answers)-1]-1].ev
	b := ev.Body.(*jobsv1.FindingDisposed)
	s.Answer, s.AnswerText, s.AnsweredBy, s.AnsweredAt = b.GetDisposition(), b.GetReason(), ev.Actor, ev.Occurred
	s.done = fl.workDone(s, ev.Seq)
}

// workDone reports whether the seam was scuffed or reworked, as the answer
// ordered: told after the answer, and done after the fact that was wrong.
func (fl *Floor) workDone(s *FindingState, answer uint64) bool {
	var wrong time.Time
	if ev, _, ok := fl.Event(s.About); ok {
		wrong = ev.Occurred
	}
	return slices.ContainsFunc(fl.book.of(s.Subject), func(f *fact) bool {
		_, scuffed := f.body.(*jobsv1.SeamScuffed)
		ordered := s.Answer == floorv1.Disposition_DISPOSITION_SCUFF && scuffed || s.Answer == floorv1.Disposition_DISPOSITION_REDO && isRework(f)
		return ordered && f.seq > answer && !f.at.Before(wrong)
	})
}

func isRework(f *fact) bool {
	_, ok := f.body.(*jobsv1.SeamReworked)
	return ok
}

func compareFindingIDs(a, b FindingID) int {
	return cmp.Or(cmp.Compare(len(a.event()), len(b.event())), cmp.Compare(a.event(), b.event()),
		cmp.Compare(len(a), len(b)), cmp.Compare(a, b))
}

// event is the sequence part of the identifier.
func (id FindingID) event() string {
	seq, _, _ := strings.Cut(string(id), ".")
	return seq
}

// Findings lists the findings about a thing in the order they were raised.
func (fl *Floor) Findings(subject string) []*FindingState {
	var out []*FindingState
	for _, id := range fl.about[key(subject)] {
		out = append(out, fl.findings[id])
	}
	return out
}

// SeamFindings lists the findings about a seam.
func (fl *Floor) SeamFindings(s SeamID) []*FindingState { return fl.Findings(string(s.key())) }

// StoppedSince reports whether a stop about a thing is open that was raised
// after an event.
func (fl *Floor) StoppedSince(subject string, seq uint64) bool {
	return slices.ContainsFunc(fl.Findings(subject), func(s *FindingState) bool {
		raised, err := strconv.ParseUint(s.ID.event(), 10, 64)
		return err == nil && raised > seq && s.Severity == spec.Stop && s.Open()
	})
}

// AllFindings lists every finding in the order of the journal.
func (fl *Floor) AllFindings() []*FindingState {
	return fl.FindingsThat(func(*FindingState) bool { return true })
}

// FindingsThat lists those findings that fit, in the order of the journal.
func (fl *Floor) FindingsThat(fit func(*FindingState) bool) []*FindingState {
	var out []*FindingState
	for _, s := range fl.findings {
		if fit(s) {
			out = append(out, s)
		}
	}
	slices.SortFunc(out, func(a, b *FindingState) int { return compareFindingIDs(a.ID, b.ID) })
	return out
}

// Finding gives one finding.
func (fl *Floor) Finding(id FindingID) (*FindingState, bool) {
	s, ok := fl.findings[id]
	return s, ok
}

// known reports whether the fold has a place for a body's type.
func known(m proto.Message) bool {
	switch m.(type) {
	case *jobsv1.FindingRaised, *jobsv1.FindingDisposed, *jobsv1.FactWithdrawn, *jobsv1.FactCorrected,
		*curesv1.WindowOpened, *curesv1.WindowClosed, *curesv1.WindowRetracted,
		*boothv1.PermitIssued, *boothv1.PermitRevoked:
		return true
	}
	return assessable(m)
}

// assessable reports whether a body is a fact: something that a person or a
// probe tells, that is assessed, and that may be withdrawn.
func assessable(m proto.Message) bool {
	return m.ProtoReflect().Descriptor().Fields().ByName("assessment") != nil
}
