package floor

import (
	"slices"
	"time"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	"seamwright/services/calc/cure"
)

// sample is a reading as it was told, with its error beyond the zone's probe
// error: a probe's dead band or a hand's, and as much as the air can have
// changed while it is not known when it was read.
type sample struct {
	at    time.Time
	seq   uint64
	probe string // empty: read by hand
	c     float64
	extra float64 // K
}

// HandErrorC is the extra error in kelvin of a reading that a person took
// with a hand thermometer. Common practice, no source.
const HandErrorC = 1.0

// DeadBandC is how much a probe's reading may differ from the last stored one
// without being stored; it is added to the error of every probe reading.
const DeadBandC = 0.2

// maxExtraErrorC is the greatest error that a reading is given.
const maxExtraErrorC = 50

func (z *zoneOf) sampleOf(e *curesv1.ReadingTaken, h *Header, seq uint64) sample {
	s := sample{at: h.Occurred, seq: seq, probe: e.GetProbeId(), c: e.GetTempC(), extra: DeadBandC}
	if e.GetByHand() {
		s.probe, s.extra = "", HandErrorC
	}
	s.extra = min(maxExtraErrorC, s.extra+z.course.Zone().DriftPerMin*h.Latest.Sub(h.Earliest).Minutes())
	return s
}

// own is the sample's own range.
func (z *zoneOf) own(s sample) cure.Set {
	half := z.course.Zone().ProbeErrorC + s.extra
	return cure.Set{Lo: s.c - half, Hi: s.c + half}
}

// drifted is the range that a sample has become by a later moment.
func (z *zoneOf) drifted(s sample, at time.Time) cure.Set {
	k := z.course.Zone().DriftPerMin * at.Sub(s.at).Minutes()
	r := z.own(s)
	return cure.Set{Lo: r.Lo - k, Hi: r.Hi + k}
}

// reading is what a sample says about its zone, given the samples before it.
// Where several probes speak, the zone is not at one temperature: its range
// is the hull of what they say, each as far as it can have drifted since it
// was heard, until it is stale. A probe that begins to speak, or does again
// after it was stale, joins: nothing heard before bounds it. One that jumps
// away from itself stands alone, and jumped says so.
func (z *zoneOf) reading(s sample, before []sample) (r cure.Reading, jumped bool) {
	r = cure.Reading{At: s.at, C: s.c, ExtraErrorC: s.extra}
	if !z.several() && (s.probe == "" || len(z.probes) == 0 || z.probes[s.probe] > 0) {
		return r, false
	}
	hull, own := z.own(s), z.own(s)
	seen := map[string]bool{}
	for _, o := range slices.Backward(before) {
		if len(seen) > 0 && s.at.Sub(o.at) > z.course.Zone().StaleAfter {
			break
		}
		if o.probe == "" || seen[o.probe] {
			continue
		}
		r.Joins = s.probe != "" && (len(seen) == 0 || r.Joins) && o.probe != s.probe
		seen[o.probe] = true
		was := z.drifted(o, s.at)
		if o.probe == s.probe {
			jumped = own.Lo > was.Hi || own.Hi < was.Lo
		} else if s.at.Sub(o.at) <= z.course.Zone().StaleAfter {
			hull = hull.Hull(was)
		}
	}
	if jumped {
		r.Joins = true
		return r, true
	}
	if hull == own {
		return r, false
	}
	r.C = (hull.Lo + hull.Hi) / 2
	r.ExtraErrorC = min(maxExtraErrorC, (hull.Hi-hull.Lo)/2-z.course.Zone().ProbeErrorC)
	return r, false
}

// place is where a sample stands, or would, among the samples.
func (z *zoneOf) place(at time.Time) int {
	i, _ := slices.BinarySearchFunc(z.samples, at, func(s sample, at time.Time) int { return s.at.Compare(at) })
	return i
}

// take puts a sample into the course, and reads again those after it whose
// hull it belongs to.
func (z *zoneOf) take(s sample) error {
	if err := z.makeRoom(s.at); err != nil {
		return err
	}
	was := z.several()
	if s.probe != "" {
		z.probes[s.probe]++
	}
	i := z.place(s.at)
	r, _ := z.reading(s, z.samples[:i])
	if _, err := z.course.Insert(r); err != nil {
		return err
	}
	z.samples = slices.Insert(z.samples, i, s)
	z.marks[s.seq], z.instants[s.at.UnixNano()] = s.at, true
	return z.rereadSince(i+1, s.at, was)
}

// makeRoom moves a sample that stands at an instant back by a nanosecond: two
// of one instant both count, in the order in which they were heard, and none
// of them is yet to come.
func (z *zoneOf) makeRoom(at time.Time) error {
	if !z.instants[at.UnixNano()] {
		return nil
	}
	to := at.Add(-time.Nanosecond)
	if err := z.makeRoom(to); err != nil {
		return err
	}
	i := z.place(at)
	s := &z.samples[i]
	s.at = to
	r, _ := z.reading(*s, z.samples[:i])
	if _, err := z.course.Replace(at, r); err != nil {
		return err
	}
	delete(z.instants, at.UnixNano())
	z.marks[s.seq], z.instants[to.UnixNano()] = to, true
	return nil
}

// drop takes a sample out of the course again.
func (z *zoneOf) drop(at time.Time, seq uint64) error {
	was := z.several()
	i := z.place(at)
	s := z.samples[i]
	if _, err := z.course.Remove(at); err != nil {
		return err
	}
	z.samples = slices.Delete(z.samples, i, i+1)
	if s.probe != "" {
		if z.probes[s.probe]--; z.probes[s.probe] == 0 {
			delete(z.probes, s.probe)
		}
	}
	delete(z.marks, seq)
	delete(z.instants, at.UnixNano())
	return z.rereadSince(i, at, was)
}

// several reports whether the zone has had more than one probe.
func (z *zoneOf) several() bool { return len(z.probes) > 1 }

// rereadSince is reread, or of everything when a second probe has come or gone:
// the readings before it are read otherwise then.
func (z *zoneOf) rereadSince(from int, changed time.Time, several bool) error {
	if z.several() != several {
		return z.rereadAll()
	}
	return z.reread(from, changed)
}

// reread corrects the readings from a place on as long as they may lean on
// what was put in or taken out at a moment.
func (z *zoneOf) reread(from int, changed time.Time) error {
	for i := from; i < len(z.samples); i++ {
		s := z.samples[i]
		if err := z.correct(i); err != nil {
			return err
		}
		if s.probe != "" && s.at.Sub(changed) > z.course.Zone().StaleAfter {
			return nil // the first one after the pause may join or not; those after it lean on nothing older
		}
	}
	return nil
}

// rereadAll corrects every reading: the zone was defined anew, or has other
// rules.
func (z *zoneOf) rereadAll() error {
	for i := range z.samples {
		if err := z.correct(i); err != nil {
			return err
		}
	}
	return nil
}

func (z *zoneOf) correct(i int) error {
	s := z.samples[i]
	r, _ := z.reading(s, z.samples[:i])
	if had, ok := z.course.View(s.at).LastReading(s.at); ok && had.C == r.C && had.ExtraErrorC == r.ExtraErrorC && had.Joins == r.Joins {
		return nil
	}
	_, err := z.course.Replace(s.at, r)
	return err
}
