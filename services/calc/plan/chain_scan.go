package plan

// best is the best step for the load at position i, with the change it
// brings, which is below most; no step changes nothing. The loops hold a
// bound of exchange and swap with all that stays the same taken out, since
// nearly every move ends there.
func (c *chain) best(i int, most int64) (step, int64) {
	var to step
	for k := 1; k <= blockMost && i+k <= c.n+1; k++ {
		most = c.onward(i, i+k, most, &to)
		most = c.back(i, i+k, most, &to)
	}
	return to, c.swaps(i, most, &to)
}

// onward tries positions i to m-1 behind each later load.
func (c *chain) onward(i, m int, most int64, to *step) int64 {
	if m > c.n {
		return most
	}
	for _, j := range c.some[:c.scanOn(i, m, most)] {
		if v := c.exchange(i, m, int(j), most); v < most {
			most, *to = v, step{i, m, int(j)}
		}
	}
	return most
}

// scanOn notes where the bound lets positions i to m-1 go further back, and
// how often. No call is in its loop, so that most of it stays in registers.
func (c *chain) scanOn(i, m int, most int64) int {
	w := c.wide
	xs, ys := &c.at[i], &c.at[m]
	x1, xn := int(xs.job)*w, int(ys.prev)*w
	dy := xs.free + int64(c.out[int(xs.prev)*w+int(ys.job)]) - ys.start
	lateN := c.at[c.n+2].late
	into, out := c.into[x1:x1+w], c.out[xn:xn+w]
	shift := dy - xs.start
	weight, all := c.heap(i, m)
	all += weight * shift
	most += dy*ys.late + ys.cost - xs.cost
	shift += ys.free
	rest := c.at[m+1 : c.n+2]
	some := c.some[:len(into)]
	n := 0
	for k := range rest {
		q := &rest[k]
		u := q.free + int64(into[q.prev])
		dt := u + int64(out[q.job]) - q.start + shift
		some[n] = int32(k)
		if max(u*weight+all, 0)+dy*q.late+dt*(lateN-q.late) < most {
			n++
		}
	}
	for k := range some[:n] {
		some[k] += int32(m + 1)
	}
	return n
}

// heap gives the weight of positions i to m-1 and what they would cost if all
// of them were late, those that are early less than nothing. By Jensen's
// inequality they cost no less after a shift than this does, nor below 0.
func (c *chain) heap(i, m int) (weight, all int64) {
	for ; i < m; i++ {
		weight += c.v[i]
		all += c.v[i] * c.x[i]
	}
	return weight, all
}

// back tries positions i to m-1 before each earlier load.
func (c *chain) back(i, m int, most int64, to *step) int64 {
	for _, j := range c.some[:c.scanBack(i, m, most)] {
		if v := c.exchange(int(j), i, m, most); v < most {
			most, *to = v, step{int(j), i, m}
		}
	}
	return most
}

// scanBack notes where the bound lets positions i to m-1 go further to the
// front, and how often.
func (c *chain) scanBack(i, m int, most int64) int {
	w := c.wide
	ys, ts := &c.at[i], &c.at[m]
	y1, yn := int(ys.job)*w, int(ts.prev)*w
	lateT := c.at[c.n+2].late - ts.late
	into, out := c.into[y1:y1+w], c.out[yn:yn+w]
	weight, all := c.heap(i, m)
	all -= weight * ys.start
	shiftT := ys.free + int64(c.out[int(ys.prev)*w+int(ts.job)]) - ts.start
	shift := ts.free - ys.start
	most += ts.cost - ys.cost - shiftT*lateT
	lateT += ys.late
	before := c.at[:i]
	some := c.some[:len(into)]
	n := 0
	for j := 1; j < len(before); j++ {
		q := &before[j]
		u := q.free + int64(into[q.prev])
		dx := u + int64(out[q.job]) - q.start + shift
		some[n] = int32(j)
		if max(u*weight+all, 0)+dx*(lateT-q.late) < most {
			n++
		}
	}
	return n
}

// swaps tries to let the load at position i change places with each other.
func (c *chain) swaps(i int, most int64, to *step) int64 {
	for _, j := range c.some[:c.scanSwapOn(i, most)] {
		if v := c.swap(i, int(j), most); v < most {
			most, *to = v, step{i, 0, int(j)}
		}
	}
	for _, j := range c.some[:c.scanSwapBack(i, most)] {
		if v := c.swap(int(j), i, most); v < most {
			most, *to = v, step{int(j), 0, i}
		}
	}
	return most
}

// scanSwapOn notes with which later positions the bound lets i change places.
func (c *chain) scanSwapOn(i int, most int64) int {
	if i+2 > c.n {
		return 0
	}
	w := c.wide
	x, r := &c.at[i], &c.at[i+1]
	prev, this, next := int(x.prev)*w, int(x.job)*w, int(r.job)*w
	first, into, behind, out := c.out[prev:prev+w], c.into[next:next+w], c.into[this:this+w], c.out[this:this+w]
	lateR, lateN := r.late, c.at[c.n+2].late
	length, limit, weight := r.free-x.start, c.d[x.job], c.v[i]
	most += r.cost - x.cost
	free, start := x.free, r.start
	rest := c.at[i+2 : c.n+2]
	some := c.some[:len(into)]
	n := 0
	for k := range len(rest) - 1 {
		q, r := &rest[k], &rest[k+1]
		ys := free + int64(first[q.job])
		dm := ys + r.free - q.start + int64(into[q.job]) - start
		xs := q.free + dm + int64(behind[q.prev])
		dt := xs + length + int64(out[r.job]) - r.start
		some[n] = int32(k)
		if max(xs-limit, 0)*weight+(ys-q.start)*(r.late-q.late)+dm*(q.late-lateR)+dt*(lateN-r.late) < most {
			n++
		}
	}
	for k := range some[:n] {
		some[k] += int32(i + 2)
	}
	return n
}

// scanSwapBack is scanSwapOn for earlier positions.
func (c *chain) scanSwapBack(i int, most int64) int {
	w := c.wide
	y, t := &c.at[i], &c.at[i+1]
	prev, this, next := int(y.prev)*w, int(y.job)*w, int(t.job)*w
	behind, into, first, out := c.out[prev:prev+w], c.into[next:next+w], c.into[this:this+w], c.out[this:this+w]
	lateI, lateT := y.late, c.at[c.n+2].late-t.late
	length, limit, weight := t.free-y.start, c.d[y.job], c.v[i]
	most += t.cost - y.cost
	free, start := y.free, t.start
	some := c.some[:len(into)]
	before := c.at[:i]
	n := 0
	for j := 1; j < len(before)-1; j++ {
		q, r := &before[j], &before[j+1]
		ys := q.free + int64(first[q.prev])
		dm := ys + length + int64(out[r.job]) - r.start
		xs := free + dm + int64(behind[q.job])
		dt := xs + r.free - q.start + int64(into[q.job]) - start
		some[n] = int32(j)
		if max(ys-limit, 0)*weight+(xs-q.start)*(r.late-q.late)+dm*(lateI-r.late)+dt*lateT < most {
			n++
		}
	}
	return n
}
