package plan

import "math"

// chain is the search for one booth that is open all along, with nothing but
// lengths, setups, due times and weights: then a load that moves shifts whole
// stretches of others by one amount. The change of a stretch's cost is convex
// in the shift, so the weight that is late already bounds it from below; that
// bound, in a few additions, turns most moves down unseen. All numbers are
// whole and below 2^53, so sums of floating point numbers are exact.
type chain struct {
	n     int
	p     []float64 // length, by load
	w     []float64 // weight
	d     []float64 // start from which it is late
	s     []float64 // setup from load i, or n for the start, to j: s[i*n+j]
	first float64   // the booth is free

	job   []int     // by position
	start []float64 // from here on by position
	end   []float64
	x     []float64 // start less the start from which it is late
	v     []float64 // weight
	cost  []float64 // of all before the position
	late  []float64 // weight of all before it that start late
	edge  []float64 // the same with those that start just at the limit
	total float64   // cost, and a pull to the front that decides between equals
	pull  float64
}

// newChain takes the loads in an order. Lengths, setups and limits are those
// of a model whose numbers suit.
func newChain(n int) *chain {
	c := &chain{n: n}
	for _, f := range []*[]float64{&c.p, &c.w, &c.d} {
		*f = make([]float64, n)
	}
	c.s = make([]float64, (n+1)*n)
	c.job = make([]int, n)
	for _, f := range []*[]float64{&c.start, &c.end, &c.x, &c.v, &c.cost, &c.late, &c.edge} {
		*f = make([]float64, n+1)
	}
	return c
}

// take sets an order and reckons all of it.
func (c *chain) take(order []int) {
	copy(c.job, order)
	c.refresh(0)
}

// refresh reckons everything from position k on.
func (c *chain) refresh(k int) {
	t, from := c.first, c.n
	if k > 0 {
		from = c.job[k-1]
		t = c.end[k-1]
	}
	for ; k < c.n; k++ {
		j := c.job[k]
		t += c.s[from*c.n+j]
		x, w := t-c.d[j], c.w[j]
		c.start[k], c.x[k], c.v[k] = t, x, w
		cost, late, edge := c.cost[k], c.late[k], c.edge[k]
		if x >= 0 {
			edge += w
			if x > 0 {
				late += w
				cost += w * x
			}
		}
		c.cost[k+1], c.late[k+1], c.edge[k+1] = cost, late, edge
		t += c.p[j]
		c.end[k] = t
		from = j
	}
	c.total = c.cost[c.n] + c.pull*c.end[c.n-1]
}

// bound is the least that shifting positions a to b-1 can change the cost by.
func (c *chain) bound(shift float64, a, b int) float64 {
	if shift < 0 {
		return shift * (c.late[b] - c.late[a])
	}
	return shift * (c.edge[b] - c.edge[a])
}

// shifted is what shifting positions a to b-1 changes the cost by; above most
// it may stop with a value above most.
func (c *chain) shifted(shift float64, a, b int, most float64) float64 {
	if shift == 0 || a >= b {
		return 0
	}
	sum, limit := -(c.cost[b] - c.cost[a]), most
	x, v := c.x[a:b], c.v[a:b]
	v = v[:len(x)]
	if shift < 0 {
		limit = 0 // costs only add up: stop where the rest cannot matter
	}
	for len(x) >= 8 {
		for k := range 8 {
			if y := x[k] + shift; y > 0 {
				sum += v[k] * y
			}
		}
		x, v = x[8:], v[8:]
		if sum > limit && sum > most {
			return sum
		}
	}
	for k, y := range x {
		if y += shift; y > 0 {
			sum += v[k] * y
		}
	}
	return sum
}

// one is the cost of load j at a start.
func (c *chain) one(j int, start float64) float64 {
	if x := start - c.d[j]; x > 0 {
		return c.w[j] * x
	}
	return 0
}

// exchange is what it changes to let positions m to j-1 go before positions
// i to m-1. A value that is not below most may be anything not below it.
func (c *chain) exchange(i, m, j int, most float64) float64 {
	n := c.n
	before, free := n, c.first
	if i > 0 {
		before = c.job[i-1]
		free = c.end[i-1]
	}
	y1, yn, x1, xn := c.job[m], c.job[j-1], c.job[i], c.job[m-1]
	dy := free + c.s[before*n+y1] - c.start[m]
	dx := c.end[j-1] + dy + c.s[yn*n+x1] - c.start[i]
	dt := c.end[m-1] + dx - c.end[n-1] // of the end
	if j < n {
		dt = c.end[m-1] + dx + c.s[xn*n+c.job[j]] - c.start[j]
	}
	bx, by, bt := c.bound(dx, i, m), c.bound(dy, m, j), c.bound(dt, j, n)
	most -= c.pull * dt
	if bx+by+bt >= most {
		return math.Inf(1)
	}
	if m-i <= j-m {
		bx = c.shifted(dx, i, m, most-by-bt)
		if bx+by+bt >= most {
			return math.Inf(1)
		}
		by = c.shifted(dy, m, j, most-bx-bt)
	} else {
		by = c.shifted(dy, m, j, most-bx-bt)
		if bx+by+bt >= most {
			return math.Inf(1)
		}
		bx = c.shifted(dx, i, m, most-by-bt)
	}
	if bx+by+bt >= most {
		return math.Inf(1)
	}
	return bx + by + c.shifted(dt, j, n, most-bx-by) + c.pull*dt
}

// swap is what it changes to let positions i and j change places, i < j-1.
func (c *chain) swap(i, j int, most float64) float64 {
	n := c.n
	before, free := n, c.first
	if i > 0 {
		before = c.job[i-1]
		free = c.end[i-1]
	}
	x, y := c.job[i], c.job[j]
	ys := free + c.s[before*n+y]
	dm := ys + c.p[y] + c.s[y*n+c.job[i+1]] - c.start[i+1]
	last := c.job[j-1]
	xs := c.end[j-1] + dm + c.s[last*n+x]
	dt := xs + c.p[x] - c.end[n-1]
	if j+1 < n {
		dt = xs + c.p[x] + c.s[x*n+c.job[j+1]] - c.start[j+1]
	}
	two := c.one(x, xs) + c.one(y, ys) - (c.cost[i+1] - c.cost[i]) - (c.cost[j+1] - c.cost[j])
	most -= c.pull * dt
	bm, bt := c.bound(dm, i+1, j), c.bound(dt, j+1, n)
	if two+bm+bt >= most {
		return math.Inf(1)
	}
	bm = c.shifted(dm, i+1, j, most-two-bt)
	if two+bm+bt >= most {
		return math.Inf(1)
	}
	return two + bm + c.shifted(dt, j+1, n, most-two-bm) + c.pull*dt
}
