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
type Keeper struct {
	desk *record.Desk

	seq     uint64 // events taken in
	zones   map[floor.ZoneID]*cure.Keeper[string]
	watched map[string]*watch
	alone   map[string]*watch // not in a heap: settling, or of no one zone
	due     map[string]*watch // ended, and not announced yet
	bySeam  map[floor.SeamID][]string
	byCart  map[floor.CartridgeID][]string
	doubt   map[string]uint64 // announced clocks to look at again, with the cause
	read    bool              // a reading came since the clocks in alone were judged
}

// NewKeeper makes a keeper of the floor behind a desk. It begins with the
// whole floor at its first step.
func NewKeeper(d *record.Desk) *Keeper {
	k := &Keeper{desk: d}
	k.drop()
	return k
}

// drop forgets every clock.
func (k *Keeper) drop() {
	k.zones = map[floor.ZoneID]*cure.Keeper[string]{}
	k.watched, k.alone, k.due = map[string]*watch{}, map[string]*watch{}, map[string]*watch{}
	k.bySeam, k.byCart = map[floor.SeamID][]string{}, map[floor.CartridgeID][]string{}
	k.doubt = map[string]uint64{}
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
		return
	}
	for _, ro := range t.Jobs {
		t.Seams = append(t.Seams, f.SeamsOf(ro)...)
		t.Cartridges = append(t.Cartridges, nozzlesAt(f, ro)...)
	}
	if t.Zone != "" {
		t.Seams = append(t.Seams, seamsIn(f, t.Zone)...)
		t.Cartridges = append(t.Cartridges, f.Cartridges()...)
	}
	slices.Sort(t.Seams)
	for _, s := range slices.Compact(t.Seams) {
		k.seam(f, s, now, cause)
	}
	slices.Sort(t.Cartridges)
	for _, c := range slices.Compact(t.Cartridges) {
		k.cartridge(f, c, now, cause)
	}
}

// all looks at every clock of the floor again.
func (k *Keeper) all(f *floor.Floor, now time.Time, cause uint64) {
	k.drop()
	for _, s := range f.Seams() {
		k.seam(f, s, now, cause)
	}
	for _, c := range f.Cartridges() {
		k.cartridge(f, c, now, cause)
	}
}

// seamsIn lists the seams with clocks that a zone's past counts for.
func seamsIn(f *floor.Floor, z floor.ZoneID) []floor.SeamID {
	var out []floor.SeamID
	for _, id := range f.Seams() {
		if f.Seam(id).Bead == nil {
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

// nozzlesAt lists the cartridges whose nozzle was last used on a job's car:
// where no terminal tells, the nozzle is where the car is.
func nozzlesAt(f *floor.Floor, ro floor.RO) []floor.CartridgeID {
	var out []floor.CartridgeID
	for _, id := range f.Cartridges() {
		if c := f.Cartridge(id); c.Flowed() && c.LastFlow.Job == ro {
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
	for _, key := range sortedKeys(k.alone) {
		if t := k.lookAlone(k.alone[key], now); !t.IsZero() {
			sooner(t)
		}
	}
	k.read = false
	for _, z := range sortedKeys(k.zones) {
		for _, fallen := range k.zones[z].Advance(now).Fallen {
			if w, ok := k.watched[fallen.ID]; ok {
				w.ended, k.due[w.key] = fallen.At, w
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
	if w.judged && !k.read && (w.next.IsZero() || now.Before(w.next)) {
		return w.next
	}
	w.judged = true
	if cure.Answer(w.Path, w.Clock, now) == cure.Yes {
		v := cure.Judge(w.Path, w.Clock, now)
		w.ended, k.due[w.key] = dueOf(w.Clock.Kind, v), w
		delete(k.alone, w.key)
		return time.Time{}
	}
	w.next = time.Time{}
	if k.settle(k.desk.Floor, w, now) || w.Clock.Kind != cure.Ready {
		return time.Time{} // what must not be passed is settled by readings only
	}
	at, ok := w.Path.AsOf(now).Passed(w.Clock.Law, cure.Cold, w.Clock.From, w.Clock.Target(cure.Cold), now.Add(horizon))
	if w.next = now.Add(horizon); ok {
		w.next = ceil(at)
	}
	return w.next
}

// weigh drops the doubts about announcements that still hold.
func (k *Keeper) weigh(now time.Time) {
	for key := range k.doubt {
		w, ok := k.watched[key]
		if !ok || cure.Answer(w.Path, w.Clock, now) == cure.Yes {
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
		return cmp.Or(a.ended.Compare(b.ended), cmp.Compare(a.key, b.key))
	})
	return out
}

func sortedKeys[K ~string, V any](m map[K]V) []K {
	keys := make([]K, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
