package sim

import (
	"time"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

// fromTheCold seals the first seam of a car that has just come in from the
// yard: the panel is colder than the air.
func (s *sim) fromTheCold(p *proc, t *tech, j *job) {
	j.has("moved-car")
	s.moveCar(j, j.bay, desk)
	p.wait(s.minutes(2, 4))
	s.planJob(p, t, j)
	for _, m := range j.seams {
		if m.exposed() || primer(m.def.GetSubstrate()) || technique(m) == floorv1.Technique_TECHNIQUE_WET_BED_THEN_BEAD {
			continue
		}
		pr := s.products[m.plan.GetProductId()]
		min := pr.def.GetCure().MinTempC
		if min == nil || j.course.edges(s.now).lo > *min-1 {
			continue
		}
		s.planted("moved-car", m.id)
		w := &work{s: s, p: p, t: t, j: j}
		w.ready(m, volume(m))
		w.seal(m)
		w.end()
		return
	}
}

// tooWet seals a group while its undercoat is not dry.
func (s *sim) tooWet(p *proc, t *tech, g group) {
	w := &work{s: s, p: p, t: t, j: g.seams[0].job}
	s.comfort(p, t, w.j, g.product)
	if g = g.bare(); len(g.seams) == 0 {
		return
	}
	first := g.seams[0]
	if first.under == nil || s.now.Add(6*time.Minute).After(first.under.at.Add(ofMinutes(undercoatDryMin))) {
		w.j.has("wet-undercoat")
		for _, m := range g.seams {
			w.ready(m, volume(m))
			w.seal(m)
		}
		w.end()
		return
	}
	w.j.has("wet-undercoat")
	s.planted("wet-undercoat", first.id)
	w.ready(first, volume(first))
	w.seal(first)
	s.held(first)
	w.end()
	p.until(first.under.at.Add(ofMinutes(undercoatDryMin + 4)))
	for _, m := range g.seams[1:] {
		w.ready(m, volume(m))
		w.seal(m)
	}
	w.end()
}

// disturb touches a bead after sealing.
func (s *sim) disturb(p *proc, t *tech, j *job) {
	if !j.has("disturbed-bead") {
		return
	}
	p.wait(s.minutes(5, 15))
	p.poll(2*time.Minute, func() bool { return !s.inBooth(j) })
	for _, m := range j.seams {
		if m.bead != nil && !m.coated && !m.exposed() {
			s.planted("disturbed-bead", m.id)
			s.tell(t.person, t.terminal, live, &jobsv1.BeadDisturbed{SeamId: m.id, How: "a sleeve went through it"},
				due{rule: "bead-disturbed", subject: m.subject(), severity: stop})
			s.held(m)
			return
		}
	}
}
