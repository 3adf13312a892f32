package sim

import (
	"math"
	"slices"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

// tech is a technician with the bay and the terminal that are theirs.
type tech struct {
	person
	zone, terminal string
	busy           bool
	claims         []*claim // who waits for them
}

// techZone gives a bay its technician.
func (s *sim) techZone(b *curesv1.ZoneDefined) {
	if !b.GetWorks() || len(b.GetTerminals()) == 0 || s.techs[b.GetZoneId()] != nil {
		return
	}
	who := technicians[len(s.techs)%len(technicians)]
	s.techs[b.GetZoneId()] = &tech{person: who, zone: b.GetZoneId(), terminal: b.GetTerminals()[0]}
}

// take waits for the technician to be free with that much of the shift left.
func (s *sim) take(p *proc, t *tech, need time.Duration) {
	c := &claim{p.job, need}
	t.claims = append(t.claims, c)
	for {
		p.until(s.hours.next(s.now, need, shiftBegins, shiftEnds))
		if !t.busy && s.hours.in(s.now, need, shiftBegins, shiftEnds) && !s.yields(t, c) {
			t.busy = true
			t.claims = slices.DeleteFunc(t.claims, func(o *claim) bool { return o == c })
			return
		}
		p.wait(2 * time.Minute)
	}
}

// pass is one layer to be laid on one seam.
type pass struct {
	seam   *seam
	bed    bool
	ml     float64
	lasted time.Duration
	gap    time.Duration // before it
	guess                // how its volume is told
}

// telling is how a laying is told.
type telling struct {
	age  age
	also []due // what the mishap brings beside what the account finds by itself
}

// lay lays one layer and tells it.
func (s *sim) lay(p *proc, t *tech, c *cartridge, w pass, how telling) *bead {
	p.wait(w.gap)
	begun := s.now
	p.wait(w.lasted)
	ended := s.now
	p.wait(how.age.length)
	body := &jobsv1.BeadLaid{
		SeamId: w.seam.id, CartridgeId: c.id, NozzleId: c.nozzle, Layer: layerOf(w.bed),
		VolumeMl: w.told(), Lasted: durationpb.New(w.lasted),
	}
	late := ended
	if how.age.kind == floorv1.AgeKind_AGE_KIND_CLAIMED {
		late = s.now
	}
	found := append(s.layDue(t, c, w, begun, begun.Add(late.Sub(ended))), how.also...)
	found = append(found, c.draw(w, ended)...)
	seq := s.tell(t.person, t.terminal, how.age, body, found...)
	return s.laid(t, c, w, seq, begun, ended, late)
}

// layRun lays several layers in one go and tells them as one fact.
func (s *sim) layRun(p *proc, t *tech, c *cartridge, passes []pass) {
	type span struct{ begun, ended time.Time }
	var spans []span
	for _, w := range passes {
		p.wait(w.gap)
		begun := s.now
		p.wait(w.lasted)
		spans = append(spans, span{begun, s.now})
	}
	body := &jobsv1.RunLaid{CartridgeId: c.id, NozzleId: c.nozzle}
	var found []due
	flow := c.flow
	for i, w := range passes {
		body.Passes = append(body.Passes, &jobsv1.RunLaid_Pass{
			SeamId: w.seam.id, Layer: layerOf(w.bed), VolumeMl: w.told(), Lasted: durationpb.New(w.lasted),
			EndedBefore: durationpb.New(s.now.Sub(spans[i].ended)),
		})
		found = append(found, s.layDue(t, c, w, spans[i].begun, spans[i].begun)...)
		found = append(found, c.draw(w, spans[i].ended)...)
		c.flow = spans[i].ended
	}
	c.flow = flow
	seq := s.tell(t.person, t.terminal, live, body, found...)
	for i, w := range passes {
		s.laid(t, c, w, seq, spans[i].begun, spans[i].ended, spans[i].ended)
	}
}

// laid is the world after a layer: the bead that lies there, the terminal
// that the job was worked at, the nozzle's last flow.
func (s *sim) laid(t *tech, c *cartridge, w pass, seq uint64, begun, ended, late time.Time) *bead {
	b := w.seam.bead
	spent := begun
	if !c.flow.IsZero() && c.flow.Before(begun) {
		spent = c.flow
	}
	if b == nil {
		b = &bead{seam: w.seam, spent: spent}
		w.seam.bead = b
	}
	if spent.Before(b.spent) {
		b.spent = spent
	}
	b.began, b.product, b.cartridge, b.scuffed = seq, c.lot.product, c, time.Time{}
	b.facts = append(b.facts, seq)
	c.layers = append(c.layers, &layer{seq: seq, bead: b, at: ended, bed: w.bed, planned: w.asPlanned, booked: ul(w.ml), volume: ul(w.ml)})
	if late.After(b.ready) {
		b.ready = late
	}
	b.bed, b.top = b.bed || w.bed, b.top || !w.bed
	s.beads[beadKey{w.seam.id, seq}] = b
	s.mayChange(t, w, c.lot.product, seq, begun)
	c.flow = ended
	w.seam.job.tablet = t.terminal
	s.changes[w.seam]++
	s.rep.Beads++
	return b
}

// layDue is what is due about a layer by the account's own knowledge: of the
// prep, the undercoat, the nozzle, the cartridge and its lot, the cold.
func (s *sim) layDue(t *tech, c *cartridge, w pass, begun, latest time.Time) []due {
	var out []due
	m, pr := w.seam, c.lot.product
	add := func(rule string, sev floorv1.Severity) {
		out = append(out, due{rule: rule, subject: m.subject(), severity: sev})
	}
	if !m.prepped && m.under == nil {
		add("not-prepped", query)
	}
	if u := m.under; u != nil && begun.Before(u.at.Add(ofMinutes(u.dryMin))) {
		add("undercoat-not-dry", stop)
	}
	if u := m.under; u != nil && latest.Add(w.lasted).After(u.at.Add(ofMinutes(undercoatRecoatMin))) {
		add("undercoat-past-recoat", stop)
	}
	if !c.flow.IsZero() && s.gelled(t, c, latest) {
		add("nozzle-gelled", stop)
	}
	if c.lot.recalled {
		add("lot-recalled", stop)
	}
	if c.lot.outOfDate(begun.Add(w.lasted)) {
		add("lot-out-of-date", stop)
	}
	if life := pr.def.GetOpenedLifeDays(); life > 0 && begun.Add(w.lasted).After(c.opened.Add(time.Duration(life*24*float64(time.Hour)))) {
		add("opened-life-over", query)
	}
	if !c.equalised {
		add("not-equalised", stop)
	}
	if !c.purged {
		add("not-purged", stop)
	}
	if !w.bed {
		out = append(out, s.ruleDue(m, pr)...)
	}
	if s.tooCold(m.job, pr, begun) {
		add("below-product-temperature", query)
	}
	if s.tooWarm(m.job, pr, begun) {
		add("above-product-temperature", query)
	}
	if !w.bed && s.damp(t, m.job, begun) {
		add("near-dew-point", query)
	}
	return out
}

// mayChange notes what is judged by the air anew, and may come out otherwise,
// whenever a later fact has the shop look at a layer again.
func (s *sim) mayChange(t *tech, w pass, pr *product, seq uint64, begun time.Time) {
	j := w.seam.job
	for rule, holds := range map[string]func() bool{
		"below-product-temperature": func() bool { return s.tooCold(j, pr, begun) },
		"above-product-temperature": func() bool { return s.tooWarm(j, pr, begun) },
		"near-dew-point":            func() bool { return s.damp(t, j, begun) },
	} {
		s.acc.again[due{rule: rule, subject: w.seam.subject(), about: seq}.key()] = holds
	}
}

// gelled reports whether the nozzle may have gelled at a moment.
func (s *sim) gelled(t *tech, c *cartridge, at time.Time) bool {
	needed, ok := c.lot.product.needs(floorv1.Clock_CLOCK_NOZZLE_GEL, 0)
	return ok && s.airs[t.zone].age(c.lot.product.law, c.flow, at).hot >= needed*(1-c.lot.product.tol)
}

// panel is the set that a car's panel lay in at a moment, by all that is known
// now: a panel that settles may be as cold or as warm as where it came from,
// as far as that is known. False: the air where it is was not read.
func (s *sim) panel(j *job, at time.Time) (set span, known bool) {
	zones := j.course.zones(at)
	if len(zones) == 0 {
		return span{}, false
	}
	set, known = zones[0].edges(at), zones[0].freshAt(at)
	for i, m := range j.course.moves {
		if i == 0 || m.at.After(at) || !at.Before(m.at.Add(m.zone.settling)) {
			continue // where it was before anybody said is not guessed at
		}
		if from := j.course.moves[i-1].zone; from.freshAt(at) {
			set = set.hull(from.edges(at))
		}
	}
	return set, known
}

// tooCold reports whether the panel may have been below what the product
// wants when laying began, tooWarm whether it may have been above.
func (s *sim) tooCold(j *job, pr *product, begun time.Time) bool {
	set, known := s.panel(j, begun)
	least := pr.def.GetCure().MinTempC
	return known && least != nil && set.lo < *least
}

func (s *sim) tooWarm(j *job, pr *product, begun time.Time) bool {
	set, known := s.panel(j, begun)
	most := pr.def.GetCure().MaxTempC
	return known && most != nil && set.hi > *most
}

// leastMarginK is how far above the dew point a surface must be: ISO 8502-4
// and coating specifications.
const leastMarginK = 3.0

// damp reports whether the panel may have been too near to the dew point of
// the bay's air when laying began.
func (s *sim) damp(t *tech, j *job, begun time.Time) bool {
	c, rh, ok := s.airs[t.zone].humidity(begun)
	set, _ := s.panel(j, begun)
	return ok && set.lo-dewPoint(c, rh) < leastMarginK
}

// dewPoint is by Magnus over water with the constants of WMO-No. 8, annex
// 4.B, written out here once more.
func dewPoint(c, rh float64) float64 {
	const a, b = 17.62, 243.12
	g := math.Log(rh/100) + a*c/(b+c)
	return b * g / (a - g)
}

// comfortable reports whether a product may be laid on a car without any
// doubt about cold or damp, whatever is read next.
func (s *sim) comfortable(t *tech, j *job, pr *product) bool {
	z := s.airs[t.zone]
	r, ok := z.last()
	if !ok || !z.fresh(s.now) {
		return false
	}
	if most := pr.def.GetCure().MaxTempC; most != nil && max(r.set.hi, j.course.edges(s.now).hi)+s.opt.Habits.blind().Minutes()*z.drift > *most-0.5 {
		return false
	}
	lo := min(r.set.lo-s.opt.Habits.blind().Minutes()*z.drift, j.course.edges(s.now).lo) - 0.4
	c, rh, humid := z.humidity(s.now)
	floor := pr.def.GetCure().MinTempC
	return (floor == nil || lo > *floor) && (!humid || lo-dewPoint(c+1, rh+3) > leastMarginK)
}

// ruleDue is what the rules of what goes on a seam say about a bead. A seam
// that is sealed by the book has notes only.
func (s *sim) ruleDue(m *seam, pr *product) []due {
	var out []due
	add := func(rule string, sev floorv1.Severity) {
		out = append(out, due{rule: rule, subject: m.subject(), severity: sev})
	}
	sub := m.substrate()
	bare := sub == floorv1.Substrate_SUBSTRATE_BARE_STEEL || sub == floorv1.Substrate_SUBSTRATE_BARE_ALUMINIUM || sub == floorv1.Substrate_SUBSTRATE_ZINC_COATED
	switch {
	case pr.levels() && bare:
		add("sl-bare-metal", stop)
		add("substrate-not-on-sheet", query)
	case pr.levels() && sub == floorv1.Substrate_SUBSTRATE_SELF_ETCH_PRIMER:
		add("sl-self-etch", stop)
		add("substrate-not-on-sheet", query)
	case bare && !m.exposed():
		add("bare-metal-coated", note)
	}
	if o := m.def.GetOrientation(); pr.levels() && o != floorv1.Orientation_ORIENTATION_LEVEL {
		add("sl-not-level", stop)
	}
	if !m.exposed() && m.job.coat() == floorv1.Coat_COAT_WATERBORNE {
		add("waterborne-waits", note)
	}
	if m.exposed() && m.def.GetReference().GetColour() == "ochre" {
		add("colour-exposed", query) // no product on the shelf is ochre
	}
	return out
}

// tool shapes a bead; late is found. Whether it was late hangs on the air as it
// is known, and may come out otherwise when more is.
func (s *sim) tool(t *tech, m *seam, how string, a age) uint64 {
	b, at, d := m.bead, s.now.Add(-a.length), due{rule: "tooled-late", subject: m.subject(), severity: query}
	late := func() bool { return b.tooledLate(at) }
	var found []due
	if late() {
		found = append(found, d)
	}
	d.about = s.tell(t.person, t.terminal, a, &jobsv1.BeadTooled{SeamId: m.id, How: how}, found...)
	s.acc.again[d.key()] = late
	return d.about
}

// layPast tells a layer that ended a while ago, with its measured age.
func (s *sim) layPast(t *tech, c *cartridge, w pass, ended time.Time) {
	s.layPastAs(t, c, w, ended, measured(s.now.Sub(ended)))
}

func (s *sim) layPastAs(t *tech, c *cartridge, w pass, ended time.Time, a age) {
	begun := ended.Add(-w.lasted)
	body := &jobsv1.BeadLaid{
		SeamId: w.seam.id, CartridgeId: c.id, NozzleId: c.nozzle, Layer: layerOf(w.bed),
		VolumeMl: w.told(), Lasted: durationpb.New(w.lasted),
	}
	found := append(s.layDue(t, c, w, begun, begun), c.draw(w, ended)...)
	seq := s.tell(t.person, t.terminal, a, body, found...)
	s.laid(t, c, w, seq, begun, ended, ended)
}

func layerOf(bed bool) floorv1.Layer {
	if bed {
		return floorv1.Layer_LAYER_BED
	}
	return floorv1.Layer_LAYER_BEAD
}
