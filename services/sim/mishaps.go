package sim

import (
	"time"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

// mishap lays seam i of a group in a way that something planted brings, if
// anything is planted on the job that fits; false: nothing was done.
func (s *sim) mishap(w *work, g group, i int) bool {
	m, j := g.seams[i], w.j
	single := technique(m) != floorv1.Technique_TECHNIQUE_WET_BED_THEN_BEAD
	tooled := technique(m) == floorv1.Technique_TECHNIQUE_TAPE_EDGE
	next := i+1 < len(g.seams)
	switch {
	case !single:
		return j.has("bed-only") && w.bedOnly(m)
	case i > 0 && j.has("gelled-nozzle"):
		return w.gelled(m)
	case j.has("not-purged"):
		return w.notPurged(m)
	case j.has("not-equalised"):
		return w.notEqualised(m)
	case j.has("lot-out-of-date"):
		return w.outOfDate(m)
	case tooled && j.has("late-out-of-order"):
		return w.outOfOrder(m)
	case tooled && j.has("tooled-late"):
		return w.tooledLate(m)
	case j.has("late-fact"):
		return w.late(m)
	case j.has("wrong-clock"):
		return w.skewed(m)
	case !m.exposed() && j.has("tablet-offline-for-days"):
		return w.offline(m)
	case j.has("claimed-age"):
		return w.claimed(m)
	case j.has("signed-age"):
		return w.signed(m)
	case next && j.has("withdrawn-fact"):
		return w.wrongSeam(m, g.seams[i+1])
	case j.has("not-prepped"):
		return w.notPrepped(m)
	case !next && j.has("overdrawn"):
		return w.overdrawn(m)
	case j.has("retry"):
		w.seal(m)
		s.again()
		return true
	}
	return false
}

// held asks for leave to spray the load that a seam is in, which must be held
// for what was planted.
func (s *sim) held(m *seam) {
	for _, l := range m.job.loads {
		if !l.done && !m.exposed() {
			s.probe(l)
			return
		}
	}
}

// probe asks for leave where the answer should be to hold; a permit that is
// given all the same is compared with the account like any other answer, and
// given back.
func (s *sim) probe(l *load) {
	s.breathe()
	if v := s.expect(l, false); v.sure && len(v.holds) > 0 && s.ask(l, false) != nil {
		s.giveBack(l.booth)
	}
}

// gelled pauses until the nozzle has surely gelled, and lays on.
func (w *work) gelled(m *seam) bool {
	s, c := w.s, w.cart
	if c.flow.IsZero() {
		w.seal(m) // a new nozzle: this one has nothing to gel
		return true
	}
	s.prep(w.t, m)
	needed, _ := c.lot.product.needs(floorv1.Clock_CLOCK_NOZZLE_GEL, 0)
	w.p.poll(time.Minute, func() bool {
		return s.airs[w.t.zone].age(c.lot.product.law, c.flow, s.now).hot > needed*1.1
	})
	s.planted("gelled-nozzle", m.id)
	w.layers(m, telling{age: live})
	w.finish(m)
	s.held(m)
	s.unfit(w.t, c)
	return true
}

func (w *work) notPurged(m *seam) bool {
	s, c := w.s, w.cart
	if !s.sharp() { // else nobody tells that the old one came off
		s.unfit(w.t, c)
	}
	s.fit(w.p, w.t, c, false)
	s.planted("not-purged", m.id)
	w.seal(m)
	s.held(m)
	s.unfit(w.t, c)
	return true
}

func (w *work) notEqualised(m *seam) bool {
	s := w.s
	pr := w.cart.lot.product
	w.end()
	w.cart = s.openCartridge(w.p, w.t, s.usable(pr), false)
	s.fit(w.p, w.t, w.cart, true)
	s.planted("not-equalised", m.id)
	w.seal(m)
	s.held(m)
	s.unfit(w.t, w.cart)
	s.discard(w.t, w.cart)
	w.cart = nil
	return true
}

func (w *work) outOfDate(m *seam) bool {
	s := w.s
	if s.stumble.IntN(2) == 0 {
		return w.lapsing(m)
	}
	pr := w.cart.lot.product
	w.end()
	old := s.receive(pr, 1, s.now.Add(-9*24*time.Hour))
	w.cart = s.openCartridge(w.p, w.t, old, true)
	s.fit(w.p, w.t, w.cart, true)
	s.planted("lot-out-of-date", m.id)
	w.seal(m)
	s.held(m)
	s.unfit(w.t, w.cart)
	s.discard(w.t, w.cart)
	w.cart = nil
	return true
}

// wrongSeam: a bead is told for the next seam of the plan, which nobody has
// prepped; it is withdrawn a minute later and told for the right one.
func (w *work) wrongSeam(m, other *seam) bool {
	s := w.s
	if other.prepped || other.under != nil || technique(other) == floorv1.Technique_TECHNIQUE_WET_BED_THEN_BEAD {
		w.seal(m)
		return true
	}
	s.prep(w.t, m)
	x := w.pass(m, false)
	x.tellAll()
	flow, before := w.cart.flow, w.cart.contents
	s.planted("withdrawn-fact", other.id)
	wrong := x
	wrong.seam = other
	b := s.lay(w.p, w.t, w.cart, wrong, telling{age: live})
	ended := s.now
	w.p.wait(s.minutes(0.7, 1.2))
	s.tell(w.t.person, w.t.terminal, live, &jobsv1.FactWithdrawn{Sequence: b.began, Why: "told for the wrong seam"})
	s.acc.withdrawn(b.began)
	other.bead = nil
	s.changes[other]++
	w.cart.undraw(wrong)
	w.cart.flow, w.cart.contents = flow, before
	w.p.wait(10 * time.Second)
	s.layPast(w.t, w.cart, x, ended)
	w.finish(m)
	return true
}

func (w *work) notPrepped(m *seam) bool {
	if m.under != nil || m.prepped || m.made != 0 {
		w.seal(m)
		return true
	}
	w.s.planted("not-prepped", m.id)
	w.layers(m, telling{age: live})
	w.finish(m)
	return true
}

// overdrawn: more is told than the cartridge held; the storeman weighs it.
func (w *work) overdrawn(m *seam) bool {
	s := w.s
	s.prep(w.t, m)
	x := w.pass(m, false)
	x.tellAll()
	x.ml = float64(w.cart.left)/1000 + 18
	s.planted("overdrawn-cartridge", w.cart.id)
	s.lay(w.p, w.t, w.cart, x, telling{age: live})
	w.finish(m)
	c := w.cart
	s.unfit(w.t, c)
	s.weigh(c, 6, false)
	s.discard(w.t, c)
	w.cart = nil
	return true
}

// bedOnly asks for leave while the bead on its wet bed is missing.
func (w *work) bedOnly(m *seam) bool {
	s := w.s
	s.prep(w.t, m)
	s.lay(w.p, w.t, w.cart, w.pass(m, true), telling{age: live})
	s.planted("layer-missing", m.id)
	s.held(m)
	s.lay(w.p, w.t, w.cart, w.pass(m, false), telling{age: live})
	w.finish(m)
	return true
}

// tooledLate pulls the tape when the tooling time is surely over.
func (w *work) tooledLate(m *seam) bool {
	s := w.s
	s.prep(w.t, m)
	w.layers(m, telling{age: live})
	s.unfit(w.t, w.cart)
	w.p.poll(time.Minute, func() bool {
		g, needed, _ := m.bead.age(floorv1.Clock_CLOCK_TOOLING, 0, s.now)
		return g.hot > needed*1.1
	})
	s.planted("tooled-late", m.id)
	s.tool(w.t, m, "tape pulled", live)
	return true
}
