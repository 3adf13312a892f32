package sim

import (
	"slices"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/anypb"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

// insert takes in a reading at its place, late or not, and settles again what
// came after the one before it.
func (a *air) insert(at time.Time, c, extra, rh float64) (jump, outside bool) {
	i := a.place(at)
	after := slices.Clone(a.told[i:])
	a.told = a.told[:i]
	a.unsettle()
	jump, outside = a.read(at, c, extra, rh)
	a.told[len(a.told)-1].late = true
	a.readAgain(after)
	return jump, outside
}

// backlogs lets a probe lose its network for a while: when it is back it
// reads, and then tells what it has kept. Now and then a logger from a drawer
// tells a reading of weeks ago.
func (s *sim) backlogs(p *proc) {
	for s.sharp() {
		p.wait(s.days(5, 15))
		p.until(s.hours.next(s.now, 3*time.Hour, shiftBegins, shiftEnds))
		zone := s.quietBay(p)
		if s.dead[zone] {
			continue
		}
		s.planted("late-readings", zone)
		s.dead[zone] = true
		from := s.now
		p.wait(s.minutes(50, 100))
		s.dead[zone] = false
		if last, _ := s.airs[zone].last(); s.now.Sub(last.at) < 15*time.Second {
			p.wait(30 * time.Second)
		}
		s.readOnce(zone)
		p.wait(20 * time.Second)
		p.poll(time.Minute, func() bool { return !s.permitRuns() })
		for _, at := range s.backlog(zone, from) {
			s.lateReading(zone, at)
		}
		if s.stumble.IntN(3) == 0 {
			s.planted("reading-of-weeks-ago", zone)
			s.lateReading(zone, s.now.Add(-s.days(3, 30)))
		}
	}
}

// backlog are the moments of the readings that a probe has kept since it lost
// its network, of which it tells those that are five minutes old. They end
// with the newest reading that it told: what it reads after that goes out as
// ever, unless that one stands for it.
func (s *sim) backlog(zone string, from time.Time) (kept []time.Time) {
	end := s.now.Add(-5 * time.Minute)
	if last := s.kept[zone].at; last.After(from) && last.Before(end) {
		end = last
	}
	for at := from.Add(s.minutes(3, 9)); at.Before(end); at = at.Add(s.minutes(12, 25)) {
		kept = append(kept, at)
	}
	return kept
}

// lateReading tells what a probe read a while ago, with its measured age.
func (s *sim) lateReading(zone string, at time.Time) {
	at = at.Truncate(time.Second)
	z := s.airs[zone]
	if s.err != nil || at.Before(s.opt.Start.Add(time.Hour)) || slices.ContainsFunc(z.told, func(r told) bool { return r.at.Equal(at) }) {
		return
	}
	s.settle()
	s.catchUp() // what was announced until now is judged by what was known until now
	rh, c := humidity, s.weather.probed(zone, at, s.weather.daily(zone, at))
	jump, outside := z.insert(at, c, deadBandC, rh)
	s.rep.Readings++
	s.tell(machine, "probe-"+zone, measured(s.now.Sub(at)), &curesv1.ReadingTaken{ZoneId: zone, ProbeId: "probe-" + zone, TempC: c, RhPercent: &rh},
		s.airDue(zone, jump, outside)...)
	s.settle()
	s.catchUp()
}

// photos tells photos that a tablet has kept for up to a month.
func (s *sim) photos(p *proc) {
	for s.sharp() {
		p.wait(s.days(10, 40))
		p.poll(time.Minute, func() bool { return !s.silent })
		if len(s.order) == 0 {
			continue
		}
		j := s.jobs[s.order[s.stumble.IntN(len(s.order))]]
		if !j.opened || j.bay == "" {
			continue
		}
		s.planted("tablet-from-a-drawer", j.ro)
		s.tell(technicians[0], desk, measured(min(s.days(1, 30), s.now.Sub(s.opt.Start))), &jobsv1.PhotoAttached{
			SeamId: j.seams[0].id, Sha256: sumOf(j.ro + s.watch.mark()), MediaType: "image/jpeg", Caption: "found later",
		})
		if s.drawer != nil {
			s.againOf(s.drawer) // it never heard the answer
		}
		s.drawer = s.led.last
	}
}

// revisions redefines a product at night, when no nozzle is on: what lies
// keeps the times that it was laid under.
func (s *sim) revisions(p *proc) {
	for s.sharp() {
		p.wait(s.days(30, 90))
		p.until(s.hours.on(s.now, 1, 2*time.Hour))
		p.poll(time.Minute, func() bool { return !s.silent })
		if s.untold > 0 || slices.ContainsFunc(s.carts, func(c *cartridge) bool { return c.nozzle != "" }) {
			continue
		}
		ids := sortedNames(s.products)
		s.revise(ids[s.stumble.IntN(len(ids))], 0.85+0.3*s.stumble.Float64())
	}
}

func (s *sim) revise(id string, by float64) {
	s.planted("product-revised", id)
	s.settle()
	s.catchUp()
	def := proto.CloneOf(s.products[id].def)
	c := def.GetCure()
	for _, m := range []*float64{c.NozzleGelMin, c.ToolingMin, c.FlowOutMin, c.HandlingMin, c.FullCureMin, c.AfterScuffClosesMin} {
		if m != nil {
			*m *= by
		}
	}
	for _, w := range c.GetOver() {
		w.OpensMin *= by
	}
	s.tell(storeman, desk, live, def)
	was := s.products[id]
	s.products[id] = newProduct(def)
	for _, l := range s.stock {
		if l.product == was {
			l.product = s.products[id]
		}
	}
}

// putRight corrects a reading to what the air really was.
func (s *sim) putRight(zone string, seq uint64, at time.Time) {
	s.settle()
	s.catchUp()
	rh, c := humidity, s.weather.probed(zone, at, s.weather.daily(zone, at))
	body, err := anypb.New(&curesv1.ReadingTaken{ZoneId: zone, ProbeId: "probe-" + zone, TempC: c, RhPercent: &rh})
	if err != nil {
		s.fail(err)
		return
	}
	s.planted("corrected-reading", zone)
	z := s.airs[zone]
	z.withdraw(at)
	jump, outside := z.insert(at, c, deadBandC, rh)
	s.acc.lapse(seq)
	found := s.airDue(zone, jump, outside)
	for i := range found {
		found[i].about = seq
		s.acc.again[found[i].key()] = func() bool { return true }
	}
	s.tell(foreman, desk, live, &jobsv1.FactCorrected{Sequence: seq, Why: "somebody held the probe", Body: body}, found...)
}
