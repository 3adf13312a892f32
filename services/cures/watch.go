package cures

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/calc/spec"
	"seamwright/services/floor"
)

// watch is one clock that is watched: what finds it again on the floor, and
// where it waits. Of those in a heap there may be a million, so nothing stands
// here that the floor has.
type watch struct {
	thing string             // the seam, or the cartridge that bears the nozzle
	began uint64             // the fact that it began with
	heap  *cure.Keeper[slot] // that it waits in; nil: none
	apart *apart             // of one that is judged by itself, or has ended
	slot  slot
	clock uint8 // floorv1.Clock
	coat  uint8 // place in spec.Coats() and one, of coat windows; else 0
	cart  bool  // it is a nozzle's
}

// apart is what is held of a clock that is not in a heap.
type apart struct {
	floor.Running
	ended time.Time // when it ended, once it is due

	// Of a clock that is judged by itself: that it was, since the last reading
	// of any zone, and when it will have ended if nothing more is read (zero:
	// it will not).
	judged bool
	next   time.Time
}

// doubt is an announced clock to be looked at again, with the event that gave
// cause for it.
type doubt struct {
	watch
	cause uint64
}

// watchOf is a clock that is not watched yet.
func watchOf(r floor.Running, thing string, cart bool) watch {
	return watch{
		thing: thing, began: r.ID.Began, clock: uint8(r.ID.Clock), cart: cart,
		coat: uint8(1 + slices.Index(spec.Coats(), r.ID.Coat)), apart: &apart{Running: r},
	}
}

// is reports whether a clock of the watched thing is the watched one.
func (w *watch) is(id floor.ClockID) bool {
	return id.Began == w.began && uint8(id.Clock) == w.clock && uint8(1+slices.Index(spec.Coats(), id.Coat)) == w.coat
}

// Causes that are no events.
const (
	doubtful uint64 = math.MaxUint64 // all was read anew: whatever came since may have changed it
	sound    uint64 = 0              // an announcement changes no clock: nothing to look at again
)

// announces reports whether an event is one of the keeper's own kind.
func announces(f *floor.Floor, seq uint64) bool {
	ev, _, ok := f.Event(seq)
	if !ok {
		return false
	}
	switch ev.Body.(type) {
	case *curesv1.WindowOpened, *curesv1.WindowClosed, *curesv1.WindowRetracted:
		return true
	}
	return false
}

// seam brings the clocks of a seam up to date.
func (k *Keeper) seam(f *floor.Floor, id floor.SeamID, now time.Time, cause uint64) {
	k.forget(k.bySeam[id])
	delete(k.bySeam, id)
	rs := f.SeamClocks(id)
	if end, over := f.Ended(id.RO()); over {
		rs = slices.DeleteFunc(rs, func(r floor.Running) bool { return r.Said == 0 && !owed(r, end, now) })
	}
	if ws := k.begin(f, rs, string(id), false, now, cause); len(ws) > 0 {
		k.bySeam[id] = ws
	}
}

// owed reports whether a clock had surely ended when its job did. What had not
// is not known: the car is elsewhere.
func owed(r floor.Running, end, now time.Time) bool {
	v := cure.Judge(r.Path, r.Clock, now)
	return v.Reached == cure.Yes && !dueOf(r.Clock.Kind, v).After(end)
}

// cartridge brings the clock of the nozzle on a cartridge up to date.
func (k *Keeper) cartridge(f *floor.Floor, id floor.CartridgeID, now time.Time, cause uint64) {
	k.forget(k.byCart[id])
	delete(k.byCart, id)
	if r, ok := f.NozzleClock(id, now); ok {
		if ws := k.begin(f, []floor.Running{r}, string(id), true, now, cause); len(ws) > 0 {
			k.byCart[id] = ws
		}
	}
}

// reads reports whether an event is a reading. One that is taken back or
// corrected has every clock looked at anew.
func reads(f *floor.Floor, seq uint64) bool {
	ev, _, ok := f.Event(seq)
	_, reading := ev.Body.(*curesv1.ReadingTaken)
	return !ok || reading
}

func (k *Keeper) forget(ws []watch) {
	for i := range ws {
		w := &ws[i]
		k.leaveHeap(w)
		delete(k.alone, w.slot)
		delete(k.due, w.slot)
		k.slots[w.slot] = nil
		k.free = append(k.free, w.slot)
	}
}

func (k *Keeper) leaveHeap(w *watch) {
	if w.heap != nil {
		w.heap.Cancel(w.slot)
		w.heap = nil
	}
}

// byItself takes a clock that has not ended after all out of the heaps: it is
// judged at every step.
func (k *Keeper) byItself(w *watch) {
	k.leaveHeap(w)
	delete(k.due, w.slot)
	w.apart.judged, k.alone[w.slot] = false, w
}

// begin watches the clocks of one thing and returns them. One that was
// announced is only looked at again, when there is a cause.
func (k *Keeper) begin(f *floor.Floor, rs []floor.Running, thing string, cart bool, now time.Time, cause uint64) []watch {
	ws := make([]watch, 0, len(rs)) // which stay where they are: they are pointed at
	for _, r := range rs {
		w := watchOf(r, thing, cart)
		if r.Said != 0 {
			k.suspect(w, cause)
			continue
		}
		if len(k.doubt) > 0 {
			delete(k.doubt, keyOf(r.ID))
		}
		ws = append(ws, w)
		at := &ws[len(ws)-1]
		k.number(at)
		k.alone[at.slot] = at
		k.settle(f, at, now)
	}
	return slices.Clip(ws)
}

// suspect has an announced clock looked at again, if there is a cause; an
// earlier one stays.
func (k *Keeper) suspect(w watch, cause uint64) {
	if cause == sound {
		return
	}
	if key := keyOf(w.apart.ID); k.doubt[key].cause == sound {
		w.apart = nil
		k.doubt[key] = doubt{w, cause}
	}
}

// number gives a clock the number of one that is forgotten, or a new one.
func (k *Keeper) number(w *watch) {
	if n := len(k.free); n > 0 {
		w.slot, k.free = k.free[n-1], k.free[:n-1]
		k.slots[w.slot] = w
		return
	}
	w.slot = slot(len(k.slots))
	k.slots = append(k.slots, w)
}

// settle moves a clock into its zone's heap once it runs in that zone alone
// and nothing in order can change what it went through before. False: it is
// judged by itself.
func (k *Keeper) settle(f *floor.Floor, w *watch, now time.Time) bool {
	a := w.apart
	course := f.ZoneCourse(a.Zone)
	if course == nil {
		return false
	}
	from, amount := a.Clock.From, a.Clock.Target(side(a.Clock.Kind))
	if a.Alone.After(from) {
		before, ok := a.before(now)
		if from, amount = a.Alone, amount-before; !ok || amount <= 0 {
			return false
		}
	}
	z := k.zones[a.Zone]
	if z == nil {
		z = cure.NewKeeper[slot](course)
		k.zones[a.Zone] = z
	}
	if err := z.Begin(w.slot, a.Clock.Law, side(a.Clock.Kind), from, amount); err != nil {
		return false
	}
	w.heap, w.apart = z, nil
	delete(k.alone, w.slot)
	return true
}

// closedWithin is how exactly, relative to a clock's target, the age before
// it settled must be settled by readings: well inside the exactness to which
// ages are integrated.
const closedWithin = 1e-10

// before is the age that a clock came to before it was in its zone alone, and
// whether readings have closed that part of its path: on the hot side then
// nothing of it counts by a growing cone.
func (a *apart) before(now time.Time) (age float64, closed bool) {
	if now.Before(a.Alone) {
		return 0, false
	}
	seen, c := a.Path.AsOf(now), a.Clock
	hot, _ := seen.Age(c.Law, cure.Hot, c.From, a.Alone)
	settled := seen.Settled(c.Law, c.From, now) - seen.Settled(c.Law, a.Alone, now)
	if hot-settled > closedWithin*c.Target(side(c.Kind)) {
		return 0, false
	}
	age, _ = seen.Age(c.Law, side(c.Kind), c.From, a.Alone)
	return age, true
}

func side(kind cure.Kind) cure.Side {
	if kind == cure.Expiry {
		return cure.Hot
	}
	return cure.Cold
}

// keyOf names a clock as the heaps and the journal do.
func keyOf(id floor.ClockID) string {
	thing := string(id.Seam)
	if id.Nozzle != "" {
		thing = "nozzle." + string(id.Nozzle)
	}
	return strings.ReplaceAll(fmt.Sprintf("%s.%s.%s.%d", thing, floor.Word(id.Clock), id.Coat, id.Began), "/", ".")
}

// dueOf is the moment that counts for a kind of clock: what must be reached
// at the cold bound, what must not be passed at the hot one.
func dueOf(kind cure.Kind, v cure.Verdict) time.Time {
	if kind == cure.Expiry {
		return v.DueHot
	}
	return v.DueCold
}

// ceil is the first whole millisecond that is not before t.
func ceil(t time.Time) time.Time {
	if down := t.Truncate(time.Millisecond); down.Before(t) {
		return down.Add(time.Millisecond)
	}
	return t
}

// find gives the clock as the floor has it now.
func (w *watch) find(f *floor.Floor, now time.Time) (floor.Running, bool) {
	if w.cart {
		r, ok := f.NozzleClock(floor.CartridgeID(w.thing), now)
		return r, ok && w.is(r.ID)
	}
	for _, r := range f.SeamClocks(floor.SeamID(w.thing)) {
		if w.is(r.ID) {
			return r, true
		}
	}
	return floor.Running{}, false
}

// open is what is held of a clock that leaves its heap, read again from the
// floor. One that the floor no longer has keeps its name.
func (w *watch) open(f *floor.Floor, now time.Time) *apart {
	r, ok := w.find(f, now)
	if !ok {
		r.ID = floor.ClockID{Seam: floor.SeamID(w.thing), Clock: floorv1.Clock(w.clock), Began: w.began}
	}
	return &apart{Running: r}
}

func opened(kind floorv1.Clock) bool { return floor.KindOf(kind) == cure.Ready }
