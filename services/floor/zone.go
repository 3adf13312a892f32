package floor

import (
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
	marks     map[uint64]time.Time // by the sequence of the fact
	instants  map[int64]bool
	last      time.Time
	jumped    bool // the newest reading was implausible
	loosened  bool // the newest reading lies beyond the limits, further than the growing cone had gone
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

// HandErrorC is the extra error in kelvin of a reading that a person took
// with a hand thermometer. Common practice, no source.
const HandErrorC = 1.0

// DeadBandC is how much a probe's reading may differ from the last stored one
// without being stored; it is added to the error of every probe reading.
const DeadBandC = 0.2

// rezone takes a zone as its newest definition has it, keeping its readings;
// without one the zone is gone.
func (fl *Floor) rezone(id ZoneID) error {
	defer fl.paths.clear()
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
		z = &zoneOf{ID: id, course: c, marks: map[uint64]time.Time{}, instants: map[int64]bool{}}
		fl.zones[id] = z
		z.Works, z.Terminals = e.GetWorks(), e.GetTerminals()
		return fl.readAgain(id)
	}
	z.Works, z.Terminals = e.GetWorks(), e.GetTerminals()
	if def := zoneFrom(e); def != z.course.Zone() {
		_, err := z.course.Redefine(def)
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

// maxExtraErrorC is the greatest error that a reading is given.
const maxExtraErrorC = 50

// readingOf is a reading with its error: a probe's dead band or a hand's, and
// as much as the air can have changed while it is not known when it was read.
func (z *zoneOf) readingOf(e *curesv1.ReadingTaken, h *Header) cure.Reading {
	r := cure.Reading{At: h.Occurred, C: e.GetTempC(), ExtraErrorC: DeadBandC}
	if e.GetByHand() {
		r.ExtraErrorC = HandErrorC
	}
	doubt := z.course.Zone().DriftPerMin * h.Latest.Sub(h.Earliest).Minutes()
	r.ExtraErrorC = min(maxExtraErrorC, r.ExtraErrorC+doubt)
	return r
}

// read puts a reading into its zone's course at its place.
func (fl *Floor) read(e *curesv1.ReadingTaken, ev *Event) error {
	z, ok := fl.zones[ZoneID(e.GetZoneId())]
	if !ok {
		return nil // refused when it was told
	}
	seq, r := ev.Seq, z.readingOf(e, &ev.Header)
	for z.instants[r.At.UnixNano()] {
		r.At = r.At.Add(time.Nanosecond) // two probes in one instant: both count
	}
	if _, err := z.course.Insert(r); err != nil {
		return err
	}
	z.marks[seq], z.instants[r.At.UnixNano()] = r.At, true
	if e.RhPercent != nil {
		h := humid{at: r.At, c: e.GetTempC(), rh: e.GetRhPercent(), surfaceC: e.SurfaceC, seq: seq}
		n, _ := slices.BinarySearchFunc(z.humid, h, func(a, b humid) int { return a.at.Compare(b.at) })
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
	if _, err := z.course.Remove(at); err != nil {
		return err
	}
	delete(z.marks, seq)
	delete(z.instants, at.UnixNano())
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
	z.last, z.loosened = r.At, !z.course.Zone().Limits.Holds(v.Edges(r.At))
	for _, f := range z.course.Findings(r.At, r.At) {
		z.jumped = z.jumped || f.Kind == cure.ImplausibleJump
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
	if v, ok := z.course.AsOf(at).(cure.View); ok {
		a.Last, a.Read = v.LastReading(at)
	}
	if h, ok := z.humidAt(at); ok {
		a.RH, a.RHAt, a.HumidTemp, a.Humid = h.rh, h.at, h.c, true
	}
	return a, true
}

// Zones lists the zones by identifier.
func (fl *Floor) Zones() []ZoneID { return sortedKeys(fl.zones) }
