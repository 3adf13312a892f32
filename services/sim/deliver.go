package sim

import (
	"fmt"
	"slices"
	"time"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

// wax goes on after the last coat is baked.
func (s *sim) wax(p *proc, t *tech, j *job) {
	s.throw("wax ", j.ro)
	s.take(p, t, 20*time.Minute)
	for _, m := range j.seams {
		p.wait(s.minutes(0.3, 1))
		s.tell(t.person, t.terminal, live, &jobsv1.WaxApplied{SeamId: m.id})
		m.waxed = true
	}
	t.busy = false
}

// waterTest tests every seam once it may surely be handled. One that is redone
// meanwhile is left for the inspection.
func (s *sim) waterTest(p *proc, t *tech, j *job) {
	for _, m := range j.seams {
		p.poll(s.opt.Habits.round(10*time.Minute), func() bool { return s.sure(m, floorv1.Clock_CLOCK_HANDLING) })
	}
	s.throw("water test ", j.ro)
	s.take(p, t, 30*time.Minute)
	for _, m := range j.seams {
		p.wait(s.minutes(0.3, 1))
		if s.sure(m, floorv1.Clock_CLOCK_HANDLING) && j.has("leak") {
			s.planted("leak", m.id)
			s.tell(t.person, t.terminal, live, &jobsv1.WaterTested{SeamId: m.id, Note: "a drop after two minutes"},
				due{rule: "leaks", subject: m.subject(), severity: stop})
			p.wait(s.minutes(4, 8))
		}
		if !s.sure(m, floorv1.Clock_CLOCK_HANDLING) {
			continue
		}
		s.tell(t.person, t.terminal, live, &jobsv1.WaterTested{SeamId: m.id, Tight: true})
		m.tested = true
	}
	t.busy = false
}

// sure reports whether a stage has been reached without any doubt. A bead
// that is being redone has not.
func (s *sim) sure(m *seam, k floorv1.Clock) bool {
	if m.bead == nil || !m.bead.complete() {
		return false
	}
	a, needed, ok := m.bead.age(k, 0, s.now)
	return !ok || a.cold > needed*(1+m.bead.product.tol)*(1+doubt)
}

// inspect looks at every seam once it has cured. One that was redone since
// the water test is tested again.
func (s *sim) inspect(p *proc, j *job) {
	for _, m := range j.seams {
		p.poll(s.opt.Habits.round(20*time.Minute), func() bool { return s.sure(m, floorv1.Clock_CLOCK_FULL_CURE) })
	}
	p.until(s.hours.next(s.now.Add(s.minutes(1, 20)), 40*time.Minute, shiftBegins, shiftEnds))
	for _, m := range j.seams {
		if m.accepted {
			continue
		}
		cured := func() bool { return s.sure(m, floorv1.Clock_CLOCK_FULL_CURE) }
		p.poll(s.opt.Habits.round(20*time.Minute), cured)
		for p.wait(s.minutes(0.2, 0.8)); !cured(); p.wait(s.minutes(0.2, 0.8)) { // sent back to be redone in that minute
			p.poll(s.opt.Habits.round(20*time.Minute), cured)
		}
		if !m.tested {
			s.tell(inspector, desk, live, &jobsv1.WaterTested{SeamId: m.id, Tight: true})
			m.tested = true
		}
		s.tell(inspector, desk, live, &jobsv1.SeamInspected{SeamId: m.id, Accepted: true})
		m.accepted = true
	}
}

// deliver hands the car back once the foreman has answered everything.
func (s *sim) deliver(p *proc, j *job) {
	ready := func() bool {
		return s.unanswered(j) == 0 && j.hands == 0 && s.hours.in(s.now, 0, shiftBegins, shiftEnds)
	}
	p.poll(s.opt.Habits.round(10*time.Minute), ready)
	for slices.ContainsFunc(j.seams, func(m *seam) bool { return !m.accepted }) { // redone since
		s.inspect(p, j)
		p.poll(s.opt.Habits.round(10*time.Minute), ready)
	}
	s.tell(foreman, desk, live, &jobsv1.JobDelivered{Ro: j.ro})
	j.delivered, j.deliveredAt = true, s.now
	s.inShop = slices.DeleteFunc(s.inShop, func(o *job) bool { return o == j })
	s.stalls[j.bay]--
	s.rep.Delivered++
	s.proven(j)
}

// unanswered counts what must be answered before delivery.
func (s *sim) unanswered(j *job) int {
	n := s.acc.openOf("job/"+j.ro, query) + s.acc.openOf("job/"+j.ro, stop)
	for _, m := range j.seams {
		n += s.acc.openOf(m.subject(), query) + s.acc.openOf(m.subject(), stop)
	}
	for _, l := range j.loads {
		n += s.acc.openOf("load/"+l.id, query) + s.acc.openOf("load/"+l.id, stop)
	}
	return n
}

// proven asks for the job's file: every seam accepted, every finding there.
func (s *sim) proven(j *job) {
	if s.err != nil {
		return
	}
	resp, err := s.opt.Jobs.GetJob(s.ctx, &jobsv1.GetJobRequest{Ro: j.ro, MinSequence: s.led.last.seq})
	if err != nil {
		s.fail(fmt.Errorf("the file of job %s: %w", j.ro, err))
		return
	}
	s.checks.count("I14")
	if got := resp.GetJob().GetState(); got != "delivered" {
		s.broken("I14", "job %s was delivered, its file says %s", j.ro, got)
	}
	for _, m := range resp.GetJob().GetSeams() {
		s.checks.count("I14")
		if m.GetStage() != floorv1.Stage_STAGE_ACCEPTED {
			s.broken("I14", "seam %s was accepted, its file says %s", m.GetSeamId(), word(m.GetStage()))
		}
		due, got := 0, 0
		for _, f := range s.acc.of["seam/"+m.GetSeamId()] {
			if f.severity != note {
				due++
			}
		}
		for _, f := range m.GetFindings() {
			if f.GetFinding().GetSeverity() != note {
				got++
			}
		}
		if due != got {
			s.broken("I14", "the file of seam %s shows %d findings that are no notes, due were %d", m.GetSeamId(), got, due)
		}
	}
}
