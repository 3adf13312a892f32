package run

import (
	"slices"
	"time"
)

// joins reports whether no cartridge holds a seam alone.
func (w *twin) joins(s Seam, x Product) bool {
	fresh := newTwin(w.p, w.p.Seams, false)
	for _, c := range fresh.carts {
		if c.product != x.ID {
			continue
		}
		if c.left-c.equalise-each(x) >= wanted(s, x)-hair {
			return false
		}
		if fresh.ready(&c) && fits(Seam{Tip: c.nozzle.Tip}, s) {
			purge := 0.0
			if !c.nozzle.Purged {
				purge = x.Losses.PurgeML + c.equalise
			}
			if c.left-purge >= wanted(s, x)-hair {
				return false
			}
		}
	}
	return true
}

// layJoined lays a seam out of new cartridges of one lot from k on.
func (w *twin) layJoined(s, k int, done []bool, c twinCost, walk time.Duration, far int) {
	seam := w.p.Seams[s]
	x := w.product(seam.ProductID)
	if turn, some := w.turn[x.ID]; some && k <= turn || !w.carts[k].shelf || w.carts[k].taken || w.outOfNumber(k) {
		return
	}
	n := c
	n.left--
	n.walk += far
	n.took += walk + seam.Laying
	n.passed += w.passedOver(x.ID, k)
	need := wanted(seam, x)
	saved := slices.Clone(w.carts)
	j := k
	for ; need > hair; j++ {
		if j == len(w.carts) || w.carts[j].lot != w.carts[k].lot || !w.carts[j].shelf {
			copy(w.carts, saved)
			return
		}
		cart := &w.carts[j]
		gives := min(need, cart.left-cart.equalise-each(x))
		if gives <= 0 {
			copy(w.carts, saved)
			return
		}
		need -= gives
		cart.left -= gives + cart.equalise + each(x)
		cart.taken = true
		n.nozzles++
		n.opened++
		n.waste += cart.equalise + each(x)
		n.took += w.p.Times.Take + w.p.Times.Open + w.p.Times.Fit
	}
	if left := w.carts[j-1].left; left <= each(x)+hair {
		n.dead += left
	}
	w.down(x.ID, j-1, j-1, true, func() { done[s] = true; w.go_(s, done, n); done[s] = false })
	copy(w.carts, saved)
}

// passedOver counts what is skipped that had to be used sooner and could hold
// any of the seams at all.
func (w *twin) passedOver(product string, k int) int {
	from := -1
	if t, ok := w.turn[product]; ok {
		from = t
	}
	groups := map[string]bool{}
	for i := from + 1; i < k; i++ {
		c := w.carts[i]
		if c.product != product || c.taken || !w.useful(i) {
			continue
		}
		if w.sooner(i, k) {
			key := c.id
			if c.shelf {
				key = "lot " + c.lot
			}
			groups[key] = true
		}
	}
	return len(groups)
}

// useful reports whether a cartridge could be used for any seam.
func (w *twin) useful(i int) bool {
	fresh := newTwin(w.p, w.p.Seams, false)
	c := fresh.carts[i]
	x := w.product(c.product)
	for _, s := range w.p.Seams {
		if s.ProductID != c.product {
			continue
		}
		if w.joins(s, x) {
			if !c.shelf {
				continue
			}
			sum := 0.0
			for _, o := range fresh.carts {
				if o.shelf && o.lot == c.lot {
					sum += max(0, o.left-o.equalise-each(x))
				}
			}
			if sum >= wanted(s, x)-hair {
				return true
			}
			continue
		}
		if c.left-c.equalise-each(x) >= wanted(s, x)-hair {
			return true
		}
		if fresh.ready(&c) {
			purge := 0.0
			if !c.nozzle.Purged {
				purge = x.Losses.PurgeML + c.equalise
			}
			if c.left-purge >= wanted(s, x)-hair {
				return true
			}
		}
	}
	return false
}

// sooner reports whether one cartridge must be used before another.
func (w *twin) sooner(i, k int) bool {
	a, b := w.carts[i].useBy, w.carts[k].useBy
	return !a.IsZero() && (b.IsZero() || a.Before(b))
}
