package floortest

import (
	"fmt"
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/floor"
)

// person is somebody who tells facts.
type person struct {
	role     floorv1.Role
	terminal string
}

// hire takes "Robin technician tab-1".
func (s *Script) hire(w *words) {
	name, role := w.take("a name"), w.take("a role")
	r := floor.Enum[floorv1.Role](role)
	if r == 0 {
		wrong("%q is no role", role)
	}
	s.people[name] = person{r, w.take("a terminal")}
	if s.first[role] == "" {
		s.first[role] = name
	}
}

// stamp is who tells a line, where, and how long ago it happened. The line's
// words of that kind are taken out.
func (s *Script) stamp(who string, w *words) *floorv1.Stamp {
	p, ok := s.people[who]
	if !ok {
		wrong("nobody is called %q", who)
	}
	s.told++
	st := &floorv1.Stamp{
		CommandId: fmt.Sprintf("command-%04d", s.told), Actor: who, Role: p.role, Terminal: p.terminal,
		Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
	}
	if id, ok := w.named("id"); ok {
		st.CommandId = id
	}
	if t, ok := w.named("terminal"); ok {
		st.Terminal = t
	}
	for _, kind := range []string{"measured", "claimed", "signed"} {
		if d := w.length(kind); d > 0 {
			st.Age.Kind, st.Age.Length = floor.Enum[floorv1.AgeKind](kind), durationpb.New(d)
		}
	}
	if d := w.length("clock-jumped"); d != 0 {
		st.Age.OffsetAfterMs = d.Milliseconds()
	}
	if s.silent[st.Terminal] && st.Age.GetKind() == floorv1.AgeKind_AGE_KIND_LIVE {
		wrong("terminal %s is silent; it cannot tell anything", st.Terminal)
	}
	return st
}

// speaker is who tells a line: "Robin: lay ...", or the first person whose
// work it is.
func (s *Script) speaker(line string) (who, rest string) {
	if name, after, ok := strings.Cut(line, ": "); ok {
		if _, known := s.people[name]; known {
			return name, after
		}
	}
	verb, _, _ := strings.Cut(line, " ")
	role := "technician"
	switch {
	case strings.Contains(" zone booth load answer signed deliver cancel ", " "+verb+" "):
		role = "foreman"
	case strings.Contains(" product lot recall count ", " "+verb+" "):
		role = "materials"
	case strings.Contains(" permit return spray phase finish fault reset coat ", " "+verb+" "):
		role = "painter"
	case strings.Contains(" inspect ", " "+verb+" "):
		role = "inspector"
	case verb == "override":
		role = "foreman"
	}
	return s.first[role], line
}

// probe reads a zone at equal gaps.
type probe struct {
	zone  string
	every time.Duration
	next  time.Time
	c     float64
	slope float64 // °C a minute
	since time.Time
	rh    *float64
}

func (p *probe) on() bool { return p.every > 0 }

// probeLine takes "bay-1 14.2 rh 55 every 5m", "bay-1 14 to 21 over 2h every
// 5m" and "bay-1 dies".
func (s *Script) probeLine(w *words) {
	zone := w.take("a zone")
	var p *probe
	for _, q := range s.probes {
		if q.zone == zone {
			p = q
		}
	}
	if p == nil {
		p = &probe{zone: zone}
		s.probes = append(s.probes, p)
	}
	if w.has("dies") {
		p.every = 0
		return
	}
	if every := w.length("every"); every > 0 {
		p.every = every
	} else if p.every == 0 {
		p.every = 5 * time.Minute
	}
	if rh := w.opt("rh"); rh != nil {
		p.rh = rh
	}
	p.c, p.slope, p.since = number(w.take("a temperature")), 0, s.shop.Now()
	if to, ok := w.number("to"); ok {
		p.slope = (to - p.c) / w.length("over").Minutes()
	}
	p.next = s.shop.Now()
	s.sample(p)
}

// sample takes one reading.
func (s *Script) sample(p *probe) {
	at := s.shop.Now()
	p.next = at.Add(p.every)
	s.told++
	c := p.c + p.slope*at.Sub(p.since).Minutes()
	s.record(fmt.Sprintf("reading of %s, %.1f °C", p.zone, c), floor.Command{
		Stamp: &floorv1.Stamp{
			CommandId: fmt.Sprintf("command-%04d", s.told), Actor: "probe-" + p.zone, Role: floorv1.Role_ROLE_MACHINE,
			Terminal: "probe-" + p.zone, Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
		},
		Body: &curesv1.ReadingTaken{ZoneId: p.zone, ProbeId: "probe-" + p.zone, TempC: c, RhPercent: p.rh},
	})
}
