package plan

// settle raises all starts to the least that everything settled so far
// allows, and gives the cost of that. False: nothing can keep it all.
func (x *brancher) settle(t times) (float64, bool) {
	m := x.m
	most := 64 + 8*(len(m.loads)+len(m.tasks)+len(x.arcs))
	for _, b := range m.booths {
		most += len(b.open)
	}
	for _, c := range m.crews {
		most += len(c.open)
	}
	for round := 0; ; round++ {
		moved, ok := x.raiseTasks(t)
		if !ok {
			return 0, false
		}
		again, ok := x.raiseLoads(t)
		if !ok {
			return 0, false
		}
		if !moved && !again {
			if x.overworked(t) {
				return 0, false
			}
			return x.cost(t), true
		}
		if round == 12 && x.circle() {
			return 0, false
		}
		if round > most { // it climbs slowly for another reason: no proof
			x.stop = true
			return 0, false
		}
	}
}

// circle reports whether the lags to be kept and what must come after what
// demand of some start to be later than itself, calendars left aside: then
// starts would rise for ever.
func (x *brancher) circle() bool {
	m := x.m
	load, task := make([]int64, len(m.loads)), make([]int64, len(m.tasks))
	raise := func(to *int64, s int64, moved *bool) {
		if s > *to {
			*to, *moved = s, true
		}
	}
	moved := true
	for round := 0; moved && round <= len(load)+len(task); round++ {
		moved = false
		for k := range m.tasks {
			w := &m.tasks[k]
			if w.past || x.gone[w.load] {
				continue
			}
			for _, a := range w.after {
				if p := &m.tasks[a]; !p.past {
					raise(&task[k], task[a]+p.length, &moved)
				}
			}
			raise(&load[w.load], task[k]+w.length+w.minLag, &moved)
			if x.keep[w.load] == kept && w.maxLag < never {
				raise(&task[k], load[w.load]-w.maxLag-w.length, &moved)
			}
		}
		for _, a := range x.arcs {
			raise(&task[a[1]], task[a[0]]+m.tasks[a[0]].length, &moved)
		}
		for _, q := range x.seq {
			for i := 1; i < len(q); i++ {
				a, b := &m.loads[q[i-1]], &m.loads[q[i]]
				if a.fixed < 0 && b.fixed < 0 {
					raise(&load[q[i]], load[q[i-1]]+a.length+m.setup[a.colour][b.colour], &moved)
				}
			}
		}
	}
	return moved
}

func (x *brancher) raiseTasks(t times) (moved, ok bool) {
	m := x.m
	for _, k := range m.order {
		w := &m.tasks[k]
		if w.past || x.gone[w.load] {
			continue
		}
		s := t.task[k]
		for _, a := range w.after {
			p := &m.tasks[a]
			if p.past {
				continue
			}
			if x.gone[p.load] {
				s = never // it waits for what is not done
				continue
			}
			s = max(s, min(never, t.task[a]+p.length))
		}
		for _, a := range x.arcs {
			if a[1] == k {
				s = max(s, t.task[a[0]]+m.tasks[a[0]].length)
			}
		}
		if x.keep[w.load] == kept && w.maxLag < never {
			s = max(s, t.load[w.load]-w.maxLag-w.length)
		}
		if c := &m.crews[w.crew]; c.open != nil {
			s = fit(c.open, s, w.length)
		}
		if s >= never/2 { // its load will be left out, unless it has a place already
			if s = never; x.in[w.load] || m.loads[w.load].fixed >= 0 {
				return false, false
			}
		}
		if s > t.task[k] {
			t.task[k], moved = s, true
		}
	}
	return moved, true
}

func (x *brancher) raiseLoads(t times) (moved, ok bool) {
	m := x.m
	for j := range m.loads {
		if x.gone[j] {
			continue
		}
		l := &m.loads[j]
		s := t.load[j]
		for _, k := range l.tasks {
			if w := &m.tasks[k]; !w.past {
				s = max(s, min(never, t.task[k]+w.length+w.minLag))
			}
		}
		if l.fixed >= 0 && s > l.at || s >= never && x.in[j] {
			return false, false
		}
		if s > t.load[j] {
			t.load[j], moved = s, true
		}
	}
	for b, q := range x.seq {
		again, ok := x.raiseBooth(b, q, t)
		if !ok {
			return false, false
		}
		moved = moved || again
	}
	for j := range m.loads {
		if x.keep[j] == kept && t.load[j] > m.loads[j].latest {
			return false, false
		}
	}
	return moved, true
}

// raiseBooth goes along the order of a booth. Frozen loads stand in it and
// what is before them must leave them their time.
func (x *brancher) raiseBooth(b int, q []int32, t times) (moved, ok bool) {
	m := x.m
	w := &m.booths[b]
	now, pinned := w.first, true // pinned: nothing that can give way stands before
	for _, j := range q {
		l := &m.loads[j]
		s := now.t + m.setup[now.colour][l.colour]
		if l.fixed >= 0 {
			if now.frozen != l.nth || !pinned && s > l.at {
				return false, false
			}
			m.pass(b, &now)
			pinned = true
			continue
		}
		if s = fit(w.open, max(s, t.load[j]), l.length); s >= never {
			return false, false
		}
		if s > t.load[j] {
			t.load[j], moved = s, true
		}
		now.t, now.colour, pinned = s+l.length, l.colour, false
	}
	if b != x.open {
		return moved, true
	}
	// What has no place yet comes behind, here or in the booths that follow.
	for j := range m.loads {
		l := &m.loads[j]
		if x.in[j] || x.gone[j] || l.fixed >= 0 {
			continue
		}
		best := int64(never)
		for _, o := range l.booths {
			at := m.booths[o].first.t
			switch {
			case int(o) < b:
				continue
			case int(o) == b:
				at = now.t
			}
			best = min(best, fit(m.booths[o].open, max(at+m.booths[o].least[l.colour], t.load[j]), l.length))
		}
		if best > t.load[j] {
			t.load[j], moved = best, true
		}
	}
	return moved, true
}

// cost is what a node costs at least.
func (x *brancher) cost(t times) float64 {
	c := 0.0
	for j := range x.m.loads {
		l := &x.m.loads[j]
		switch {
		case l.fixed >= 0:
			if x.gone[j] {
				c += x.m.none
			}
			if (x.gone[j] || x.keep[j] == missed) && l.at <= l.latest {
				c += l.miss
			}
		case x.gone[j] || t.load[j] >= never:
			c += x.m.none + l.miss
		default:
			c += l.cost(t.load[j])
			if x.keep[j] == missed && t.load[j] <= l.latest {
				c += l.miss
			}
		}
	}
	return c
}

// clash finds one task more than a crew has people, all at work at once.
func (x *brancher) clash(t times) []int32 {
	m := x.m
	at := func(k int32) bool { return !m.tasks[k].past && !x.gone[m.tasks[k].load] }
	for k := range m.tasks {
		if !at(int32(k)) {
			continue
		}
		w := &m.tasks[k]
		now := t.task[k]
		set := []int32{int32(k)}
		for o := range m.tasks {
			v := &m.tasks[o]
			if o != k && at(int32(o)) && v.crew == w.crew && t.task[o] <= now && now < t.task[o]+v.length {
				set = append(set, int32(o))
			}
		}
		if people := m.crews[w.crew].people; len(set) > people {
			return set[:people+1]
		}
	}
	return nil
}

// broken finds a load that has not been decided on and is missed by a lag
// only.
func (x *brancher) broken(t times) int {
	m := x.m
	for j := range m.loads {
		l := &m.loads[j]
		if x.keep[j] != undecided || x.gone[j] || t.load[j] > l.latest || l.miss == 0 {
			continue
		}
		for _, k := range l.tasks {
			if w := &m.tasks[k]; !w.past && t.load[j]-(t.task[k]+w.length) > w.maxLag {
				return j
			}
		}
	}
	return -1
}
