package cure

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"seamwright/services/fault"
)

// Keeper says which clocks of one zone have fallen due, at a cost that does
// not depend on how many are running.
//
// A clock is due when the cumulative age of the zone passes the age at which
// the clock began plus its amount. That sum is fixed once a reading has come
// after the beginning, so each law and side has a heap keyed by it, and a
// reading moves only the cumulative age. Clocks begun after the last reading,
// inside the open cone, are re-anchored when a reading closes it.
//
// On the cold side a clock falls due as soon as the growing cone has passed
// its target: readings that come in order only make that earlier. On the hot
// side passing along the cone means "may be past" ([Keeper.Maybe]) and the
// clock stays until a reading settles it. A reading that is not plausible, or
// a late or corrected one, rebuilds the keeper and may retract a clock.
//
// A keeper is for one goroutine. Clocks stay known after they fell due, until
// they are cancelled, so that they can be retracted.
type Keeper[ID cmp.Ordered] struct {
	course   *Course
	rewrites uint64 // of the course, when last looked at
	n        int    // readings counted
	doubtful bool   // something told may no longer hold: rebuild at the next advance
	origin   int64  // zero of the cumulative age while there is no reading
	lanes    map[laneKey]*lane[ID]
	clocks   map[ID]*entry[ID]
	instant  []*entry[ID] // clocks of no length that wait for their beginning
}

type laneKey struct {
	law  Law
	side Side
}

// Fallen is a clock that fell due.
type Fallen[ID cmp.Ordered] struct {
	ID      ID
	Side    Side
	At      time.Time // when its age passed the amount
	Settled bool      // by readings; false: along the growing cone
}

// Change is what an advance brought, each list by time and then ID.
type Change[ID cmp.Ordered] struct {
	Fallen    []Fallen[ID] // newly due
	Moved     []Fallen[ID] // were due, at another time; after a rebuild only
	Retracted []ID         // were due and no longer are; after a rebuild only
}

// NewKeeper keeps clocks over a course, which goes on to be changed by its
// owner; see [Keeper.Advance].
func NewKeeper[ID cmp.Ordered](c *Course) *Keeper[ID] {
	return &Keeper[ID]{
		course: c, rewrites: c.rewrites, n: len(c.marks),
		lanes: make(map[laneKey]*lane[ID]), clocks: make(map[ID]*entry[ID]),
	}
}

// Len is the number of clocks known, due ones too.
func (k *Keeper[ID]) Len() int { return len(k.clocks) }

// Begin starts a clock that falls due when the age since `from` along the
// cold or hot side has passed amount (s). It is told by the next Advance.
func (k *Keeper[ID]) Begin(id ID, l Law, side Side, from time.Time, amount float64) error {
	switch _, taken := k.clocks[id]; {
	case taken:
		return fault.New(fault.Exists, "clock-exists", fmt.Sprintf("clock %v is already running", id), "cancel it first")
	case side != Cold && side != Hot:
		return fault.Bad("side", side, "a keeper holds cold and hot clocks only")
	case !(amount >= 0 && !math.IsInf(amount, 1)):
		return fault.Bad("amount", amount, "must be 0 s or more; correct the product")
	case l.IsZero():
		return fault.Bad("law", "none", "a rate law is needed; correct the product")
	}
	k.catchUp()
	ln := k.lane(l, side)
	e := &entry[ID]{id: id, lane: ln, from: nanos(from), amount: amount, open: -1}
	k.clocks[id] = e
	ln.live++
	if len(k.clocks) == 1 {
		k.origin = e.from
	}
	k.enter(e)
	return nil
}

// Cancel forgets a clock, due or not; false if it is not known.
func (k *Keeper[ID]) Cancel(id ID) bool {
	e, ok := k.clocks[id]
	if !ok {
		return false
	}
	delete(k.clocks, id)
	switch {
	case e.pos >= 0:
		e.lane.closed(e)
		e.lane.take(e)
	case e.pos == atOnce:
		k.instant = slices.DeleteFunc(k.instant, func(x *entry[ID]) bool { return x == e })
	}
	if e.lane.live--; e.lane.live == 0 {
		delete(k.lanes, laneKey{e.lane.law, e.lane.side})
	}
	return true
}

// Advance takes in the readings that the course got since the last call and
// tells what is due at a moment. If the course's past was changed, or a
// reading loosened the set, everything is reckoned anew.
func (k *Keeper[ID]) Advance(at time.Time) Change[ID] {
	ns := nanos(at)
	k.catchUp()
	if k.doubtful {
		return k.rebuild(ns)
	}
	return Change[ID]{Fallen: k.tell(k.collect(ns), ns)}
}

// Rebuild reckons every clock anew, whether the course was changed or not.
func (k *Keeper[ID]) Rebuild(at time.Time) Change[ID] { return k.rebuild(nanos(at)) }

// Maybe lists the hot clocks that are past along the growing cone at a moment
// though no reading has settled it, by time and then ID.
func (k *Keeper[ID]) Maybe(at time.Time) []Fallen[ID] {
	ns := nanos(at)
	k.catchUp()
	now := k.now(ns)
	var es []*entry[ID]
	for key, ln := range k.lanes {
		if key.side != Hot {
			continue
		}
		ln.upTo(k.total(ln, now), func(e *entry[ID]) {
			if at, ok := k.when(e, now); ok {
				e.at = at
				es = append(es, e)
			}
		})
	}
	return k.tell(es, ns)
}

// NextDue is the clock that with no further reading would be next to pass
// along the growing cone after a moment, cold or hot, and when. False: none
// ever would.
func (k *Keeper[ID]) NextDue(at time.Time) (Fallen[ID], bool) {
	ns := nanos(at)
	k.catchUp()
	var best Fallen[ID]
	ok := false
	offer := func(f Fallen[ID]) {
		if !ok || f.At.Before(best.At) || f.At.Equal(best.At) && f.ID < best.ID {
			best, ok = f, true
		}
	}
	for _, e := range k.instant {
		if e.from > ns {
			offer(Fallen[ID]{ID: e.id, Side: e.lane.side, At: moment(e.from)})
		}
	}
	now := k.now(ns)
	for _, ln := range k.lanes {
		here := k.total(ln, now)
		next := ln.upTo(here, func(*entry[ID]) {})
		if next == nil {
			continue
		}
		// The key allows for rounding, the time that is told does not.
		left := next.key + slack*next.amount - here
		if due, found := k.course.coneDue(ln.law, ln.side, now, left); found {
			offer(Fallen[ID]{ID: next.id, Side: ln.side, At: moment(due)})
		}
	}
	return best, ok
}

func (k *Keeper[ID]) lane(l Law, side Side) *lane[ID] {
	key := laneKey{l, side}
	ln := k.lanes[key]
	if ln == nil {
		ln = &lane[ID]{law: l, side: side}
		k.lanes[key] = ln
	}
	return ln
}

// collect pops what is due at a moment.
func (k *Keeper[ID]) collect(ns int64) []*entry[ID] {
	var es []*entry[ID]
	k.instant = slices.DeleteFunc(k.instant, func(e *entry[ID]) bool {
		if e.from > ns {
			return false
		}
		e.pos, e.at = fired, e.from
		es = append(es, e)
		return true
	})
	now := k.now(ns)
	for key, ln := range k.lanes {
		by := now
		if key.side == Hot {
			if k.n == 0 {
				continue
			}
			by = k.course.marks[k.n-1].at
		}
		es = append(es, k.popUpTo(ln, k.total(ln, by), by)...)
	}
	return es
}

// popUpTo pops the entries of a lane whose key the cumulative age at `by` has
// passed. Where that is so by rounding only, which a sum many orders above
// the amount can bring, the entry stays: none is told early.
func (k *Keeper[ID]) popUpTo(ln *lane[ID], limit float64, by int64) []*entry[ID] {
	var due, early []*entry[ID]
	for len(ln.heap) > 0 && ln.heap[0].key <= limit {
		e := ln.pop()
		if at, ok := k.when(e, by); ok {
			ln.closed(e)
			e.at = at
			due = append(due, e)
			continue
		}
		early = append(early, e)
	}
	for _, e := range early {
		e.key = math.Nextafter(limit, math.Inf(1))
		ln.push(e)
	}
	return due
}

// when is the moment, not after by, at which an entry's age passed its amount.
func (k *Keeper[ID]) when(e *entry[ID], by int64) (int64, bool) {
	return View{k.course, k.n}.passed(e.lane.law, e.lane.side, e.from, e.amount, by)
}

// tell lists entries by time and then ID.
func (k *Keeper[ID]) tell(es []*entry[ID], ns int64) []Fallen[ID] {
	if len(es) == 0 {
		return nil
	}
	fs := make([]Fallen[ID], len(es))
	for i, e := range es {
		settled := e.amount == 0 || k.n > 0 && e.at <= k.course.marks[k.n-1].at && e.pos == fired
		fs[i] = Fallen[ID]{e.id, e.lane.side, moment(e.at), settled}
	}
	slices.SortFunc(fs, func(a, b Fallen[ID]) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.ID, b.ID))
	})
	return fs
}
