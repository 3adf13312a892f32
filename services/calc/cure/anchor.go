package cure

import (
	"maps"
	"slices"
)

// now is a moment, but not before the last reading: what is read is known.
func (k *Keeper[ID]) now(ns int64) int64 {
	if k.n == 0 {
		return ns
	}
	return max(ns, k.course.marks[k.n-1].at)
}

// enter puts an entry where it belongs, with its key.
func (k *Keeper[ID]) enter(e *entry[ID]) {
	e.open = -1
	if e.amount == 0 {
		e.pos = atOnce
		k.instant = append(k.instant, e)
		return
	}
	e.key = k.key(e)
	e.lane.push(e)
	if k.isOpen(e) {
		e.lane.opened(e)
	}
}

// key is the cumulative age at which an entry is due, by the measure of
// [enough].
func (k *Keeper[ID]) key(e *entry[ID]) float64 {
	return k.total(e.lane, e.from) + e.amount - slack*e.amount
}

func (k *Keeper[ID]) isOpen(e *entry[ID]) bool {
	return k.n == 0 || e.from > k.course.marks[k.n-1].at
}

// total is the zone's cumulative age along a lane.
func (k *Keeper[ID]) total(ln *lane[ID], ns int64) float64 {
	v := View{k.course, k.n}
	if k.n == 0 {
		s := k.course.segment(-1, 0)
		return seconds(k.origin, ns) * ln.law.Rate(s.value(ln.side, 0), ln.side)
	}
	return v.total(k.course.upTo(ln.law, ln.side, k.n), v.at(ns), ln.law, ln.side, ns)
}

// catchUp moves on to the course's last reading: the cone up to it is closed,
// and what was begun inside that cone gets its key anew. The keys of all
// other clocks lie in the closed part and stay.
func (k *Keeper[ID]) catchUp() {
	if k.rewrites != k.course.rewrites {
		k.doubtful = true
		k.anchor()
		return
	}
	n := len(k.course.marks)
	if k.n == n {
		return
	}
	for ; k.n < n; k.n++ {
		// The growing cone had promised more than this reading leaves.
		k.doubtful = k.doubtful || k.course.marks[k.n].loosens
	}
	for _, ln := range k.lanes {
		for i := len(ln.open) - 1; i >= 0; i-- {
			e := ln.open[i]
			e.key = k.key(e)
			ln.fix(int(e.pos))
			if !k.isOpen(e) {
				ln.closed(e)
			}
		}
	}
}

// anchor gives every clock that is not due its key anew.
func (k *Keeper[ID]) anchor() {
	k.rewrites, k.n = k.course.rewrites, len(k.course.marks)
	for _, ln := range k.lanes {
		ln.open = ln.open[:0]
		for _, e := range ln.heap {
			e.key, e.open = k.key(e), -1
			if k.isOpen(e) {
				ln.opened(e)
			}
		}
		ln.order()
	}
}

// rebuild reckons all clocks anew and compares with what had been told.
func (k *Keeper[ID]) rebuild(ns int64) Change[ID] {
	k.doubtful = false
	before := make(map[ID]int64)
	for _, e := range k.clocks {
		if e.pos == fired {
			before[e.id] = e.at
			if e.amount == 0 {
				continue // due when it began, whatever was read
			}
			e.pos = int32(len(e.lane.heap))
			e.lane.heap = append(e.lane.heap, e)
		}
	}
	k.anchor()
	var c Change[ID]
	var fresh, moved []*entry[ID]
	for _, e := range k.collect(ns) {
		switch was, told := before[e.id]; {
		case !told:
			fresh = append(fresh, e)
		case was != e.at:
			moved = append(moved, e)
		}
	}
	c.Fallen, c.Moved = k.tell(fresh, ns), k.tell(moved, ns)
	for _, id := range slices.Sorted(maps.Keys(before)) {
		if k.clocks[id].pos != fired {
			c.Retracted = append(c.Retracted, id)
		}
	}
	return c
}
