package plan

// put plans a load behind a state of its booth, with its tasks, and gives its
// cost.
func (d *decoder) put(b int, s *state, j int32) float64 {
	m := d.m
	l := &m.loads[j]
	ready, ok := d.tasksOf(j, nil)
	from := *s
	at := int64(never)
	if ok {
		at = m.place(b, s, j, ready)
	}
	if at >= never {
		d.kill(j)
		return m.none + l.miss
	}
	d.start[j], d.booth[j] = at, int32(b)
	if at > l.latest || d.lags(j, at) || d.delay(j, at) {
		return l.cost(at)
	}
	if l.miss > 0 {
		if c, ok := d.wait(b, from, s, j); ok {
			return c
		}
	}
	return l.cost(at) + l.miss
}

// kill leaves a load out; its tasks are not done.
func (d *decoder) kill(j int32) {
	for _, k := range d.m.loads[j].tasks {
		d.unset(k)
	}
	d.dead[j] = true
	d.start[j], d.booth[j] = never, -1
}

// wait lets a load start so much later that its tasks, done later too, stand
// no further before it than their lags allow. It is undone, with false, when
// that cannot be had for less than the load's miss cost.
func (d *decoder) wait(b int, from state, s *state, j int32) (float64, bool) {
	const rounds = 8
	l := &d.m.loads[j]
	was, old := *s, d.start[j]
	d.saved = d.saved[:0]
	for _, k := range l.tasks {
		d.saved = append(d.saved, d.at[k])
	}
	at := old
	for range rounds {
		for _, k := range l.tasks {
			if !d.holds(k) {
				d.unset(k)
			}
		}
		ready, ok := d.tasksOf(j, func(t *task) int64 {
			if t.maxLag >= never {
				return 0
			}
			return at - t.maxLag - t.length
		})
		if !ok {
			break
		}
		next := from
		then := d.m.place(b, &next, j, max(ready, at))
		if then >= never || then > l.latest || l.cost(then) >= l.cost(old)+l.miss {
			break
		}
		at = then
		if d.lags(j, at) || d.delay(j, at) {
			*s, d.start[j] = next, at
			return l.cost(at), true
		}
	}
	*s, d.start[j] = was, old
	for x, k := range l.tasks {
		d.unset(k)
		d.set(k, d.saved[x])
	}
	return 0, false
}

// holds reports whether a planned task of another load waits for this one,
// straight or through other tasks, which then must not move later.
func (d *decoder) holds(k int32) bool {
	for _, x := range d.m.tasks[k].before {
		if d.at[x] < never && (d.m.tasks[x].load != d.m.tasks[k].load || d.holds(x)) {
			return true
		}
	}
	return false
}

// cascade leaves out loads whose tasks wait for a task that is not done, and
// gives what that costs.
func (d *decoder) cascade() float64 {
	cost := 0.0
	for again := true; again; {
		again = false
		for _, k := range d.m.order {
			t := &d.m.tasks[k]
			if d.at[k] >= never || d.dead[t.load] {
				continue
			}
			for _, a := range t.after {
				if w := &d.m.tasks[a]; !w.past && d.at[a] >= never {
					cost += d.lose(t.load)
					again = true
					break
				}
			}
		}
	}
	return cost
}

// lose leaves out a load that had its place, or the tasks of a frozen one,
// and gives the difference in cost.
func (d *decoder) lose(j int32) float64 {
	l := &d.m.loads[j]
	if l.fixed >= 0 {
		for _, k := range l.tasks {
			d.unset(k)
		}
		d.dead[j] = true
		return d.m.none + d.missOnce(l, l.at)
	}
	had := l.cost(d.start[j])
	d.kill(j)
	return d.m.none + l.miss - had
}

// course is the plan of the decoder's orders.
func (d *decoder) course() *course {
	d.total = d.run(d.seq, never)
	c := d.m.blank(clone(d.seq))
	copy(c.start, d.start)
	copy(c.booth, d.booth)
	copy(c.task, d.at)
	d.m.price(c)
	return c
}
