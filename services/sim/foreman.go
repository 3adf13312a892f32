package sim

import (
	"fmt"
	"time"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

// thinkingTime is how long a finding stands before the foreman answers it.
const thinkingTime = 25 * time.Minute

// answerFindings is the foreman's round: what is open is answered, accepted
// or sent back to be redone.
func (s *sim) answerFindings(p *proc) {
	for rounds := 0; ; rounds++ {
		p.until(s.hours.next(s.now.Add(s.opt.Habits.round(10*time.Minute)), 0, shiftBegins, shiftEnds))
		if s.err != nil || s.opt.Habits.Ease > 0 && rounds%8 != 0 && !s.acc.waiting() {
			continue
		}
		resp, err := s.opt.Jobs.ListFindings(s.ctx, &jobsv1.ListFindingsRequest{OpenOnly: true})
		if err != nil {
			s.fail(fmt.Errorf("open findings: %w", err))
			continue
		}
		for _, f := range resp.GetFindings() {
			if f.GetFinding().GetSeverity() != note && f.GetDisposition() == 0 && s.now.Sub(f.GetRaised().AsTime()) >= thinkingTime {
				s.answer(f)
				p.wait(20 * time.Second)
			}
		}
	}
}

// redone are the findings that a foreman sends back, as long as no coat lies
// over the bead.
var redone = map[string]bool{
	"nozzle-gelled": true, "not-purged": true, "not-equalised": true, "sl-bare-metal": true, "sl-self-etch": true,
	"bead-disturbed": true, "undercoat-not-dry": true, "lot-recalled": true,
}

func (s *sim) answer(f *jobsv1.FindingState) {
	d := due{f.GetFinding().GetRule(), f.GetFinding().GetSubject(), f.GetFinding().GetSeverity(), f.GetFinding().GetAboutSequence()}
	s.catchUp() // an answer a moment ago may have had the same bead judged again
	want := s.acc.findings[d.key()]
	if want != nil && !want.open() {
		return // answered or lapsed since the list was made
	}
	how := floorv1.Disposition_DISPOSITION_ACCEPT
	m := s.seamOf(d.subject)
	if redone[d.rule] && m != nil && m.bead != nil && !m.coated && !s.inBooth(m.job) {
		how = floorv1.Disposition_DISPOSITION_REDO
	}
	s.tell(foreman, desk, live, &jobsv1.FindingDisposed{FindingId: f.GetFindingId(), Disposition: how, Reason: "looked at it on the car"})
	if want != nil {
		want.answer = how
	}
	if how == floorv1.Disposition_DISPOSITION_REDO {
		s.spawn("rework "+m.id, s.now, func(p *proc) { s.rework(p, m) })
	}
}

// seamOf finds the seam that a finding is about, or nil.
func (s *sim) seamOf(subject string) *seam {
	const kind = "seam/"
	if len(subject) <= len(kind) || subject[:len(kind)] != kind {
		return nil
	}
	ro, _, _ := cutSeam(subject[len(kind):])
	j := s.jobs[ro]
	if j == nil {
		return nil
	}
	for _, m := range j.seams {
		if m.subject() == subject {
			return m
		}
	}
	return nil
}

// inBooth reports whether a load of the job is in a booth or on its way.
func (s *sim) inBooth(j *job) bool { return j.at != nil && j.at != s.airs[j.bay] }

// rework takes a bead off and lays it again. A second finding about the same
// bead finds it done.
func (s *sim) rework(p *proc, m *seam) {
	p.job = m.job
	t := s.techs[m.job.bay]
	old := m.bead
	s.take(p, t, 50*time.Minute)
	for m.bead == old && !m.coated && (s.inBooth(m.job) || !s.comfortable(t, m.job, s.products[m.plan.GetProductId()]) || s.dead[t.zone]) {
		t.busy = false
		p.wait(5 * time.Minute)
		s.take(p, t, 50*time.Minute)
	}
	m.job.hands++
	defer func() { t.busy, m.job.hands = false, m.job.hands-1 }()
	if m.bead != old || m.coated {
		return
	}
	s.removeBead(t.person, t.terminal, m, "sent back by the foreman")
	s.bareAgain(p, t, m)
}

// layAgain lays a bead anew on a seam that somebody has bared.
func (s *sim) layAgain(p *proc, m *seam) {
	p.job = m.job
	t := s.techs[m.job.bay]
	s.take(p, t, 50*time.Minute)
	for s.inBooth(m.job) || !s.comfortable(t, m.job, s.products[m.plan.GetProductId()]) || s.dead[t.zone] {
		t.busy = false
		p.wait(5 * time.Minute)
		s.take(p, t, 50*time.Minute)
	}
	defer func() { t.busy = false }()
	s.bareAgain(p, t, m)
}

// bareAgain seals a joint that is bare again.
func (s *sim) bareAgain(p *proc, t *tech, m *seam) {
	p.wait(s.minutes(3, 6))
	if primer(m.def.GetSubstrate()) && m.made != m.def.GetSubstrate() {
		s.prime(t, m.def.GetSubstrate(), []*seam{m})
		p.wait(ofMinutes(undercoatDryMin + 4))
	}
	w := &work{s: s, p: p, t: t, j: m.job}
	w.ready(m, volume(m))
	w.seal(m)
	w.end()
}

// removeBead takes the bead off: what was wrong with it no longer matters.
func (s *sim) removeBead(who person, terminal string, m *seam, why string) {
	s.tell(who, terminal, live, &jobsv1.SeamReworked{SeamId: m.id, Why: why})
	s.acc.reworked(m.subject())
	m.bead, m.coated, m.tested, m.accepted, m.prepped = nil, false, false, false, true
	m.job.tablet = terminal
	s.changes[m]++
	s.rep.Reworks++
}
