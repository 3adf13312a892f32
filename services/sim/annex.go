package sim

import (
	"fmt"
	"time"

	"google.golang.org/protobuf/proto"

	boothv1 "seamwright/proto/seamwright/booth/v1"
)

// annexes lets the shop set up a further booth whose air nobody has read yet,
// and plan a load for it: it holds until the load is planned back.
func (s *sim) annexes(p *proc) {
	for n := 1; s.sharp(); n++ {
		p.wait(s.days(40, 120))
		var l *load
		p.poll(13*time.Minute, func() bool {
			l = s.anyWaiting()
			return l != nil
		})
		s.annex(p, l, fmt.Sprintf("z-annex-%d", n))
	}
}

// anyWaiting is a load that waits while the shop is at work and no permit
// runs.
func (s *sim) anyWaiting() *load {
	if s.permitRuns() || !s.hours.in(s.now, 2*time.Hour, shiftBegins, shiftEnds) {
		return nil
	}
	for _, b := range s.boothList() {
		for _, l := range s.waiting(b) {
			if b.loaded == nil && b.fault == "" {
				return l
			}
		}
	}
	return nil
}

func (s *sim) annex(p *proc, l *load, name string) {
	if s.err != nil {
		return
	}
	s.planted("booth-never-read", l.id)
	home := l.booth
	zone := proto.CloneOf(s.zoneDefs[home.zone])
	zone.ZoneId, zone.Terminals = name, nil
	s.dead[name] = true // it has no probe
	s.tell(foreman, desk, live, zone)
	s.learnZone(zone)
	def := proto.CloneOf(home.def)
	def.BoothId, def.ZoneId = name, name
	s.tell(foreman, desk, live, def)
	s.booths[name] = newBooth(def)
	s.replan(l, name)
	s.probe(l)
	s.heldFor(l, "I3", "no-reading")
	s.replan(l, home.id)
	p.wait(time.Second)
	s.either(l)
}

// replan plans a load for another booth.
func (s *sim) replan(l *load, booth string) {
	b := &boothv1.LoadPlanned{LoadId: l.id, BoothId: booth, Ro: l.job.ro, Colour: l.colour, Coat: l.coat}
	for _, m := range l.seams {
		b.SeamIds = append(b.SeamIds, m.id)
	}
	s.tell(painter, boothScreen, live, b)
	s.learnLoad(b)
}
