package planner

import (
	"fmt"
	"time"

	"seamwright/services/fault"
	"seamwright/services/floor"
)

// Clear reports why a load cannot be kept at a start; nil: it can. Errors:
// Refused while a permit for it runs, Invalid where the booth is taken then.
func (d *Draft) Clear(id floor.LoadID, booth floor.BoothID, start time.Time) error {
	for i := range d.Loads {
		if l := &d.Loads[i]; l.ID == id {
			if l.Permitted {
				return fault.New(fault.Refused, "load-permitted", fmt.Sprintf("a permit for %s runs in %s: it stands there", id, l.Booth),
					"return the permit first, or place it once it has run out")
			}
			return d.clear(i, string(booth), downTo(start))
		}
	}
	return nil
}

// clear wants a start clear of what stands still in the booth: what is in it,
// what has a permit, and what was put there by hand.
func (d *Draft) clear(i int, booth string, start time.Time) error {
	p, h := &d.Problem.Loads[i], d.local()
	for k := range d.Problem.Loads {
		o := &d.Problem.Loads[k]
		if k == i || o.Frozen == nil || o.Frozen.Booth != booth {
			continue
		}
		end := o.Frozen.Start.Add(o.Process)
		if !start.Before(end) || !o.Frozen.Start.Before(start.Add(p.Process)) {
			continue
		}
		why := "was put there by hand"
		if l := &d.Loads[k]; l.Begun || l.Permitted {
			why = "is in it or about to be"
		}
		return fault.Bad("start of "+p.ID, h.moment(start),
			fmt.Sprintf("clear of load %s, which is in %s from %s to %s (it %s)", o.ID, booth, h.moment(o.Frozen.Start), h.moment(end), why))
	}
	return nil
}
