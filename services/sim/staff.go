package sim

import (
	"fmt"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

// mishapsAtFirst is how many mishaps each job that stands there at the start
// gets: every kind soon.
const mishapsAtFirst = 4

// staff sets everybody and everything to work.
func (s *sim) staff() {
	for _, b := range s.boothList() {
		s.calendar(b, s.opt.Start, max(s.opt.Days+7, 400))
	}
	for _, id := range sortedNames(s.products) {
		s.receive(s.products[id], 4, s.now.Add(120*24*time.Hour))
		s.receive(s.products[id], 8, s.now.Add(250*24*time.Hour))
	}
	s.keepTally()
	s.spawn("probes", s.now, s.readAir)
	s.spawn("terminals", s.now, s.signOfLife)
	for i, ro := range s.order {
		j := s.jobs[ro]
		s.deck.deal(j, mishapsAtFirst)
		s.spawn("repair "+ro, s.opt.Start.Add(shiftBegins+time.Duration(i)*3*time.Minute), func(p *proc) { s.repair(p, j) })
	}
	for _, b := range s.boothList() {
		s.spawn("paint "+b.id, s.now, func(p *proc) { s.paint(p, b) })
		s.spawn("last call "+b.id, s.now, func(p *proc) { s.lastCall(p, b) })
	}
	s.spawn("foreman", s.now, s.answerFindings)
	come := s.arrivals
	if s.opt.Load > 0 {
		come = s.fixedArrivals
	}
	s.spawn("arrivals", s.now, come)
	s.spawn("doors", s.now, s.openDoors)
	s.spawn("dead probes", s.now, s.deadProbes)
	if s.opt.Load == 0 { // they befall whatever lies about, so that an order of loads would move them
		s.spawn("spikes", s.now, s.spikes)
		s.spawn("recalls", s.now, s.recalls)
	}
	s.spawn("backlogs", s.now, s.backlogs)
	s.spawn("annexes", s.now, s.annexes)
	s.spawn("photos", s.now, s.photos)
	s.spawn("storekeeper", s.now, s.storekeeper)
	s.spawn("scale", s.now, s.gauges)
	s.spawn("late moves", s.now, s.lateMoves)
	s.spawn("revisions", s.now, s.revisions)
	s.spawn("restarts", s.now, s.restarts)
	s.spawn("standstills", s.now, s.standstills)
	s.spawn("overrides", s.now, s.overrides)
	s.spawn("look", s.now.Add(time.Minute), s.look)
	s.spawn("evening", s.opt.Start.Add(18*time.Hour), s.evening)
}

// look watches from outside: the journal every ten minutes, the floor and the
// gates every half hour of the day.
func (s *sim) look(p *proc) {
	seen := map[string]stageSeen{}
	for n := 0; ; n++ {
		s.catchUp()
		if s.opt.Habits.LookEase > 0 && n%3 == 1 && s.hours.open(s.now) {
			s.settle()
			s.catchUp()
			s.lostClocks()
		}
		if h := s.hours.clock(s.now); n%3 == 0 && s.hours.workday(s.now) && h > prepOpens && h < prepCloses {
			s.lookAtJobs(seen)
			for _, b := range s.boothList() {
				s.lookAtGate(b)
			}
		}
		p.wait(s.opt.Habits.look())
	}
}

type stageSeen struct {
	stage   floorv1.Stage
	reworks int
}

// lookAtJobs checks that a view is of the journal's present, and that seams
// change their stage only as they may.
func (s *sim) lookAtJobs(seen map[string]stageSeen) {
	if s.err != nil {
		return
	}
	resp, err := s.opt.Jobs.ListJobs(s.ctx, &jobsv1.ListJobsRequest{MinSequence: s.watch.seq})
	if err != nil {
		s.fail(fmt.Errorf("the list of jobs: %w", err))
		return
	}
	s.checks.count("I15")
	if resp.GetSequence() < s.watch.seq {
		s.broken("I15", "the list of jobs is of event %d, watchers have seen event %d", resp.GetSequence(), s.watch.seq)
	}
	if old := s.now.Sub(resp.GetNow().AsTime()); old < 0 || old > time.Second {
		s.broken("I15", "the list of jobs holds for %s, now is %s", clock(resp.GetNow().AsTime()), clock(s.now))
	}
	for _, j := range resp.GetJobs() {
		for _, m := range j.GetSeams() {
			s.lookAtSeam(m, seen)
		}
	}
}

// lookAtSeam: a stage goes on; back only over a rework, a scuff, a new layer
// or a fact that was taken back, which the account knows of as changes.
func (s *sim) lookAtSeam(v *jobsv1.Seam, seen map[string]stageSeen) {
	m := s.seamOf("seam/" + v.GetSeamId())
	if m == nil {
		s.broken("I13", "the floor has a seam %s that nobody surveyed", v.GetSeamId())
		return
	}
	s.checks.count("I13")
	was := seen[v.GetSeamId()]
	flowed := was.stage == floorv1.Stage_STAGE_FLOWING && v.GetStage() == floorv1.Stage_STAGE_LAID // flowed out, not open yet
	if v.GetStage() < was.stage && !flowed && s.changes[m] == was.reworks {
		s.broken("I13", "seam %s went from %s back to %s and nobody did anything to it", m.id, word(was.stage), word(v.GetStage()))
	}
	seen[v.GetSeamId()] = stageSeen{v.GetStage(), s.changes[m]}
	laid := v.GetStage() >= floorv1.Stage_STAGE_LAID
	if done := m.bead != nil && m.bead.complete(); laid != done {
		s.broken("I13", "seam %s is %s, its bead is whole: %t", m.id, word(v.GetStage()), done)
	}
	coated := v.GetStage() == floorv1.Stage_STAGE_COATED || v.GetStage() > floorv1.Stage_STAGE_COATED && !m.exposed()
	if coated && !m.coated && !m.exposed() {
		s.broken("I13", "seam %s is %s, no coat lies over it", m.id, word(v.GetStage()))
	}
}

// lookAtGate checks that a gate never shows clear without a permit of the
// account, nor for a load while another one is in the booth.
func (s *sim) lookAtGate(b *booth) {
	if s.err != nil {
		return
	}
	s.breathe()
	resp, err := s.opt.Booth.GetGate(s.ctx, &boothv1.GetGateRequest{BoothId: b.id, MinSequence: s.watch.seq})
	if err != nil {
		s.fail(fmt.Errorf("the gate of %s: %w", b.id, err))
		return
	}
	g := resp.GetGate()
	s.checks.count("I12")
	if b.loaded != nil && g.GetSign() != boothv1.Sign_SIGN_HOLD {
		s.broken("I12", "the gate of %s shows %s for %s while %s is inside", b.id, word(g.GetSign()), g.GetLoadId(), b.loaded.id)
	}
	s.checks.count("I1")
	if g.GetSign() != boothv1.Sign_SIGN_HOLD && (b.permit == nil || b.permit.ended) {
		s.broken("I1", "the gate of %s shows %s and no permit runs", b.id, word(g.GetSign()))
	}
	l := s.loads[g.GetLoadId()]
	if l == nil || b.permit != nil && !b.permit.ended {
		return
	}
	if v := s.expect(l, false); v.sure {
		var got []hold
		for _, r := range g.GetReasons() {
			got = append(got, hold{r.GetName(), r.GetSubject()})
		}
		s.checks.count("account")
		s.acc.asked(s, l, v.holds, got)
	}
}

// evening closes the day: the account against all findings, the balance of
// every lot, lost clocks, and what only an inspector can see.
func (s *sim) evening(p *proc) {
	for days := 0; ; days++ {
		if !s.sharp() || days%5 == 0 {
			s.count()
		}
		s.settle()
		s.catchUp()
		if days%s.opt.Habits.checkDays() == 0 {
			s.balance()
		}
		if days%s.opt.Habits.proveDays() == 0 {
			s.inside()
		}
		if s.opt.Out != nil && s.err == nil {
			fmt.Fprintf(s.opt.Out, "%s: %d events, %d jobs open, %d delivered, %d loads sprayed, %d broken\n",
				s.now.Format("Mon 2 Jan"), s.watch.seq, s.rep.Opened-s.rep.Delivered, s.rep.Delivered, s.rep.Sprayed, len(s.rep.Violations))
		}
		p.until(s.hours.on(s.now, 1, 18*time.Hour))
	}
}

// balance compares the account with the shop's lists.
func (s *sim) balance() {
	if s.err != nil {
		return
	}
	resp, err := s.opt.Jobs.ListFindings(s.ctx, &jobsv1.ListFindingsRequest{MinSequence: s.watch.seq})
	if err != nil {
		s.fail(fmt.Errorf("the list of findings: %w", err))
		return
	}
	s.acc.compare(s, resp.GetFindings())
	clear(s.rep.Findings)
	for _, f := range resp.GetFindings() {
		s.rep.Findings[f.GetFinding().GetRule()]++
	}
	s.usage()
	s.lostClocks()
}

// inside asks the inspector.
func (s *sim) inside() {
	if s.opt.Inspect == nil || s.err != nil {
		return
	}
	live, err := s.opt.Inspect.Hash(s.ctx)
	if err != nil {
		s.fail(fmt.Errorf("the floor's hash: %w", err))
		return
	}
	again, err := s.opt.Inspect.ReplayHash(s.ctx)
	if err != nil {
		s.fail(fmt.Errorf("the floor folded again: %w", err))
		return
	}
	s.checks.count("I10")
	if live != again {
		s.broken("I10", "the floor's hash is %s, folded again from the first event it is %s", live, again)
	}
	s.checks.count("I14")
	if err := s.opt.Inspect.VerifyJournal(s.ctx); err != nil && s.ctx.Err() == nil {
		s.broken("I14", "the journal does not prove itself: %v", err)
	}
}

// finish closes the simulation: everything is compared once more.
func (s *sim) finish(ear *listener) {
	if s.err == nil {
		s.settle()
		s.catchUp()
		s.led.lost(^uint64(0))
		s.balance()
		s.inside()
		s.score.close(s)
	}
	if s.err != nil && ear != nil {
		ear.end()
	}
	ear.finish(s, s.watch.seq)
	s.rep.Events, s.rep.End = s.watch.seq, s.now
}
