package plan

import "slices"

// decoder makes a whole plan out of orders of loads when there are tasks:
// load by load, its tasks as early as their crews can, then the load. Where a
// lag would be too long the tasks are taken out and put as late as they can
// stand; if that does not do and it is worth it, the load waits for them.
type decoder struct {
	m     *model
	rank  []int32 // of tasks, behind those that they wait for
	crews []roster
	at    []int64 // of tasks; never: not yet
	dead  []bool  // by load: it has no place
	start []int64 // by load
	booth []int32
	saved []int64
	seq   [][]int32
	total float64
	work  [][]int32
}

func newDecoder(m *model, seq [][]int32) *decoder {
	d := &decoder{
		m: m, rank: make([]int32, len(m.tasks)), crews: make([]roster, len(m.crews)), at: make([]int64, len(m.tasks)),
		dead: make([]bool, len(m.loads)), start: make([]int64, len(m.loads)), booth: make([]int32, len(m.loads)),
	}
	for i, k := range m.order {
		d.rank[k] = int32(i)
	}
	for j := range m.loads {
		slices.SortFunc(m.loads[j].tasks, func(x, y int32) int { return int(d.rank[x] - d.rank[y]) })
	}
	d.load(seq)
	return d
}

func (d *decoder) orders() [][]int32 { return d.seq }
func (d *decoder) value() float64    { return d.total }

func (d *decoder) load(seq [][]int32) {
	d.seq = clone(seq)
	d.total = d.run(d.seq, never)
}

func (d *decoder) do(v move) {
	reorder(d.seq, v)
	d.total = d.run(d.seq, never)
}

func (d *decoder) try(v move, most float64) float64 {
	if v.a != v.b && !d.fits(v) {
		return most
	}
	if d.work == nil {
		d.work = make([][]int32, len(d.seq))
	}
	for b := range d.seq {
		d.work[b] = append(d.work[b][:0], d.seq[b]...)
	}
	reorder(d.work, v)
	return d.run(d.work, d.total+most) - d.total
}

// fits reports whether the booths may take what a move would bring them.
func (d *decoder) fits(v move) bool {
	for _, j := range d.seq[v.a][v.i : v.i+v.n] {
		if !d.m.loads[j].may[v.b] {
			return false
		}
	}
	return !v.swap || d.m.loads[d.seq[v.b][v.j]].may[v.a]
}

// run makes the plan and gives its cost without that of frozen loads' places;
// above limit it may stop.
func (d *decoder) run(seq [][]int32, limit float64) float64 {
	m := d.m
	for i := range d.crews {
		d.crews[i].clear()
	}
	for k := range d.at {
		d.at[k] = never
	}
	cost := 0.0
	for j := range m.loads {
		d.dead[j] = false
		d.start[j], d.booth[j] = never, -1
		if l := &m.loads[j]; l.fixed >= 0 {
			d.start[j], d.booth[j] = l.at, l.fixed
		}
	}
	for b := range m.booths {
		for _, f := range m.booths[b].frozen {
			cost += d.prepare(f)
		}
	}
	_, at := m.empty()
	next := make([]int, len(seq))
	for cost <= limit {
		b := -1
		for x := range seq {
			if next[x] < len(seq[x]) && (b < 0 || at[x].t < at[b].t) {
				b = x
			}
		}
		if b < 0 {
			return cost + d.cascade()
		}
		if j := seq[b][next[b]]; m.loads[j].fixed >= 0 {
			m.mark(b, &at[b], j)
		} else {
			cost += d.put(b, &at[b], j)
		}
		next[b]++
	}
	return cost
}

// forward plans a task, those that it waits for first, as early as it can
// stand from low on. False: it has no place.
func (d *decoder) forward(k int32, low int64) bool {
	t := &d.m.tasks[k]
	s := max(low, t.release)
	for _, a := range t.after {
		w := &d.m.tasks[a]
		if w.past {
			continue
		}
		if d.dead[w.load] || d.at[a] >= never && !d.forward(a, 0) {
			return false
		}
		s = max(s, d.at[a]+w.length)
	}
	if s = d.crews[t.crew].early(&d.m.crews[t.crew], s, t.length); s >= never {
		return false
	}
	d.set(k, s)
	return true
}

func (d *decoder) set(k int32, s int64) {
	t := &d.m.tasks[k]
	d.crews[t.crew].add(s, s+t.length, 1)
	d.at[k] = s
}

func (d *decoder) unset(k int32) {
	if t := &d.m.tasks[k]; d.at[k] < never {
		d.crews[t.crew].add(d.at[k], d.at[k]+t.length, -1)
		d.at[k] = never
	}
}

// prepare plans the tasks of a frozen load; its place is fixed.
func (d *decoder) prepare(j int32) float64 {
	l := &d.m.loads[j]
	if len(l.tasks) == 0 || d.m.tasks[l.tasks[0]].past {
		return 0
	}
	ready, ok := d.tasksOf(j, nil)
	if !ok || ready > l.at {
		for _, k := range l.tasks {
			d.unset(k)
		}
		d.dead[j] = true
		return d.m.none + d.missOnce(l, l.at)
	}
	if d.lags(j, l.at) || d.delay(j, l.at) {
		return 0
	}
	return d.missOnce(l, l.at)
}

// missOnce is the miss cost unless the window is missed anyway.
func (d *decoder) missOnce(l *load, at int64) float64 {
	if at > l.latest {
		return 0
	}
	return l.miss
}

// tasksOf plans a load's tasks that are not planned yet; low, when given, is
// from when on each may start. It gives when the load may start.
func (d *decoder) tasksOf(j int32, low func(t *task) int64) (int64, bool) {
	ready := int64(0)
	for _, k := range d.m.loads[j].tasks {
		t := &d.m.tasks[k]
		from := int64(0)
		if low != nil {
			from = low(t)
		}
		if d.at[k] >= never && !d.forward(k, from) {
			return never, false
		}
		ready = max(ready, d.at[k]+t.length+t.minLag)
	}
	return ready, true
}

// lags reports whether none of a load's lags is too long for a start at s.
func (d *decoder) lags(j int32, s int64) bool {
	for _, k := range d.m.loads[j].tasks {
		if t := &d.m.tasks[k]; s-(d.at[k]+t.length) > t.maxLag {
			return false
		}
	}
	return true
}

// delay takes a load's tasks out and puts them in again as late as a start at
// s allows, and reports whether no lag is too long then.
func (d *decoder) delay(j int32, s int64) bool {
	own := d.m.loads[j].tasks
	for x := len(own) - 1; x >= 0; x-- {
		k := own[x]
		t := &d.m.tasks[k]
		by, low := s-t.minLag, d.at[k]
		for _, y := range t.before {
			if d.at[y] < never {
				by = min(by, d.at[y])
			}
		}
		d.unset(k)
		d.set(k, max(low, d.crews[t.crew].late(&d.m.crews[t.crew], by, t.length, low)))
	}
	return d.lags(j, s)
}
