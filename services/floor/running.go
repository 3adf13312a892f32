package floor

import (
	"slices"
	"time"

	"seamwright/services/calc/cure"
)

// Running is a clock that the keeper watches.
type Running struct {
	ID       ClockID
	Clock    cure.Clock
	Revision uint64
	Said     uint64 // sequence of the announcement; 0: not yet
	Zone     ZoneID // the one zone that it will run in from Alone on
	Alone    time.Time
	Path     cure.Surroundings
}

// SeamClocks lists a seam's clocks for the keeper.
func (fl *Floor) SeamClocks(id SeamID) []Running {
	s, ok := fl.seams[id]
	if !ok {
		return nil
	}
	clocks := fl.beadClocks(s)
	if len(clocks) == 0 {
		return nil // most seams, before they are laid
	}
	w := fl.way(s)
	out := make([]Running, len(clocks))
	for i, r := range clocks {
		out[i] = Running{r.id, r.clock, r.rev, r.said, w.zone, w.since, r.where}
	}
	return out
}

// NozzleClock gives the gel clock of the nozzle on a cartridge for the
// keeper.
func (fl *Floor) NozzleClock(id CartridgeID, _ time.Time) (Running, bool) {
	c, ok := fl.cartridges[id]
	if !ok {
		return Running{}, false
	}
	r, ok := fl.gelClock(fl.book, c)
	if !ok {
		return Running{}, false
	}
	if n := fl.nozzles[c.Nozzle]; n != nil {
		r.said = n.said[r.id.Began].seq
	}
	zone := fl.FlowZone(c.LastFlow)
	if fl.zones[zone] == nil {
		zone = ""
	}
	return Running{r.id, r.clock, r.rev, r.said, zone, r.clock.From, r.where}, true
}

// NozzlesAt lists the cartridges whose nozzle was last used on a job's car:
// where no terminal tells, the nozzle is where the car is.
func (fl *Floor) NozzlesAt(ro RO) []CartridgeID {
	var out []CartridgeID
	for id, c := range fl.cartridges {
		if c.Flowed() && c.LastFlow.Job == ro {
			out = append(out, id)
		}
	}
	slices.Sort(out)
	return out
}

// ZoneCourse gives a zone's course; nil when the zone is unknown. The course
// belongs to the floor and must only be asked.
func (fl *Floor) ZoneCourse(id ZoneID) *cure.Course {
	if z, ok := fl.zones[id]; ok {
		return z.course
	}
	return nil
}
