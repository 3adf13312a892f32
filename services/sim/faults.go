package sim

import (
	"fmt"
	"math"
	"slices"
	"time"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

// openDoors lets in the yard's air: the bay loses some kelvin in six minutes.
func (s *sim) openDoors(p *proc) {
	const bay = "bay-2"
	if s.airs[bay] == nil {
		return
	}
	for {
		p.until(s.hours.next(s.hours.on(s.now, 1, 8*time.Hour+s.minutes(0, 300)), 0, shiftBegins, shiftEnds))
		d := dip{s.now, math.Min(3+2*s.chance.Float64(), 4*s.airs[bay].drift)} // within what the bay credibly does
		s.weather.dips[bay] = append(s.weather.dips[bay], d)
		s.planted("open-door", fmt.Sprintf("%s, %.1f K", bay, d.by))
	}
}

// deadProbes silences a probe for a while; somebody reads the air by hand
// before it is back.
func (s *sim) deadProbes(p *proc) {
	for {
		p.until(s.hours.next(s.hours.on(s.now, s.nextTime(), 9*time.Hour+s.minutes(0, 240)), 2*time.Hour, shiftBegins, shiftEnds))
		zone := s.quietBay(p)
		z := s.airs[zone]
		s.planted("dead-probe", zone)
		s.dead[zone] = true
		s.justStale(p, z)
		p.wait(z.stale + s.minutes(2, 6))
		for _, l := range s.loadsIn(zone) {
			s.probe(l)
		}
		if s.chance.IntN(2) == 0 {
			s.readByHand(zone)
		}
		p.wait(s.minutes(5, 10))
		s.dead[zone] = false
		p.wait(2 * time.Minute)
		for _, b := range s.boothList() {
			s.decidesAgain(p, b)
		}
	}
}

// quietBay waits for a bay in which nobody lays anything.
func (s *sim) quietBay(p *proc) string {
	for {
		for _, i := range s.chance.Perm(len(s.zones)) {
			if t := s.techs[s.zones[i]]; t != nil && !t.busy && !s.permitRuns() {
				return s.zones[i]
			}
		}
		p.wait(7 * time.Minute)
	}
}

func (s *sim) permitRuns() bool { return s.permits() > 0 }

// permits counts those that run.
func (s *sim) permits() int {
	n := 0
	for _, b := range s.boothList() {
		if b.permit != nil && !b.permit.ended {
			n++
		}
	}
	return n
}

// loadsIn are the loads that wait with their car in a zone.
func (s *sim) loadsIn(zone string) []*load {
	var out []*load
	for _, b := range s.boothList() {
		for _, l := range s.waiting(b) {
			if l.job.at == s.airs[zone] {
				out = append(out, l)
			}
		}
	}
	return out
}

// readByHand is a reading with a hand thermometer, wider than a probe's.
func (s *sim) readByHand(zone string) {
	c := s.weather.probed(zone, s.now, s.weather.daily(zone, s.now))
	if r, ok := s.airs[zone].last(); ok && math.Abs(r.c-c) < 8 {
		c = s.weather.probed(zone, s.now, r.c) // near to what was last known: the air has hardly moved
	}
	rh := humidity
	s.beforeJump(zone, c, handErrorC)
	jump, outside := s.airs[zone].read(s.now, c, handErrorC, rh)
	s.tell(foreman, desk, live, &curesv1.ReadingTaken{ZoneId: zone, TempC: c, RhPercent: &rh, ByHand: true}, s.airDue(zone, jump, outside)...)
	s.rep.Readings++
}

// beforeJump takes in what was announced until now, before a reading that
// throws doubt on the time before it: it is judged by what was known then.
func (s *sim) beforeJump(zone string, c, extra float64) {
	if s.airs[zone].jumps(s.now, c, extra) {
		s.settle()
		s.catchUp()
	}
}

// spikes are readings that no air can follow, from a probe that was touched.
// Some are withdrawn when somebody notices.
func (s *sim) spikes(p *proc) {
	for {
		p.until(s.hours.next(s.hours.on(s.now, s.nextTime(), 10*time.Hour+s.minutes(0, 240)), time.Hour, shiftBegins, shiftEnds))
		zone := s.quietBay(p)
		p.until(s.spikeTime())
		if s.techs[zone].busy || s.permitRuns() || s.dead[zone] || s.workedSinceRead(zone) {
			continue
		}
		s.planted("spike-reading", zone)
		seq := s.reading(zone, 46.5)
		at := s.now
		p.wait(10 * time.Second)
		for _, l := range s.loadsIn(zone) {
			s.probe(l)
		}
		if n := s.chance.IntN(2); n == 1 && s.sharp() && s.stumble.IntN(2) == 0 {
			s.putRight(zone, seq, at)
		} else if n == 0 {
			s.settle()
			s.catchUp() // what was announced until now is judged by what was known until now
			s.tell(foreman, desk, live, &jobsv1.FactWithdrawn{Sequence: seq, Why: "somebody held the probe"})
			s.acc.withdrawn(seq)
			s.airs[zone].withdraw(at)
		}
	}
}

// spikeTime is the next moment at which no probe reads by itself: half a
// minute past, or, where the account steps by minutes, a whole minute.
func (s *sim) spikeTime() time.Time {
	at := s.now.Truncate(time.Minute).Add(time.Minute)
	if !s.sharp() {
		return at.Add(30 * time.Second)
	}
	for at.Equal(at.Truncate(s.cadence())) {
		at = at.Add(time.Minute)
	}
	return at
}

// workedSinceRead reports whether somebody worked in a bay since its air was
// last read: a reading that jumps would throw doubt on what was done in
// between, too.
func (s *sim) workedSinceRead(zone string) bool {
	r, ok := s.airs[zone].last()
	return !ok || !s.worked[s.techs[zone].terminal].Before(r.at)
}

// recalls takes a lot back that beads in the shop were laid from.
func (s *sim) recalls(p *proc) {
	for {
		p.until(s.hours.next(s.hours.on(s.now, 1, 12*time.Hour+s.minutes(0, 150)), time.Hour, shiftBegins, shiftEnds))
		p.poll(5*time.Minute, func() bool { return !s.permitRuns() && s.suspect() != nil })
		if l := s.suspect(); l != nil {
			s.recall(l)
			for _, j := range s.inShop {
				for _, m := range j.seams {
					if m.bead != nil && m.bead.cartridge.lot == l && !m.coated {
						s.held(m)
					}
				}
			}
		}
		p.wait(s.seldom(48 * time.Hour))
	}
}

// suspect is a lot that few beads lie from and that nobody is laying from.
func (s *sim) suspect() *lot {
	lie := map[*lot]int{}
	for _, j := range s.inShop {
		for _, m := range j.seams {
			if m.bead != nil {
				lie[m.bead.cartridge.lot]++
			}
		}
	}
	var best *lot
	for _, l := range s.stock {
		if n := lie[l]; n > 0 && !l.recalled && !s.inUse(l) && (best == nil || n < lie[best]) {
			best = l
		}
	}
	return best
}

// inUse reports whether a nozzle is on a cartridge of a lot.
func (s *sim) inUse(l *lot) bool {
	return slices.ContainsFunc(s.carts, func(c *cartridge) bool { return c.lot == l && c.nozzle != "" })
}

// nextTime is in how many days something happens again that happens every
// day, or in a shop that runs for years within five.
func (s *sim) nextTime() int {
	if s.sharp() {
		return 1 + s.stumble.IntN(5)
	}
	return 1
}

// seldom is how long somebody waits until something that happens every so
// often happens again: in a shop that runs for years four times as long.
func (s *sim) seldom(d time.Duration) time.Duration {
	if s.sharp() {
		d *= 4
	}
	return d
}
