package cures

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	floorv1 "seamwright/proto/seamwright/floor/v1"
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
	bySeam  map[floor.SeamID][]string
	byCart  map[floor.CartridgeID][]string
	doubt   map[string]uint64 // announced clocks to look at again, with the cause
}

// watch is one clock that is watched.
type watch struct {
	floor.Running
	key  string
	zone floor.ZoneID // the heap that it is in; empty: alone
}

// NewKeeper makes a keeper of the floor behind a desk. It begins with the
// whole floor at its first step.
func NewKeeper(d *record.Desk) *Keeper {
	return &Keeper{
		desk: d, zones: map[floor.ZoneID]*cure.Keeper[string]{}, watched: map[string]*watch{}, alone: map[string]*watch{},
		bySeam: map[floor.SeamID][]string{}, byCart: map[floor.CartridgeID][]string{}, doubt: map[string]uint64{},
	}
}

// Step takes in what the journal brought, announces what is due at now, takes
// back what no longer holds, and returns when the next clock will be due if
// no reading comes.
func (k *Keeper) Step(ctx context.Context, now time.Time) (time.Time, error) {
	var due []*watch
	var doubted map[string]uint64
	var next time.Time
	k.desk.Writer.View(func(seq uint64) {
		k.takeIn(seq, now)
		due, next = k.collect(now)
		doubted, k.doubt = k.doubt, map[string]uint64{}
	})
	for _, key := range sortedKeys(doubted) {
		if err := k.reconsider(ctx, key, doubted[key], now); err != nil {
			k.doubt[key] = doubted[key]
			return now.Add(time.Second), err
		}
	}
	for _, w := range due {
		if err := k.announce(ctx, w, now); err != nil {
			return now.Add(time.Second), err
		}
	}
	return next, nil
}

// takeIn follows the floor up to a sequence.
func (k *Keeper) takeIn(seq uint64, now time.Time) {
	f := k.desk.Floor
	if k.seq == 0 {
		k.all(f, now, 0)
		k.seq = seq
		return
	}
	for k.seq < seq {
		k.seq++
		t := f.Touches(k.seq)
		if t.All {
			k.all(f, now, k.seq)
			continue
		}
		for _, ro := range t.Jobs {
			t.Seams = append(t.Seams, f.SeamsOf(ro)...)
		}
		if t.Zone != "" {
			t.Seams = append(t.Seams, k.seamsIn(f, t.Zone)...)
			t.Cartridges = append(t.Cartridges, f.Cartridges()...)
		}
		for _, s := range t.Seams {
			k.seam(f, s, k.seq)
		}
		for _, c := range t.Cartridges {
			k.cartridge(f, c, now, k.seq)
		}
	}
}

// all looks at every clock of the floor again.
func (k *Keeper) all(f *floor.Floor, now time.Time, cause uint64) {
	k.zones = map[floor.ZoneID]*cure.Keeper[string]{}
	k.watched, k.alone = map[string]*watch{}, map[string]*watch{}
	for _, s := range f.Seams() {
		k.seam(f, s, cause)
	}
	for _, c := range f.Cartridges() {
		k.cartridge(f, c, now, cause)
	}
}

// seamsIn lists the seams with clocks in a zone, or in no one zone.
func (k *Keeper) seamsIn(f *floor.Floor, z floor.ZoneID) []floor.SeamID {
	var out []floor.SeamID
	for _, id := range f.Seams() {
		s := f.Seam(id)
		if s.Bead == nil {
			continue
		}
		for _, r := range f.SeamClocks(id) {
			if r.Zone == z || r.Zone == "" || r.Alone.After(r.Clock.From) {
				out = append(out, id)
				break
			}
		}
	}
	return out
}

// seam brings the clocks of a seam up to date.
func (k *Keeper) seam(f *floor.Floor, id floor.SeamID, cause uint64) {
	k.forget(k.bySeam[id])
	delete(k.bySeam, id)
	for _, r := range f.SeamClocks(id) {
		w := k.begin(f, r, cause)
		k.bySeam[id] = append(k.bySeam[id], w.key)
	}
}

// cartridge brings the clock of the nozzle on a cartridge up to date.
func (k *Keeper) cartridge(f *floor.Floor, id floor.CartridgeID, now time.Time, cause uint64) {
	k.forget(k.byCart[id])
	delete(k.byCart, id)
	if r, ok := f.NozzleClock(id, now); ok {
		w := k.begin(f, r, cause)
		k.byCart[id] = append(k.byCart[id], w.key)
	}
}

func (k *Keeper) forget(keys []string) {
	for _, key := range keys {
		if w, ok := k.watched[key]; ok && w.zone != "" {
			k.zones[w.zone].Cancel(key)
		}
		delete(k.watched, key)
		delete(k.alone, key)
	}
}

// begin watches a clock. One that was announced is only looked at again.
func (k *Keeper) begin(f *floor.Floor, r floor.Running, cause uint64) *watch {
	w := &watch{Running: r, key: keyOf(r.ID)}
	k.watched[w.key] = w
	if r.Said != 0 {
		k.doubt[w.key] = cause
		return w
	}
	k.alone[w.key] = w
	k.settle(f, w)
	return w
}

// settle moves a clock into its zone's heap once it runs in one zone alone.
func (k *Keeper) settle(f *floor.Floor, w *watch) {
	course := f.ZoneCourse(w.Zone)
	if course == nil || w.Alone.After(w.Clock.From) {
		return
	}
	z := k.zones[w.Zone]
	if z == nil {
		z = cure.NewKeeper[string](course)
		k.zones[w.Zone] = z
	}
	if err := z.Begin(w.key, w.Clock.Law, side(w.Clock.Kind), w.Clock.From, w.Clock.Target(side(w.Clock.Kind))); err != nil {
		return // it stays alone and is judged by itself
	}
	w.zone = w.Zone
	delete(k.alone, w.key)
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

// collect lists the clocks that are due at a moment, and the next moment at
// which one may be.
func (k *Keeper) collect(now time.Time) (due []*watch, next time.Time) {
	sooner := func(t time.Time) {
		if t.After(now) && (next.IsZero() || t.Before(next)) {
			next = t
		}
	}
	for _, z := range sortedKeys(k.zones) {
		for _, fallen := range k.zones[z].Advance(now).Fallen {
			if w, ok := k.watched[fallen.ID]; ok {
				due = append(due, w)
			}
		}
		if f, ok := k.zones[z].NextDue(now); ok {
			sooner(f.At)
		}
	}
	for _, key := range sortedKeys(k.alone) {
		w := k.alone[key]
		v := cure.Judge(w.Path, w.Clock, now)
		if v.Reached == cure.Yes {
			due = append(due, w)
			continue
		}
		sooner(dueOf(w.Clock.Kind, v))
	}
	return due, next
}

func dueOf(kind cure.Kind, v cure.Verdict) time.Time {
	if kind == cure.Expiry {
		return v.DueHot
	}
	return v.DueCold
}

func sortedKeys[K ~string, V any](m map[K]V) []K {
	keys := make([]K, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// find gives the clock as the floor has it at this sequence.
func find(f *floor.Floor, id floor.ClockID, carts []floor.CartridgeID, now time.Time) (floor.Running, bool) {
	if id.Nozzle == "" {
		for _, r := range f.SeamClocks(id.Seam) {
			if r.ID == id {
				return r, true
			}
		}
		return floor.Running{}, false
	}
	for _, c := range carts {
		if r, ok := f.NozzleClock(c, now); ok && r.ID == id {
			return r, true
		}
	}
	return floor.Running{}, false
}

func opened(kind floorv1.Clock) bool { return floor.KindOf(kind) == cure.Ready }
