package sim

import (
	"cmp"
	"slices"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

func cloneSurvey(b *jobsv1.SeamSurveyed) *jobsv1.SeamSurveyed { return proto.CloneOf(b) }

// group is the seams of a job that take one product.
type group struct {
	product *product
	seams   []*seam
}

// groups puts a job's bare seams together by product, in the order of the
// survey.
func (s *sim) groups(j *job) []group {
	var out []group
next:
	for _, m := range j.seams {
		if m.bead != nil || m.untold {
			continue
		}
		pr := s.products[m.plan.GetProductId()]
		for i := range out {
			if out[i].product == pr {
				out[i].seams = append(out[i].seams, m)
				continue next
			}
		}
		out = append(out, group{pr, []*seam{m}})
	}
	slices.SortStableFunc(out, func(a, b group) int { // the sealer that needs it warmest first
		return cmp.Compare(b.product.def.GetCure().GetMinTempC(), a.product.def.GetCure().GetMinTempC())
	})
	return out
}

// seal lays every seam of a job, product by product.
func (s *sim) seal(p *proc, t *tech, j *job) {
	s.sleepOnIt(p, t, j)
	for len(s.groups(j)) > 0 {
		s.listed(p, j)
		s.take(p, t, 50*time.Minute)
		gs := s.groups(j) // what is bare now that nobody else is at the car
		switch {
		case len(gs) == 0:
		case gs[0].product.levels() && j.mishaps["wet-undercoat"] && gs[0].seams[0].under != nil:
			s.tooWet(p, t, gs[0])
		default:
			s.comfort(p, t, j, gs[0].product)
			s.sealGroup(p, t, j, gs[0])
		}
		t.busy = false
		p.wait(s.minutes(2, 6))
	}
}

// bare drops the seams that somebody has laid meanwhile.
func (g group) bare() group {
	g.seams = slices.DeleteFunc(slices.Clone(g.seams), func(m *seam) bool { return m.bead != nil || m.untold })
	return g
}

// coldC is how cold the mornings of a bay are in which somebody may lay too
// early.
const coldC = 12.0

// sleepOnIt leaves a job that is to be sealed too early in the morning until
// then, if its bay is a cold one.
func (s *sim) sleepOnIt(p *proc, t *tech, j *job) {
	switch {
	case !j.mishaps["cold-laying"]:
	case days[t.zone].cold > coldC:
		j.has("cold-laying")
	default:
		p.until(s.hours.next(s.hours.on(s.now, 1, 0), 0, shiftBegins, shiftEnds))
	}
}

// comfort waits until a product may be laid without doubt about the cold,
// and until the bay's probe speaks. Whoever does not wait is planted.
func (s *sim) comfort(p *proc, t *tech, j *job, pr *product) {
	for {
		if j.mishaps["cold-laying"] && s.surelyCold(t, j, pr) {
			return
		}
		if s.comfortable(t, j, pr) && !s.dead[t.zone] && s.hours.in(s.now, 50*time.Minute, shiftBegins, shiftEnds) {
			return
		}
		t.busy = false
		p.wait(5 * time.Minute)
		s.take(p, t, 50*time.Minute)
	}
}

// surelyCold: laid now, it will be found to be below the product's
// temperature, and nothing else.
func (s *sim) surelyCold(t *tech, j *job, pr *product) bool {
	z := s.airs[t.zone]
	r, ok := z.last()
	min := pr.def.GetCure().MinTempC
	c, rh, humid := z.humidity(s.now)
	return ok && z.fresh(s.now) && min != nil && r.set.lo < *min-0.6 && len(j.course.zones(s.now)) == 1 &&
		(!humid || r.set.lo-(s.opt.Habits.blind().Minutes()+1)*z.drift-0.5-dewPoint(c+1, rh+3) > leastMarginK) && s.hours.in(s.now, 50*time.Minute, shiftBegins, shiftEnds)
}

// sealGroup lays a group of seams from one cartridge after another.
func (s *sim) sealGroup(p *proc, t *tech, j *job, g group) {
	if g = g.bare(); len(g.seams) == 0 {
		return
	}
	if j.mishaps["cold-laying"] && s.surelyCold(t, j, g.product) {
		j.has("cold-laying")
		s.planted("cold-laying", g.seams[0].id)
		g.seams = g.seams[:1] // the rest when it is warmer
	}
	w := &work{s: s, p: p, t: t, j: j}
	for i := 0; i < len(g.seams); i++ {
		if n := w.inOneGo(g.seams[i:]); n > 1 {
			w.run(g.seams[i : i+n])
			i += n - 1
			continue
		}
		m := g.seams[i]
		s.throw("seal ", m.id)
		w.ready(m, volume(m))
		if !s.mishap(w, g, i) {
			w.seal(m)
		}
	}
	w.end()
}

// longestRun is how many seams are laid in one go at most.
const longestRun = 3

// inOneGo counts the seams at the head of a group that are laid in one go:
// plain beads that need no tooling, on a job on which nothing is planted.
func (w *work) inOneGo(seams []*seam) int {
	n, ml := 0, 0.0
	for _, m := range seams {
		ml += volume(m)
		if n == longestRun || technique(m) != floorv1.Technique_TECHNIQUE_DIRECT_BEAD || ml > mostML {
			break
		}
		n++
	}
	if len(w.j.mishaps) > 0 {
		return 0
	}
	return n
}

// run preps, lays and finishes several seams in one go.
func (w *work) run(seams []*seam) {
	var ml float64
	w.s.throw("seal ", seams[0].id)
	for _, m := range seams {
		ml += volume(m)
		w.s.prep(w.t, m)
	}
	w.ready(seams[0], ml)
	var passes []pass
	for _, m := range seams {
		passes = append(passes, w.pass(m, false))
	}
	w.s.layRun(w.p, w.t, w.cart, passes)
	for _, m := range seams {
		w.finish(m)
	}
}

// work is one stretch of sealing with one cartridge and nozzle.
type work struct {
	s    *sim
	p    *proc
	t    *tech
	j    *job
	cart *cartridge
}

// ready sees to a cartridge with enough in it, with a nozzle that is purged
// and has not stood.
func (w *work) ready(m *seam, ml float64) {
	s, c := w.s, w.cart
	pr := s.products[m.plan.GetProductId()]
	if c != nil && (c.left < ul(ml+purgeML+holdUpML+1) || c.lot.product != pr || c.lot.recalled) {
		w.end()
	}
	if w.cart == nil {
		w.cart = s.takeCartridge(w.p, w.t, pr, ml)
	}
	if w.cart.nozzle != "" && w.stood() {
		s.unfit(w.t, w.cart)
	}
	if w.cart.nozzle == "" {
		s.fit(w.p, w.t, w.cart, true)
	}
}

// stood reports whether the nozzle has not moved material for half of its gel
// time: a careful technician takes a new one.
func (w *work) stood() bool {
	c := w.cart
	needed, ok := c.lot.product.needs(floorv1.Clock_CLOCK_NOZZLE_GEL, 0)
	return ok && !c.flow.IsZero() && w.s.airs[w.t.zone].age(c.lot.product.law, c.flow, w.s.now.Add(time.Minute)).hot > needed/2
}

// end takes the nozzle off and puts the cartridge away.
func (w *work) end() {
	if w.cart == nil {
		return
	}
	w.s.unfit(w.t, w.cart)
	if w.cart.left < ul(restML) && !w.cart.gone {
		w.s.discard(w.t, w.cart)
	}
	w.cart = nil
}

// pass is a layer of the planned bead: a bed takes a quarter of it.
func (w *work) pass(m *seam, bed bool) pass {
	ml := volume(m)
	if bed {
		ml = float64(ul(ml/4)/100) / 10
	}
	return w.s.guessed(w.t, pass{seam: m, bed: bed, ml: ml, lasted: w.s.minutes(0.8, 1.4), gap: w.s.minutes(0.1, 0.3)})
}

// seal preps, lays and finishes one seam by the book.
func (w *work) seal(m *seam) {
	w.s.prep(w.t, m)
	w.layers(m, telling{age: live})
	w.finish(m)
}

// layers lays the bed, if there is one, and the bead.
func (w *work) layers(m *seam, how telling) {
	if technique(m) == floorv1.Technique_TECHNIQUE_WET_BED_THEN_BEAD {
		w.s.lay(w.p, w.t, w.cart, w.pass(m, true), telling{age: live})
	}
	w.s.lay(w.p, w.t, w.cart, w.pass(m, false), how)
}

// gentleC is what gentle heat is taken for that nobody measured, as the
// shop's contract says.
const gentleC = 80

// warm holds gentle heat to a bead now and then, to take the air out of it.
func (w *work) warm(m *seam) {
	s := w.s
	if !s.sharp() || s.stumble.IntN(4) != 0 {
		return
	}
	const lasted = 90 * time.Second
	begun := s.now
	w.p.wait(lasted)
	body := &jobsv1.HeatApplied{SeamIds: []string{m.id}, Lasted: durationpb.New(lasted)}
	set := around(gentleC, 0)
	if s.stumble.IntN(2) == 0 {
		c := 35 + 15*s.stumble.Float64()
		body.SurfaceTempC = &c
		set = around(c, m.job.course.zones(s.now)[0].errorC)
	}
	var settling time.Duration
	for _, z := range m.job.course.zones(s.now) {
		settling = max(settling, z.settling)
	}
	s.planted("heat", m.id)
	s.settle()
	s.catchUp() // what was announced until now is judged without the heat that nobody had told of
	s.tell(w.t.person, w.t.terminal, live, body)
	m.heats = append(m.heats, warmth{begun, s.now.Add(settling), set})
}

// finish shapes the bead or takes the air out of it.
func (w *work) finish(m *seam) {
	w.p.wait(w.s.minutes(0.4, 0.9))
	switch technique(m) {
	case floorv1.Technique_TECHNIQUE_TAPE_EDGE:
		w.s.tool(w.t, m, "tape pulled", live)
	case floorv1.Technique_TECHNIQUE_BRUSHED:
		w.s.tool(w.t, m, "brushed", live)
	default:
		if m.bead.product.levels() {
			w.s.tell(w.t.person, w.t.terminal, live, &jobsv1.BeadDeaired{SeamId: m.id})
			w.warm(m)
		}
	}
}
