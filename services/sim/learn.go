package sim

import (
	"math"
	"slices"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
)

// learn takes in what the shop was filled with, as the journal shows it.
func (s *sim) learn(e *floorv1.Entry, body proto.Message) {
	switch b := body.(type) {
	case *materialsv1.ProductDefined:
		s.products[b.GetProductId()] = newProduct(b)
	case *curesv1.ZoneDefined:
		s.learnZone(b)
	case *curesv1.ReadingTaken:
		if z := s.airs[b.GetZoneId()]; z != nil {
			z.read(e.GetOccurred().AsTime(), b.GetTempC(), deadBandC, b.GetRhPercent())
		}
	case *boothv1.BoothDefined:
		s.booths[b.GetBoothId()] = newBooth(b)
	case *jobsv1.JobOpened:
		s.newJob(b).opened = true
	case *jobsv1.SeamSurveyed:
		s.learnSeam(b)
	case *jobsv1.CarMoved:
		s.jobs[b.GetRo()].course.to(e.GetOccurred().AsTime(), s.airs[b.GetZoneId()])
	case *boothv1.LoadPlanned:
		s.learnLoad(b)
	case *materialsv1.LotReceived:
		s.learnLot(b, e.GetOccurred().AsTime())
	}
}

func (s *sim) learnZone(b *curesv1.ZoneDefined) {
	z := s.airs[b.GetZoneId()]
	if z == nil {
		z = newAir(b.GetZoneId(), s.opt.Start, s.opt.Habits.step())
		s.airs[z.zone] = z
		s.zones = append(s.zones, z.zone)
		slices.Sort(s.zones)
	}
	s.zoneDefs[z.zone] = b
	z.limits = span{b.GetLimitLowC(), b.GetLimitHighC()}
	z.errorC, z.drift = b.GetProbeErrorC(), b.GetDriftCPerMin()
	z.stale, z.settling = b.GetStaleAfter().AsDuration(), b.GetSettling().AsDuration()
	z.works = b.GetWorks()
	s.weather.most[z.zone] = math.Min(boothRate, z.drift/2)
	s.techZone(b)
}

func newBooth(b *boothv1.BoothDefined) *booth {
	t := &booth{id: b.GetBoothId(), zone: b.GetZoneId(), def: b, phase: boothv1.Phase_PHASE_IDLE}
	t.firstCoat, t.process = ofMinutes(b.GetFirstCoatMin()), ofMinutes(b.GetProcessMin())
	t.opens, t.closes = boothOpens, boothCloses
	if !t.bakes() {
		t.opens, t.closes = prepOpens, prepCloses
	}
	return t
}

// bakes tells the paint booth from a prep station: it changes colours.
func (b *booth) bakes() bool { return len(b.def.GetSetups()) > 1 }

func ofMinutes(m float64) time.Duration { return time.Duration(m * float64(time.Minute)) }

func (s *sim) newJob(b *jobsv1.JobOpened) *job {
	j := &job{ro: b.GetRo(), def: b, mishaps: map[string]bool{}}
	for _, z := range s.zones {
		if s.airs[z].works {
			j.course.bays = append(j.course.bays, s.airs[z])
		}
	}
	s.jobs[j.ro] = j
	s.order, s.inShop = append(s.order, j.ro), append(s.inShop, j)
	return j
}

func (s *sim) learnSeam(b *jobsv1.SeamSurveyed) {
	ro, _, _ := cutSeam(b.GetSeamId())
	j := s.jobs[ro]
	for _, m := range j.seams {
		if m.id == b.GetSeamId() {
			m.def = b
			return
		}
	}
	j.seams = append(j.seams, &seam{id: b.GetSeamId(), job: j, def: b})
}

func cutSeam(id string) (ro, name string, ok bool) {
	for i := range id {
		if id[i] == '/' {
			return id[:i], id[i+1:], true
		}
	}
	return id, "", false
}

func (s *sim) learnLoad(b *boothv1.LoadPlanned) {
	j := s.jobs[b.GetRo()]
	l := s.loads[b.GetLoadId()]
	if l == nil {
		l = &load{id: b.GetLoadId(), job: j}
		s.loads[l.id] = l
		if n := len(j.loads); n > 0 && j.loads[n-1].booth.id != b.GetBoothId() {
			l.after = j.loads[n-1]
		}
		j.loads = append(j.loads, l)
	}
	l.booth, l.coat, l.colour, l.seams = s.booths[b.GetBoothId()], b.GetCoat(), b.GetColour(), nil
	l.first = ofMinutes(b.GetFirstCoatMin())
	if l.first == 0 {
		l.first = l.booth.firstCoat
	}
	for _, m := range j.seams {
		if slices.Contains(b.GetSeamIds(), m.id) {
			l.seams = append(l.seams, m)
		}
	}
}

func (s *sim) learnLot(b *materialsv1.LotReceived, at time.Time) *lot {
	l := s.lots[b.GetLotId()]
	if l == nil {
		l = &lot{id: b.GetLotId(), product: s.products[b.GetProductId()]}
		s.lots[l.id] = l
		s.stock = append(s.stock, l)
	}
	l.received += int(b.GetCartridges())
	if b.GetExpires() != nil {
		l.expires = b.GetExpires().AsTime()
	} else if days := l.product.def.GetShelfLifeDays(); days > 0 {
		l.expires = at.Add(time.Duration(days * 24 * float64(time.Hour)))
	}
	return l
}

// calendar gives a booth its hours over the simulated days.
func (s *sim) calendar(b *booth, from time.Time, days int) {
	def := proto.CloneOf(b.def)
	def.Open = nil
	for d := range days {
		if at := s.hours.on(from, d, 0); s.hours.workday(at) {
			def.Open = append(def.Open, &floorv1.Interval{From: timestamppb.New(s.hours.on(at, 0, b.opens)), To: timestamppb.New(s.hours.on(at, 0, b.closes))})
		}
	}
	s.tell(foreman, desk, live, def)
	b.def = def
}
