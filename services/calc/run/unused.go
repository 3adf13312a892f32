package run

import (
	"cmp"
	"fmt"
)

// mostAsked is for how many cartridges it is looked up what using them would
// come to.
const mostAsked = 8

// unused lists the stock that could not be used, and the opened cartridges
// that could and are not.
func (t *teller) unused() {
	for n := range t.m.products {
		x := &t.m.products[n]
		if !t.lays(n) {
			continue // it is told with its seams
		}
		for _, d := range x.dropped {
			t.aside(d.e, false, d.why)
		}
		for k, e := range x.list {
			at := [2]int{n, k}
			if _, used := t.rests[at]; !e.shelf && !used && !t.told[at] {
				t.aside(e, false, fmt.Sprintf("%s ml are in it and good: %s.", ml(e.left), t.dearer(n, k)))
			}
		}
	}
}

// lays reports whether the run lays any seam of a product.
func (t *teller) lays(prod int) bool {
	for _, k := range t.tidyUps {
		if k.prod == prod {
			return true
		}
	}
	return false
}

// dearer says what a run would come to that uses a cartridge all the same.
func (t *teller) dearer(prod, entry int) string {
	t.told[[2]int{prod, entry}] = true
	if t.m.products[prod].list[entry].live && !t.inTime(prod, entry) {
		return t.gelsFirst(prod, entry)
	}
	w, asked := t.others[[2]int{prod, entry}]
	switch {
	case !asked:
		return "what using it comes to was not looked at, there is so much stock"
	case w.picks == nil:
		return "no run was found that uses it"
	}
	return t.m.differs(w.cost, t.best.cost, t.m.products[prod].each)
}

// others looks up what using each cartridge comes to that a run does not use
// and that a technician would ask about: those that are open, and of each lot
// the first that must be used sooner than one that is used. Where one of them
// makes the run better it is the run.
func (m *model) others(best way) (way, map[[2]int]way) {
	for range 3 {
		out, better := map[[2]int]way{}, false
		for _, at := range m.idle(best) {
			w := m.with(best, at[0], at[1])
			if w.picks != nil && w.cost.less(best.cost) {
				best, better = m.polish(w, polishTries), true
				break
			}
			out[at] = w
		}
		if !better {
			return best, out
		}
	}
	return best, nil
}

// idle are the cartridges that a run does not use and that are asked about.
func (m *model) idle(w way) (out [][2]int) {
	for n := range m.products {
		last := -1
		used := map[int]bool{}
		for _, p := range w.picks {
			if m.seams[p.seam].prod == n {
				used[p.entry], last = true, max(last, p.entry)
			}
		}
		for k, e := range m.products[n].list {
			if !used[k] && (!e.shelf || k < last && e.nth == 1) && len(out) < mostAsked {
				out = append(out, [2]int{n, k})
			}
		}
	}
	return out
}

// inTime reports whether a cartridge could be laid from through a new nozzle,
// or through the one on it if that is taken at once.
func (t *teller) inTime(prod, entry int) bool {
	x := &t.m.products[prod]
	e := x.list[entry]
	for _, i := range x.seams {
		if s := &t.m.seams[i]; s.vol <= e.net(x.each) || s.vol <= e.left-e.purge && e.tip.serves(s.tip) && t.m.take+t.m.widen(e.tip, s.tip) <= e.deadline {
			return true
		}
	}
	return false
}

func (t *teller) gelsFirst(prod, entry int) string {
	x := &t.m.products[prod]
	e := x.list[entry]
	why := "the nozzle on it has another tip than these seams want"
	for _, i := range x.seams {
		if e.tip.serves(t.m.seams[i].tip) {
			why = fmt.Sprintf("the nozzle on it gels in %s, before a bead could be begun", msText(e.deadline))
		}
	}
	return fmt.Sprintf("%s, and %s, which leaves %s ml", why, x.nozzleTakes(e), ml(max(0, e.net(x.each))))
}

// with is the best run that was found which uses a cartridge: stretches of its
// product go to it where they stand, at the beginning or at the end, and what
// comes of it is polished.
// None was found when it has no picks.
func (m *model) with(best way, prod, entry int) way {
	var own []int
	for i, p := range best.picks {
		if m.seams[p.seam].prod == prod {
			own = append(own, i)
		}
	}
	st, found := m.begin(), way{}
	try := func(picks []pick) {
		if m.play(&st, picks, never32) && (found.picks == nil || st.cost.less(found.cost)) {
			found = way{append([]pick{}, picks...), st.cost}
		}
	}
	for a := range own {
		for b := a; b < len(own) && b < a+8; b++ {
			here := append([]pick{}, best.picks...)
			var moved, rest []pick
			for _, i := range own[a : b+1] {
				here[i].entry = entry
				moved = append(moved, here[i])
			}
			for i, p := range best.picks {
				if i < own[a] || i > own[b] || m.seams[p.seam].prod != prod {
					rest = append(rest, p)
				}
			}
			try(here)
			try(append(append([]pick{}, moved...), rest...))
			try(append(append([]pick{}, rest...), moved...))
		}
	}
	if found.picks == nil {
		return found
	}
	return m.polishWith(found, polishTries/20, func(picks []pick) bool {
		for _, p := range picks {
			if p.entry == entry && m.seams[p.seam].prod == prod {
				return true
			}
		}
		return false
	})
}

// differs says in what a run is dearer than the best one.
func (m *model) differs(with, best cost, each int64) string {
	less := func(n int32, one, many string) string {
		if n == 1 {
			return "1 " + one
		}
		return fmt.Sprintf("%d %s", n, many)
	}
	switch {
	case with.left != best.left:
		return fmt.Sprintf("with it %s would be left out", less(with.left-best.left, "seam more", "seams more"))
	case with.nozzles != best.nozzles:
		return fmt.Sprintf("with it the run takes %s in place of %d, and each new one takes %s ml", less(with.nozzles, "nozzle", "nozzles"), best.nozzles, ml(each))
	case with.passed != best.passed:
		return "with it older stock would be passed over"
	case with.waste != best.waste:
		return fmt.Sprintf("with it %s ml more are purged, left in nozzles or squeezed out to bring sides level", ml(with.waste-best.waste))
	case with.opened != best.opened:
		return fmt.Sprintf("with it %s would be opened", less(with.opened-best.opened, "cartridge more", "cartridges more"))
	case with.dead != best.dead:
		return fmt.Sprintf("with it %s ml more would be thrown away as rests", ml(with.dead-best.dead))
	case with.swaps != best.swaps:
		return "with it the product would be changed more often"
	case with.ms != best.ms:
		return fmt.Sprintf("with it the run takes %s longer", msText(with.ms-best.ms))
	case cmp.Compare(with.steps, best.steps) != 0:
		return "with it the way along the panels is longer"
	}
	return "a run with it is as good and no better"
}
