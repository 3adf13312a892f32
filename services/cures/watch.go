package cures

import (
	"fmt"
	"math"
	"strings"
	"time"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/floor"
)

// watch is one clock that is watched.
type watch struct {
	floor.Running
	key   string
	cart  floor.CartridgeID // that bears the nozzle; empty for a seam
	zone  floor.ZoneID      // the heap that it is in; empty: alone
	ended time.Time         // when it ended, once it is due

	// Of a clock that is judged by itself: that it was, since the last reading
	// of any zone, and when it will have ended if nothing more is read (zero:
	// it will not).
	judged bool
	next   time.Time
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
	for _, r := range f.SeamClocks(id) {
		k.bySeam[id] = append(k.bySeam[id], k.begin(f, watch{Running: r}, now, cause))
	}
}

// cartridge brings the clock of the nozzle on a cartridge up to date.
func (k *Keeper) cartridge(f *floor.Floor, id floor.CartridgeID, now time.Time, cause uint64) {
	k.forget(k.byCart[id])
	delete(k.byCart, id)
	if r, ok := f.NozzleClock(id, now); ok {
		k.byCart[id] = append(k.byCart[id], k.begin(f, watch{Running: r, cart: id}, now, cause))
	}
}

// reads reports whether an event is a reading. One that is taken back or
// corrected has every clock looked at anew.
func reads(f *floor.Floor, seq uint64) bool {
	ev, _, ok := f.Event(seq)
	_, reading := ev.Body.(*curesv1.ReadingTaken)
	return !ok || reading
}

func (k *Keeper) forget(keys []string) {
	for _, key := range keys {
		if w, ok := k.watched[key]; ok {
			k.leaveHeap(w)
		}
		delete(k.watched, key)
		delete(k.alone, key)
		delete(k.due, key)
	}
}

func (k *Keeper) leaveHeap(w *watch) {
	if w.zone != "" {
		k.zones[w.zone].Cancel(w.key)
		w.zone = ""
	}
}

// byItself takes a clock out of the heaps: it is judged at every step.
func (k *Keeper) byItself(w *watch) {
	k.leaveHeap(w)
	delete(k.due, w.key)
	w.judged, k.alone[w.key] = false, w
}

// begin watches a clock and returns its key. One that was announced is only
// looked at again, when there is a cause.
func (k *Keeper) begin(f *floor.Floor, w watch, now time.Time, cause uint64) string {
	w.key = keyOf(w.ID)
	k.watched[w.key] = &w
	if w.Said == 0 {
		delete(k.doubt, w.key)
		k.alone[w.key] = &w
		k.settle(f, &w, now)
		return w.key
	}
	if _, ok := k.doubt[w.key]; !ok && cause != sound {
		k.doubt[w.key] = cause
	}
	return w.key
}

// settle moves a clock into its zone's heap once it runs in that zone alone
// and nothing in order can change what it went through before. False: it is
// judged by itself.
func (k *Keeper) settle(f *floor.Floor, w *watch, now time.Time) bool {
	course := f.ZoneCourse(w.Zone)
	if course == nil {
		return false
	}
	from, amount := w.Clock.From, w.Clock.Target(side(w.Clock.Kind))
	if w.Alone.After(from) {
		before, ok := w.before(now)
		if from, amount = w.Alone, amount-before; !ok || amount <= 0 {
			return false
		}
	}
	z := k.zones[w.Zone]
	if z == nil {
		z = cure.NewKeeper[string](course)
		k.zones[w.Zone] = z
	}
	if err := z.Begin(w.key, w.Clock.Law, side(w.Clock.Kind), from, amount); err != nil {
		return false
	}
	w.zone = w.Zone
	delete(k.alone, w.key)
	return true
}

// closedWithin is how exactly, relative to a clock's target, the age before
// it settled must be settled by readings: well inside the exactness to which
// ages are integrated.
const closedWithin = 1e-10

// before is the age that a clock came to before it was in its zone alone, and
// whether readings have closed that part of its path: on the hot side then
// nothing of it counts by a growing cone.
func (w *watch) before(now time.Time) (age float64, closed bool) {
	if now.Before(w.Alone) {
		return 0, false
	}
	seen, c := w.Path.AsOf(now), w.Clock
	hot, _ := seen.Age(c.Law, cure.Hot, c.From, w.Alone)
	settled := seen.Settled(c.Law, c.From, now) - seen.Settled(c.Law, w.Alone, now)
	if hot-settled > closedWithin*c.Target(side(c.Kind)) {
		return 0, false
	}
	age, _ = seen.Age(c.Law, side(c.Kind), c.From, w.Alone)
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
	if w.cart != "" {
		r, ok := f.NozzleClock(w.cart, now)
		return r, ok && r.ID == w.ID
	}
	for _, r := range f.SeamClocks(w.ID.Seam) {
		if r.ID == w.ID {
			return r, true
		}
	}
	return floor.Running{}, false
}

func opened(kind floorv1.Clock) bool { return floor.KindOf(kind) == cure.Ready }
