package floor

import (
	"cmp"
	"slices"
	"time"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	"seamwright/services/calc/cure"
)

// zoneOf is what the floor knows of a zone.
type zoneOf struct {
	ID        ZoneID
	Works     bool
	Terminals []string
	course    *cure.Course
	humid     []humid              // readings that told the humidity, by time
	samples   []sample             // the readings as told, by time
	probes    map[string]int       // how many of them each probe took
	marks     map[uint64]time.Time // by the sequence of the fact
	instants  map[int64]bool
	last      time.Time
	jumped    bool // the newest reading was implausible
	loosened  bool // the newest reading lies beyond the limits, further than the growing cone had gone, or is a further probe's first
}

// humid is a humidity with its air temperature.
type humid struct {
	at       time.Time
	c, rh    float64
	surfaceC *float64
	seq      uint64
}

// zoneFrom reads a zone's definition.
func zoneFrom(e *curesv1.ZoneDefined) cure.Zone {
	return cure.Zone{
		Limits:      cure.Set{Lo: e.GetLimitLowC(), Hi: e.GetLimitHighC()},
		ProbeErrorC: e.GetProbeErrorC(), DriftPerMin: e.GetDriftCPerMin(),
		StaleAfter: e.GetStaleAfter().AsDuration(), Settling: e.GetSettling().AsDuration(),
	}
}

// endOfTime is later than any moment that the journal takes.
var endOfTime = time.Unix(1<<33, 0).UTC()

// rezone takes a zone as its newest definition has it, keeping its readings;
// without one the zone is gone.
func (fl *Floor) rezone(id ZoneID) error {
	defer fl.paths.clear()
	defer fl.enrol()
	e, ok := newest[*curesv1.ZoneDefined](fl.book.of(id.key()))
	if !ok {
		delete(fl.zones, id)
		return nil
	}
	z, ok := fl.zones[id]
	if !ok {
		c, err := cure.NewCourse(zoneFrom(e))
		if err != nil {
			return err
		}
		z = &zoneOf{ID: id, course: c, probes: map[string]int{}, marks: map[uint64]time.Time{}, instants: map[int64]bool{}}
		fl.zones[id] = z
		z.Works, z.Terminals = e.GetWorks(), e.GetTerminals()
		return fl.readAgain(id)
	}
	z.Works, z.Terminals = e.GetWorks(), e.GetTerminals()
	if def := zoneFrom(e); def != z.course.Zone() {
		if _, err := z.course.Redefine(def); err != nil {
			return err
		}
		err := z.rereadAll()
		z.refresh()
		return err
	}
	return nil
}

// readAgain puts the readings of a zone back that was taken away for a time.
func (fl *Floor) readAgain(id ZoneID) error {
	for i := range fl.log {
		e, ok := fl.log[i].ev.Body.(*curesv1.ReadingTaken)
		if !ok || fl.log[i].withdrawn || ZoneID(e.GetZoneId()) != id {
			continue
		}
		if err := fl.read(e, &fl.log[i].ev); err != nil {
			return err
		}
	}
	return nil
}

// read puts a reading into its zone's course at its place.
func (fl *Floor) read(e *curesv1.ReadingTaken, ev *Event) error {
	z, ok := fl.zones[ZoneID(e.GetZoneId())]
	if !ok {
		return nil // refused when it was told
	}
	s := z.sampleOf(e, &ev.Header, ev.Seq)
	if err := z.take(s); err != nil {
		return err
	}
	if e.RhPercent != nil {
		h := humid{at: z.marks[s.seq], c: e.GetTempC(), rh: e.GetRhPercent(), surfaceC: e.SurfaceC, seq: s.seq}
		n, _ := slices.BinarySearchFunc(z.humid, h, func(a, b humid) int { return cmp.Or(a.at.Compare(b.at), cmp.Compare(a.seq, b.seq)) })
		z.humid = slices.Insert(z.humid, n, h)
	}
	z.refresh()
	return nil
}

// unread takes a withdrawn reading out.
func (fl *Floor) unread(e *curesv1.ReadingTaken, seq uint64) error {
	z, ok := fl.zones[ZoneID(e.GetZoneId())]
	if !ok {
		return nil
	}
	at, ok := z.marks[seq]
	if !ok {
		return nil
	}
	if err := z.drop(at, seq); err != nil {
		return err
	}
	z.humid = slices.DeleteFunc(z.humid, func(h humid) bool { return h.seq == seq })
	z.refresh()
	return nil
}

// refresh notes the newest reading and whether it was implausible.
func (z *zoneOf) refresh() {
	z.last, z.jumped, z.loosened = time.Time{}, false, false
	v, ok := z.course.Hindsight().(cure.View)
	if !ok {
		return
	}
	r, ok := v.LastReading(endOfTime)
	if !ok {
		return
	}
	z.last, z.loosened = r.At, r.Joins || !z.course.Zone().Limits.Holds(v.Edges(r.At))
	for _, f := range z.course.Findings(r.At, r.At) {
		z.jumped = z.jumped || f.Kind == cure.ImplausibleJump
	}
	if n := len(z.samples) - 1; n >= 0 {
		_, jumped := z.reading(z.samples[n], z.samples[:n])
		z.jumped = z.jumped || jumped
	}
}

// humidAt is the newest humidity at a moment, if one was told within the
// zone's stale time.
func (z *zoneOf) humidAt(at time.Time) (humid, bool) {
	for i := len(z.humid) - 1; i >= 0; i-- {
		if h := z.humid[i]; !h.at.After(at) {
			return h, at.Sub(h.at) <= z.course.Zone().StaleAfter
		}
	}
	return humid{}, false
}

// Air is a zone's air at a moment.
type Air struct {
	Zone      ZoneID
	Set       cure.Set // °C
	Last      cure.Reading
	Read      bool // Last means something
	Fresh     bool
	Jumped    bool // the newest reading was implausible
	RH        float64
	RHAt      time.Time
	HumidTemp float64
	Humid     bool // RH means something
}

// Air tells what is known of a zone's air at a moment.
func (fl *Floor) Air(id ZoneID, at time.Time) (Air, bool) {
	z, ok := fl.zones[id]
	if !ok {
		return Air{}, false
	}
	a := Air{Zone: id, Set: z.course.AsOf(at).Edges(at), Fresh: z.course.AsOf(at).Fresh(at), Jumped: z.jumped}
	if i := z.place(at.Add(time.Nanosecond)); i > 0 {
		last := z.samples[i-1]
		a.Last, a.Read = cure.Reading{At: last.at, C: last.c, ExtraErrorC: last.extra}, true
	}
	if h, ok := z.humidAt(at); ok {
		a.RH, a.RHAt, a.HumidTemp, a.Humid = h.rh, h.at, h.c, true
	}
	return a, true
}

// Zones lists the zones by identifier.
func (fl *Floor) Zones() []ZoneID { return sortedKeys(fl.zones) }
