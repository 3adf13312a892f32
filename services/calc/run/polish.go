package run

import "slices"

// polish improves a run by moving stretches of up to four seams to other
// places, with their own cartridges or with those that stand there, and by
// turning stretches round, until nothing helps or it has tried often enough.
func (m *model) polish(w way, tries int) way { return m.polishWith(w, tries, nil) }

// polishWith looks only at runs that are as they must be; nil: any.
func (m *model) polishWith(w way, tries int, must func([]pick) bool) way {
	p := &polisher{m: m, st: m.begin(), tries: tries, must: must}
	for range len(w.picks) + 1 {
		p.marks = append(p.marks, m.begin())
	}
	p.take(w)
	for again := true; again && p.tries > 0; {
		again = false
		for size := 1; size <= 4 && size < len(p.best.picks); size++ {
			for i := 0; i+size <= len(p.best.picks); i++ {
				again = p.shift(i, size) || again
			}
		}
		for i := 0; i < len(p.best.picks); i++ {
			for j := i + 1; j < len(p.best.picks); j++ {
				again = p.turn(i, j) || again
			}
		}
	}
	return p.best
}

type polisher struct {
	m     *model
	st    state
	best  way
	tries int
	must  func([]pick) bool
	to    []pick
	marks []state // the best run before each of its picks
}

// take makes a run the best one.
func (p *polisher) take(w way) {
	p.best = w
	st := &p.st
	p.m.reset(st)
	for i, x := range w.picks {
		copyState(&p.marks[i], st)
		v, _ := p.m.try(st, x.seam, x.entry)
		p.m.do(st, x.seam, v)
	}
}

func copyState(to, from *state) {
	hands := append(to.hands[:0], from.hands...)
	*to = *from
	to.hands = hands
}

// shift tries to put a stretch somewhere else.
func (p *polisher) shift(i, size int) bool {
	for j := 0; j+size <= len(p.best.picks); j++ {
		if j == i {
			continue
		}
		p.to = append(p.to[:0], p.best.picks[:i]...)
		p.to = append(p.to, p.best.picks[i+size:]...)
		p.to = slices.Insert(p.to, j, p.best.picks[i:i+size]...)
		same := min(i, j)
		if p.adopt(same) {
			return true
		}
		for _, from := range []int{j - 1, j + size} { // the cartridge of a neighbour
			if from < 0 || from >= len(p.to) {
				continue
			}
			n := p.to[from]
			changed := false
			for k := j; k < j+size; k++ {
				if p.m.seams[p.to[k].seam].prod == p.m.seams[n.seam].prod && p.to[k].entry != n.entry {
					p.to[k].entry, changed = n.entry, true
				}
			}
			if changed && p.adopt(same) {
				return true
			}
		}
	}
	return false
}

// turn tries to lay a stretch the other way round.
func (p *polisher) turn(i, j int) bool {
	p.to = append(p.to[:0], p.best.picks...)
	slices.Reverse(p.to[i : j+1])
	return p.adopt(i)
}

// adopt takes what was tried if it is better. The first picks are those of the
// best run.
func (p *polisher) adopt(same int) bool {
	if p.tries--; p.tries < 0 || p.must != nil && !p.must(p.to) {
		return false
	}
	copyState(&p.st, &p.marks[same])
	if !p.m.follow(&p.st, p.to[same:], p.best.cost.nozzles) || !p.st.cost.less(p.best.cost) {
		return false
	}
	p.take(way{slices.Clone(p.to), p.st.cost})
	return true
}
