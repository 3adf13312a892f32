package stock

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"seamwright/services/calc/quantity"
	"seamwright/services/fault"
)

// Holding is unopened cartridges of a lot, or one opened cartridge, of one
// product.
type Holding struct {
	LotID       string
	CartridgeID string          // of an opened one; empty: on the shelf
	Cartridges  int             // on the shelf; 1 of an opened one
	Each        quantity.Volume // in each of them
	Expires     time.Time       // zero: keeps
	Opened      time.Time       // of an opened one; zero: not known
}

// Lapse is stock that is expected not to be used in time.
type Lapse struct {
	LotID       string
	CartridgeID string // empty: on the shelf today
	Cartridges  int
	Volume      quantity.Volume // left unused in all of them
	At          time.Time
	Opened      bool // by then; else it expires unopened
	Past        bool // it has lapsed already when the look ahead begins
	Why         string
}

// Outlook is how a product's stock is expected to go.
type Outlook struct {
	Lapses  []Lapse // by time; never nil
	Lost    quantity.Volume
	RunsOut time.Time // when the last of it is used or lapses; zero without stock, or when it is never used up
}

// item is one cartridge on its way.
type item struct {
	h      *Holding
	opened bool
	left   float64
	by     time.Time
}

// maxItems keeps a slipped count from filling the memory.
const maxItems = 100_000

// Foresee walks first expired first out through the stock of a product at a
// steady use of ml per day from a moment on. One cartridge is in use at a time;
// from its opening it keeps openedLife (0: not given), and never beyond its
// lot's expiry. What is left in it then lapses, as does what expires before its
// turn. Errors: a use below 0 or not finite, contents or counts out of range.
func Foresee(stock []Holding, mlPerDay float64, openedLife time.Duration, at time.Time) (Outlook, error) {
	out := Outlook{Lapses: []Lapse{}}
	items, err := itemsOf(stock, openedLife)
	if err != nil {
		return out, err
	}
	if err := first(notBelow("ml_per_day", mlPerDay), checkMoment(at, openedLife)); err != nil {
		return out, err
	}
	now := at
	for len(items) > 0 {
		k := nextItem(items)
		it := items[k]
		items = slices.Delete(items, k, k+1)
		if !it.by.IsZero() && !it.by.After(now) {
			out.lapse(it, at, mlPerDay > 0)
			continue
		}
		if !it.opened && openedLife > 0 && mlPerDay > 0 {
			if end := now.Add(openedLife); it.by.IsZero() || end.Before(it.by) {
				it.by = end
			}
		}
		it.opened = it.opened || mlPerDay > 0
		end, over := usedUp(now, it.left/mlPerDay)
		if over && it.by.IsZero() {
			out.RunsOut = time.Time{}
			return out.done(), nil // it keeps and is never used up
		}
		if over || !it.by.IsZero() && end.After(it.by) {
			it.left = max(0, it.left-mlPerDay*it.by.Sub(now).Hours()/24)
			out.lapse(it, at, mlPerDay > 0)
			end = it.by
		}
		now = end
	}
	if len(stock) > 0 {
		out.RunsOut = now
	}
	return out.done(), nil
}

// usedUp is the moment days after another; over when that is beyond what is
// reckoned with.
func usedUp(from time.Time, days float64) (end time.Time, over bool) {
	if !(days < 36500) {
		return time.Time{}, true
	}
	return from.Add(time.Duration(days * 24 * float64(time.Hour))), false
}

// nextItem is the cartridge to be used next: the first to lapse, an opened one
// before others of that day.
func nextItem(items []item) int {
	best := 0
	for k := range items {
		a, b := &items[k], &items[best]
		if cmp.Or(compareDays(a.by, b.by), compareOpened(a, b)) < 0 {
			best = k
		}
	}
	return best
}

func compareOpened(a, b *item) int {
	if a.opened == b.opened {
		return 0
	}
	if a.opened {
		return -1
	}
	return 1
}

func itemsOf(stock []Holding, life time.Duration) ([]item, error) {
	var items []item
	for i := range stock {
		h := &stock[i]
		at := fmt.Sprintf("stock[%d].", i)
		if !(h.Each >= 0 && h.Each.ML() <= maxAmount) {
			return nil, fault.Bad(at+"ml", h.Each.ML(), "0 or more; weigh it again")
		}
		if h.Cartridges < 0 || h.Cartridges+len(items) > maxItems || h.CartridgeID != "" && h.Cartridges != 1 {
			return nil, fault.Bad(at+"cartridges", h.Cartridges, fmt.Sprintf("0 or more, %d in all, 1 of an opened one; count again", maxItems))
		}
		it := item{h: h, left: h.Each.ML(), by: h.Expires, opened: h.CartridgeID != ""}
		if it.opened && life > 0 && !h.Opened.IsZero() {
			if end := h.Opened.Add(life); it.by.IsZero() || end.Before(it.by) {
				it.by = end
			}
		}
		if it.left == 0 {
			continue
		}
		for range h.Cartridges {
			items = append(items, it)
		}
	}
	// In a fixed order, whatever the order of the input.
	slices.SortStableFunc(items, func(a, b item) int {
		return cmp.Or(compareDays(a.by, b.by), compareOpened(&a, &b), strings.Compare(a.h.LotID, b.h.LotID), strings.Compare(a.h.CartridgeID, b.h.CartridgeID))
	})
	return items, nil
}

func checkMoment(at time.Time, life time.Duration) error {
	if at.IsZero() {
		return fault.Bad("at", "missing", "the moment that is looked ahead from; give it")
	}
	if life < 0 {
		return fault.Bad("opened_life", life, "0 or more, 0 when not given; correct the product")
	}
	return nil
}

// lapse notes what is lost at the end of its life, as it is seen from a moment;
// cartridges of a lot that expire together are one entry.
func (o *Outlook) lapse(it item, from time.Time, used bool) {
	if it.left <= 0 {
		return
	}
	at := it.by
	v := quantity.Volume(it.left)
	o.Lost += v
	for k := range o.Lapses {
		l := &o.Lapses[k]
		if l.LotID == it.h.LotID && l.CartridgeID == it.h.CartridgeID && l.At.Equal(at) && l.Opened == it.opened {
			l.Cartridges++
			l.Volume += v
			return
		}
	}
	o.Lapses = append(o.Lapses, Lapse{LotID: it.h.LotID, CartridgeID: it.h.CartridgeID, Cartridges: 1, Volume: v, At: at, Opened: it.opened, Past: !at.After(from), Why: it.why(from, used)})
}

// why says what ends a cartridge's life, or has ended it.
func (it item) why(from time.Time, used bool) string {
	on, past := " on "+it.by.Format(time.DateOnly), !it.by.After(from)
	switch lot := it.by.Equal(it.h.Expires); {
	case past && (!it.opened || lot):
		return "its lot expired"
	case past:
		return "its life once opened was over"
	case !it.opened && used:
		return "it expires" + on + " before its turn comes"
	case !it.opened:
		return "it expires" + on
	case lot && used:
		return "its lot expires" + on + " before it is used up"
	case lot:
		return "its lot expires" + on
	case used:
		return "its life once opened ends" + on + " before it is used up"
	}
	return "its life once opened ends" + on
}

func (o Outlook) done() Outlook {
	slices.SortStableFunc(o.Lapses, func(a, b Lapse) int { return a.At.Compare(b.At) })
	return o
}
