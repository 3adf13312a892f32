package cures

import (
	"cmp"
	"context"
	"slices"
	"time"

	"seamwright/services/calc/cure"
	"seamwright/services/floor"
	"seamwright/services/record"
)

// Keeper watches the clocks of the floor and announces their ends. It is an
// actor of package clock; its Step is called by one goroutine at a time.
//
// There may be very many clocks, and nearly all of them wait in the heap of
// their zone. Of those it holds little: the floor has all else.
type Keeper struct {
	desk *record.Desk

	seq    uint64 // events taken in
	zones  map[floor.ZoneID]*cure.Keeper[slot]
	slots  []*watch        // the clocks that are watched, by number
	free   []slot          // numbers that are not used
	alone  map[slot]*watch // not in a heap: settling, or of no one zone
	due    map[slot]*watch // ended, and not announced yet
	bySeam map[floor.SeamID][]watch
	byCart map[floor.CartridgeID][]watch
	doubt  map[string]doubt // announced clocks to look at again, by their keys
	read   bool             // a reading came since the clocks in alone were judged
}

// slot is a clock's number in the keeper.
type slot uint32

// NewKeeper makes a keeper of the floor behind a desk. It begins with the
// whole floor at its first step.
func NewKeeper(d *record.Desk) *Keeper {
	k := &Keeper{desk: d}
	k.drop()
	return k
}

// drop forgets every clock.
func (k *Keeper) drop() {
	k.zones, k.slots, k.free = map[floor.ZoneID]*cure.Keeper[slot]{}, nil, nil
	k.alone, k.due = map[slot]*watch{}, map[slot]*watch{}
	k.bySeam, k.byCart = map[floor.SeamID][]watch{}, map[floor.CartridgeID][]watch{}
	k.doubt = map[string]doubt{}
}

// Step takes in what the journal brought, takes back what no longer holds,
// announces what is due at now, and returns when the next clock will be due
// if no reading comes. What could not be recorded is tried again by the next
// step.
func (k *Keeper) Step(ctx context.Context, now time.Time) (time.Time, error) {
	var next time.Time
	k.desk.Writer.View(func(seq uint64) {
		now = whole(k.desk.Floor, now)
		k.takeIn(seq, now)
		next = k.collect(now)
		k.weigh(now)
	})
	for _, key := range sortedKeys(k.doubt) {
		if err := k.reconsider(ctx, key, now); err != nil {
			return now.Add(time.Second), err
		}
	}
	for _, w := range k.inOrder() {
		if err := k.announce(ctx, w, now); err != nil {
			return now.Add(time.Second), err
		}
	}
	return next, nil
}

// whole is a moment in whole milliseconds, as the journal counts them, and
// not before the floor's newest event: a clock that was set back does not
// take back what was reached.
func whole(f *floor.Floor, now time.Time) time.Time {
	now = now.Truncate(time.Millisecond)
	if last := f.Last(); now.Before(last) {
		return last
	}
	return now
}

// takeIn follows the floor up to a sequence.
func (k *Keeper) takeIn(seq uint64, now time.Time) {
	f := k.desk.Floor
	if k.seq == 0 {
		k.all(f, now, doubtful)
		k.seq = seq
		return
	}
	for k.seq < seq {
		k.seq++
		cause := k.seq
		if announces(f, cause) {
			cause = sound
		}
		k.read = k.read || reads(f, k.seq)
		k.take(f, f.Touches(k.seq), now, cause)
	}
}

// take brings the clocks that one event may have changed up to date.
func (k *Keeper) take(f *floor.Floor, t floor.Touched, now time.Time, cause uint64) {
	if t.All {
		k.all(f, now, cause)
	}
	for _, ro := range t.Jobs {
		t.Seams = append(t.Seams, f.SeamsOf(ro)...)
		t.Cartridges = append(t.Cartridges, f.NozzlesAt(ro)...)
	}
	if t.Zone != "" {
		t.Seams = append(t.Seams, seamsIn(f, t.Zone)...)
		t.Cartridges = append(t.Cartridges, f.Cartridges()...)
	}
	slices.Sort(t.Seams)
	for _, s := range slices.Compact(t.Seams) {
		if _, over := f.Ended(s.RO()); over || !t.All { // else it was looked at just now
			k.seam(f, s, now, cause)
		}
	}
	if t.All {
		return
	}
	slices.Sort(t.Cartridges)
	for _, c := range slices.Compact(t.Cartridges) {
		k.cartridge(f, c, now, cause)
	}
}

// all looks at every clock of the floor again. Of a job that has ended nothing
// is looked at but what it owes: its car is in the air of the shop no longer,
// and jobs that have ended become ever more.
func (k *Keeper) all(f *floor.Floor, now time.Time, cause uint64) {
	owing := k.owing(f, cause)
	k.drop()
	for _, s := range f.Seams() {
		if _, over := f.Ended(s.RO()); !over {
			k.seam(f, s, now, cause)
		}
	}
	for _, s := range owing {
		k.seam(f, s, now, sound)
	}
	for _, c := range f.Cartridges() {
		k.cartridge(f, c, now, cause)
	}
}

// owing lists the seams of ended jobs of which an announcement may be missing:
// those that are watched, and all when everything is read anew.
func (k *Keeper) owing(f *floor.Floor, cause uint64) (out []floor.SeamID) {
	if cause == doubtful {
		out = f.Seams()
	} else {
		out = sortedKeys(k.bySeam)
	}
	return slices.DeleteFunc(out, func(s floor.SeamID) bool {
		_, over := f.Ended(s.RO())
		return !over
	})
}

// seamsIn lists the seams with clocks that a zone's past counts for.
func seamsIn(f *floor.Floor, z floor.ZoneID) []floor.SeamID {
	var out []floor.SeamID
	for _, id := range f.Seams() {
		if _, over := f.Ended(id.RO()); over || f.Seam(id).Bead == nil {
			continue
		}
		if slices.ContainsFunc(f.SeamClocks(id), func(r floor.Running) bool {
			return r.Zone == z || r.Zone == "" || r.Alone.After(r.Clock.From)
		}) {
			out = append(out, id)
		}
	}
	return out
}

// collect notes the clocks that are due at a moment and returns the next
// moment at which one may be.
func (k *Keeper) collect(now time.Time) (next time.Time) {
	sooner := func(t time.Time) {
		t = ceil(t)
		if t.After(now) && (next.IsZero() || t.Before(next)) {
			next = t
		}
	}
	for _, n := range sortedKeys(k.alone) {
		if t := k.lookAlone(k.alone[n], now); !t.IsZero() {
			sooner(t)
		}
	}
	k.read = false
	for _, z := range sortedKeys(k.zones) {
		for _, fallen := range k.zones[z].Advance(now).Fallen {
			if w := k.slots[fallen.ID]; w != nil {
				k.ended(w, w.open(k.desk.Floor, now), fallen.At)
			}
		}
		if f, ok := k.zones[z].NextDue(now); ok {
			sooner(f.At)
		}
	}
	return next
}

// horizon is how far ahead the end of a clock that is judged by itself is
// looked for. A clock that stands longer is judged again by then.
const horizon = 30 * 24 * time.Hour

// lookAlone judges a clock by itself and moves it into its zone's heap when
// it has settled. It returns when the clock will be due if nothing is read
// before; zero: not, or the heap will tell. Between readings nothing but that
// moment can change the answer, so it is not reckoned again.
func (k *Keeper) lookAlone(w *watch, now time.Time) time.Time {
	a := w.apart
	if a.judged && !k.read && (a.next.IsZero() || now.Before(a.next)) {
		return a.next
	}
	a.judged = true
	if cure.Answer(a.Path, a.Clock, now) == cure.Yes {
		delete(k.alone, w.slot)
		k.ended(w, a, dueOf(a.Clock.Kind, cure.Judge(a.Path, a.Clock, now)))
		return time.Time{}
	}
	a.next = time.Time{}
	if k.settle(k.desk.Floor, w, now) || a.Clock.Kind != cure.Ready {
		return time.Time{} // what must not be passed is settled by readings only
	}
	at, ok := a.Path.AsOf(now).Passed(a.Clock.Law, cure.Cold, a.Clock.From, a.Clock.Target(cure.Cold), now.Add(horizon))
	if a.next = now.Add(horizon); ok {
		a.next = ceil(at)
	}
	return a.next
}

// ended notes that a clock has ended, at a moment.
func (k *Keeper) ended(w *watch, a *apart, at time.Time) {
	a.ended = at
	w.apart, k.due[w.slot] = a, w
}

// weigh drops the doubts about announcements that still hold, and about clocks
// that are no longer there.
func (k *Keeper) weigh(now time.Time) {
	for key, d := range k.doubt {
		r, ok := d.find(k.desk.Floor, now)
		if !ok || r.Said == 0 || cure.Answer(r.Path, r.Clock, now) == cure.Yes {
			delete(k.doubt, key)
		}
	}
}

// inOrder lists the clocks that are due, by the moment they ended.
func (k *Keeper) inOrder() []*watch {
	out := make([]*watch, 0, len(k.due))
	for _, w := range k.due {
		out = append(out, w)
	}
	slices.SortFunc(out, func(a, b *watch) int {
		return cmp.Or(a.apart.ended.Compare(b.apart.ended), cmp.Compare(keyOf(a.apart.ID), keyOf(b.apart.ID)))
	})
	return out
}

func sortedKeys[K cmp.Ordered, V any](m map[K]V) []K {
	keys := make([]K, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
