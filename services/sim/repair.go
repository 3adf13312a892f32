package sim

import (
	"slices"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

// stallsPerBay is how many cars one bay holds.
const stallsPerBay = 3

// An epoxy undercoat of the simulated shop: dry after half an hour, to be
// sealed within four days. Invented, as the whole shop is.
const (
	undercoatDryMin    = 30
	undercoatRecoatMin = 4 * 1440
)

// repair takes a job through the shop.
func (s *sim) repair(p *proc, j *job) {
	p.job = j
	s.throw("open ", j.ro)
	if !j.opened {
		s.openJob(p, j)
	}
	s.rep.Opened++
	if s.opt.Policy != "" {
		s.planLoads(j) // the office does it when a car comes in
	}
	t := s.arrive(p, j)
	s.tearDown(p, t, j)
	s.undercoats(p, t, j)
	s.seal(p, t, j)
	s.planLoads(j)
	j.sealed, j.sealedAt = true, s.now
	s.disturb(p, t, j)
	p.poll(5*time.Minute, func() bool {
		return !slices.ContainsFunc(j.loads, func(l *load) bool { return !l.done })
	})
	s.wax(p, t, j)
	s.waterTest(p, t, j)
	s.inspect(p, j)
	s.deliver(p, j)
}

// arrive waits for a stall and moves the car in from the yard.
func (s *sim) arrive(p *proc, j *job) *tech {
	s.moveCar(j, "outdoors", desk)
	p.wait(s.minutes(1, 10))
	p.poll(4*time.Minute, func() bool {
		if j.bay = j.fixedBay; j.bay == "" {
			j.bay = s.freeBay()
		}
		return j.bay != "" && s.hours.in(s.now, 0, shiftBegins, shiftEnds)
	})
	s.stalls[j.bay]++
	t := s.techs[j.bay]
	if j.mishaps["moved-car"] {
		s.take(p, t, time.Hour)
		s.fromTheCold(p, t, j)
		t.busy = false
		return t
	}
	s.moveCar(j, j.bay, desk)
	return t
}

// freeBay is the emptiest bay with a technician, first by name.
func (s *sim) freeBay() string {
	best := ""
	for _, z := range s.zones {
		if s.techs[z] != nil && s.stalls[z] < stallsPerBay && (best == "" || s.stalls[z] < s.stalls[best]) {
			best = z
		}
	}
	return best
}

// moveCar takes a car to a zone by a tap.
func (s *sim) moveCar(j *job, zone, terminal string) {
	z := s.airs[zone]
	if j.at == z || z == nil {
		return
	}
	s.tell(foreman, terminal, live, &jobsv1.CarMoved{Ro: j.ro, ZoneId: zone})
	j.at = z
	j.course.to(s.now, z)
}

// tearDown is the cutting and welding before anything is sealed, then the
// plan of the seams.
func (s *sim) tearDown(p *proc, t *tech, j *job) {
	s.throw("tear-down ", j.ro)
	p.until(s.hours.next(s.now.Add(40*time.Minute), 40*time.Minute, shiftBegins, shiftEnds))
	s.take(p, t, 30*time.Minute)
	p.wait(s.minutes(15, 25))
	s.planJob(p, t, j)
	if m := j.levelled(); m != nil && j.has("not-level") {
		b := cloneSurvey(m.def)
		b.Orientation = floorv1.Orientation_ORIENTATION_SLOPED
		s.tell(t.person, t.terminal, live, b)
		m.def = b
		s.planted("sealer-not-level", m.id)
	}
	t.busy = false
}

// levelled is a seam that takes a self-levelling sealer and bears nothing yet.
func (j *job) levelled() *seam {
	for _, m := range j.seams {
		if m.def.GetReference().GetClass() == floorv1.SealerClass_SEALER_CLASS_SELF_LEVELLING && m.bead == nil {
			return m
		}
	}
	return nil
}

// undercoats primes the joints that the survey wants primed.
func (s *sim) undercoats(p *proc, t *tech, j *job) {
	s.throw("undercoats ", j.ro)
	by := map[floorv1.Substrate][]*seam{}
	spared := j.levelled()
	wrong := spared != nil && j.has("wrong-substrate")
	for _, m := range j.seams {
		if k := m.def.GetSubstrate(); m.bead == nil && primer(k) {
			if wrong && m == spared {
				m.made = floorv1.Substrate_SUBSTRATE_BARE_STEEL
				s.planted("wrong-substrate", m.id)
				continue
			}
			by[k] = append(by[k], m)
		}
	}
	if len(by) == 0 {
		return
	}
	s.take(p, t, 20*time.Minute)
	for _, k := range []floorv1.Substrate{floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER, floorv1.Substrate_SUBSTRATE_DTM_URETHANE_PRIMER} {
		if len(by[k]) > 0 {
			p.wait(s.minutes(4, 8))
			s.prime(t, k, by[k])
		}
	}
	t.busy = false
	if spared != nil && !wrong && j.mishaps["wet-undercoat"] {
		return // sealed before it is dry
	}
	p.wait(ofMinutes(undercoatDryMin) + s.minutes(3, 8))
}

func primer(k floorv1.Substrate) bool {
	return k == floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER || k == floorv1.Substrate_SUBSTRATE_DTM_URETHANE_PRIMER
}

// prime sprays an undercoat on seams in the bay.
func (s *sim) prime(t *tech, k floorv1.Substrate, seams []*seam) {
	b := &jobsv1.CoatApplied{
		Layer: &jobsv1.CoatApplied_Under{Under: k}, Product: word(k), DryMin: undercoatDryMin, RecoatMin: undercoatRecoatMin,
		Lasted: durationpb.New(3 * time.Minute),
	}
	for _, m := range seams {
		b.SeamIds = append(b.SeamIds, m.id)
	}
	s.tell(t.person, t.terminal, live, b)
	for _, m := range seams {
		m.under, m.made = &undercoat{s.now, undercoatDryMin}, k
	}
}

// prep says that a joint is ready to be sealed.
func (s *sim) prep(t *tech, m *seam) {
	k := m.substrate()
	s.tell(t.person, t.terminal, live, &jobsv1.SurfacePrepped{SeamId: m.id, Substrate: k})
	m.prepped, m.made = true, k
	m.job.tablet = t.terminal
}

// planLoads plans what the booth takes, unless the shop was filled with it.
func (s *sim) planLoads(j *job) {
	if len(j.loads) > 0 {
		return
	}
	if s.boothFor(j.coat()) != s.boothFor(floorv1.Coat_COAT_WATERBORNE) {
		s.planLoad(j, "P", s.boothFor(j.coat()), j.coat())
	}
	s.planLoad(j, "A", s.boothFor(floorv1.Coat_COAT_WATERBORNE), floorv1.Coat_COAT_UNSPECIFIED)
}

// boothFor is where a kind of coat is sprayed: primer-surfacer at a prep
// station if there is one, all else in a booth that bakes.
func (s *sim) boothFor(c floorv1.Coat) *booth {
	var names []string
	for id := range s.booths {
		names = append(names, id)
	}
	slices.Sort(names)
	for _, id := range names {
		if b := s.booths[id]; b.bakes() == (c != floorv1.Coat_COAT_PRIMER_SURFACER) {
			return b
		}
	}
	return s.booths[names[0]]
}

func (s *sim) planLoad(j *job, suffix string, b *booth, coat floorv1.Coat) {
	l := &boothv1.LoadPlanned{LoadId: j.ro + "-" + suffix, BoothId: b.id, Ro: j.ro, Colour: j.def.GetPaintColour(), Coat: coat}
	if !b.bakes() {
		l.Colour = "grey primer"
	} else if j.first > 0 {
		l.FirstCoatMin = j.first.Minutes()
	}
	s.book(l, b, j)
	for _, m := range j.seams {
		if !m.exposed() {
			l.SeamIds = append(l.SeamIds, m.id)
		}
	}
	s.tell(painter, boothScreen, live, l)
	s.learnLoad(l)
}
