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
)

// probe reads every zone once a minute.
func (s *sim) readAir(p *proc) {
	for {
		for _, z := range s.zones {
			c := s.weather.probed(s.weather.truth(z, s.now))
			if s.dead[z] {
				continue
			}
			last, ok := s.kept[z]
			if ok && math.Abs(c-last.c) <= deadBandC && s.now.Sub(last.at) < keepAfter {
				continue
			}
			s.reading(z, c)
		}
		p.until(s.now.Truncate(probeEvery).Add(probeEvery))
	}
}

// reading tells one reading of a zone's probe.
func (s *sim) reading(zone string, c float64) uint64 {
	rh := humidity
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

// signOfLife keeps the terminals of the bays and the booth heard while the
// shop is at work.
func (s *sim) signOfLife(p *proc) {
	terminals := []string{boothScreen}
	for _, z := range s.zones {
		if t := s.techs[z]; t != nil {
			terminals = append(terminals, t.terminal)
		}
	}
	slices.Sort(terminals)
	for {
		for _, t := range terminals {
			if s.mute[t] || s.err != nil {
				continue
			}
			if _, err := s.opt.Booth.Hear(s.ctx, &boothv1.HearRequest{Terminal: t}); err != nil {
				s.fail(fmt.Errorf("sign of life of %s: %w", t, err))
			}
			s.heard[t] = s.now
		}
		next := s.now.Add(2 * time.Minute)
		if h := next.Sub(midnight(next)); !workday(next) || h < prepOpens-10*time.Minute || h > prepCloses {
			next = nextHours(next, 0, prepOpens-10*time.Minute, prepCloses)
		}
		p.until(next)
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
