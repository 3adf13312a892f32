package sim

import (
	"fmt"
	"math"
	"slices"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
)

// humidity of the simulated shop's air, in per cent: heated and dry.
var humidity = 50.0

// probeEvery is how often a probe reads; a reading is told when it differs by
// more than the dead band from the last one told, or keepAfter after it.
const (
	probeEvery = time.Minute
	keepAfter  = 2 * time.Minute
	leastGap   = 10 * time.Second // and never sooner than this
)

// readAir lets every zone's probe read, each as often as it does. In a shop
// that runs for years that of the yard, where nobody works, reads more rarely.
func (s *sim) readAir(p *proc) {
	for n := 0; ; n++ {
		for _, z := range s.zones {
			if aside := s.sharp() && !s.airs[z].works && s.boothIn(z) == nil; !s.watching[z] && (!aside || n%4 == 0) {
				s.readOnce(z)
			}
		}
		next := s.now.Truncate(s.cadence()).Add(s.cadence())
		if opens := s.hours.next(s.now, 0, prepOpens-30*time.Minute, prepCloses); opens.After(s.now) && opens.Before(next) {
			next = opens // the first round of the day
		}
		p.until(next)
	}
}

// boothIn is the booth whose air a zone is; nil: none.
func (s *sim) boothIn(zone string) *booth {
	for _, b := range s.booths {
		if b.zone == zone {
			return b
		}
	}
	return nil
}

// readOnce lets a probe read, and tells it if it tells something new.
func (s *sim) readOnce(z string) {
	c := s.weather.probed(z, s.now, s.weather.truth(z, s.now))
	if s.dead[z] || s.silent {
		return
	}
	last, ok := s.kept[z]
	gap := s.now.Sub(last.at)
	if ok && (gap < leastGap || math.Abs(c-last.c) <= deadBandC && gap < keepAfter) {
		return
	}
	s.reading(z, c)
}

// heatedEvery is how often a booth's own probe reads while its heating works,
// in a shop whose probes read less often than each minute.
const heatedEvery = 5 * time.Minute

// heated reports whether a booth's heating works, or its air still comes back
// from that.
func (s *sim) heated(zone string) bool {
	_, after := s.weather.booth[zone]
	_, on := s.weather.goal[zone]
	return after || on
}

// heat sets a booth's heating. A probe that reads rarely reads more often
// while the air follows it.
func (s *sim) heat(zone string, c float64) {
	s.weather.goal[zone] = c
	if s.opt.Habits.ByDay <= heatedEvery || s.watching[zone] {
		return
	}
	s.watching[zone] = true
	s.spawn("probe "+zone, s.now, func(p *proc) {
		for s.heated(zone) {
			s.readOnce(zone)
			p.wait(heatedEvery)
		}
		s.watching[zone] = false
	})
}

// cadence is how often probes read now.
func (s *sim) cadence() time.Duration {
	if s.hours.open(s.now) {
		return max(probeEvery, s.opt.Habits.ByDay)
	}
	return max(probeEvery, s.opt.Habits.ByNight)
}

// reading tells one reading of a zone's probe.
func (s *sim) reading(zone string, c float64) uint64 {
	rh := humidity
	s.beforeJump(zone, c, deadBandC)
	jump, outside := s.airs[zone].read(s.now, c, deadBandC, rh)
	s.kept[zone] = told{at: s.now, c: c}
	s.rep.Readings++
	return s.tell(machine, "probe-"+zone, live, &curesv1.ReadingTaken{ZoneId: zone, ProbeId: "probe-" + zone, TempC: c, RhPercent: &rh},
		s.airDue(zone, jump, outside)...)
}

// airDue is what is due about a reading.
func (s *sim) airDue(zone string, jump, outside bool) []due {
	var out []due
	if jump {
		out = append(out, due{rule: "implausible-jump", subject: "zone/" + zone, severity: note})
	}
	if outside {
		out = append(out, due{rule: "outside-limits", subject: "zone/" + zone, severity: note})
	}
	return out
}

// terminals are those of the bays and the booth.
func (s *sim) terminals() []string {
	out := []string{boothScreen}
	for _, z := range s.zones {
		if t := s.techs[z]; t != nil {
			out = append(out, t.terminal)
		}
	}
	slices.Sort(out)
	return out
}

// signOfLife keeps the terminals heard while the shop is at work.
func (s *sim) signOfLife(p *proc) {
	for !s.opt.Habits.OnAsking {
		s.hearAll(0)
		next := s.now.Add(2 * time.Minute)
		if h := s.hours.clock(next); !s.hours.workday(next) || h < prepOpens-10*time.Minute || h > prepCloses {
			next = s.hours.next(next, 0, prepOpens-10*time.Minute, prepCloses)
		}
		p.until(next)
	}
}

// breathe lets the terminals of a shop in which they are heard on asking only
// give the sign of life that they would have given within the last two
// minutes.
func (s *sim) breathe() {
	if s.opt.Habits.OnAsking && s.hours.in(s.now, 0, prepOpens-10*time.Minute, prepCloses) {
		s.hearAll(100 * time.Second)
	}
}

// breathing is the same for as long as a permit runs.
func (s *sim) breathing(p *permit) {
	if !s.opt.Habits.OnAsking {
		return
	}
	s.spawn("terminals", s.now, func(pr *proc) {
		for !p.ended {
			s.breathe()
			pr.wait(2 * time.Minute)
		}
	})
}

// hearAll lets every terminal that is not muted and was not heard for a while
// give a sign of life.
func (s *sim) hearAll(after time.Duration) {
	for _, t := range s.terminals() {
		if s.mute[t] || s.err != nil || s.now.Sub(s.heard[t]) < after {
			continue
		}
		if _, err := s.opt.Booth.Hear(s.ctx, &boothv1.HearRequest{Terminal: t}); err != nil {
			s.fail(fmt.Errorf("sign of life of %s: %w", t, err))
		}
		s.hears(t)
	}
}

// boothList are the booths in order of name.
func (s *sim) boothList() []*booth {
	var out []*booth
	for _, b := range s.booths {
		out = append(out, b)
	}
	slices.SortFunc(out, func(a, b *booth) int {
		if a.id < b.id {
			return -1
		}
		return 1
	})
	return out
}
