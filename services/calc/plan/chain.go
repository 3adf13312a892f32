package plan

import (
	"math"
	"slices"
)

// chain is the search for one booth that is open all along, with nothing but
// lengths, setups, due times and weights: then a load that moves shifts whole
// stretches of others by one amount. What a stretch costs is convex in the
// shift, so the weight that is late already bounds the change from below; that
// bound, in a few additions, turns most moves down unseen.
//
// All numbers are whole. Positions run from 1 to n; before them, at 0, stands
// the start of the booth, and behind them, at n+1, a load of no length whose
// small weight pulls everything to the front and so decides between equals.
type chain struct {
	n    int
	wide int     // n+2, the width of the matrices
	p    []int64 // length, by load
	w    []int64 // weight
	d    []int64 // start from which it is late
	out  []int32 // out[i*wide+j]: setup from load i to load j
	into []int32 // into[j*wide+i]: the same
	unit float64 // what one of the chain's units of cost is in the weights' terms

	job   []int32 // by position, as all that follows
	at    []spot
	x     []int64 // start less the start from which it is late
	v     []int64 // weight
	some  []int32 // positions that a scan found worth a look
	total int64   // cost, with the pull to the front
}

// spot is a position of a chain.
type spot struct {
	start, end int64
	late       int64 // weight of all before it that start late
	cost       int64 // of all before it
	free       int64 // end of the load before
	job, prev  int32 // the load and the one before
}

const (
	pull      = 1                // weight of the end
	heavy     = 64               // what a weight of 1 counts, so that the pull decides between equals only
	beyond    = int64(1) << 61   // above all costs
	setupMost = int64(1)<<31 - 1 // that the matrices hold
)

// newChain makes a chain of n loads without lengths and setups; the booth is
// free from first on.
func newChain(n int, first int64) *chain {
	c := &chain{n: n, wide: n + 2}
	for _, f := range []*[]int64{&c.p, &c.w, &c.d} {
		*f = make([]int64, n+2)
	}
	c.out = make([]int32, c.wide*c.wide)
	c.into = make([]int32, c.wide*c.wide)
	c.job = make([]int32, n+2)
	c.at, c.x, c.v = make([]spot, n+3), make([]int64, n+3), make([]int64, n+3)
	c.some = make([]int32, n+2)
	c.job[0], c.job[n+1] = int32(n), int32(n+1)
	c.at[0] = spot{start: first, end: first, job: int32(n)}
	c.w[n+1] = pull
	return c
}

// weigh sets the weights, in whole numbers that keep every cost below beyond.
// Fractions that whole numbers cannot hold, and numbers too great, are rounded.
func (c *chain) weigh(w []float64) {
	until, sum := c.at[0].end, 0.0
	for j := range c.n {
		most := int32(0)
		for i := range c.n + 1 {
			most = max(most, c.into[j*c.wide+i])
		}
		until += c.p[j] + int64(most)
		sum += w[j]
	}
	far := until
	for j := range c.n {
		if c.d[j] = min(c.d[j], until); w[j] == 0 {
			c.d[j] = until
		}
		far = max(far, until-c.d[j])
	}
	scale := 1.0 * heavy
	for _, k := range []float64{1, 10, 60, 100, 600, 1000, 3600, 60_000, 1e6} {
		if scale = k * heavy; !slices.ContainsFunc(w, func(x float64) bool { return math.Abs(x*k-math.Round(x*k)) > 1e-9*x*k }) {
			break
		}
	}
	if room := float64(beyond/4) / float64(far); sum*scale > room {
		scale = room / sum
	}
	for j := range c.n {
		c.w[j] = int64(math.Round(w[j] * scale))
	}
	c.unit = 1 / scale
}

// setup sets the setup from load i, or n for the start, to load j.
func (c *chain) setup(i, j int, s int32) {
	c.out[i*c.wide+j], c.into[j*c.wide+i] = s, s
}

// loads are the loads in their order.
func (c *chain) loads() []int32 { return c.job[1 : c.n+1] }

// value is what the order costs, in the weights' terms.
func (c *chain) value() int64 { return c.at[c.n+1].cost }

// take sets an order and reckons all of it.
func (c *chain) take(order []int32) {
	copy(c.job[1:], order)
	c.refresh(1)
}

// refresh reckons everything from position k on.
func (c *chain) refresh(k int) {
	t, from := c.at[k-1].end, c.job[k-1]
	cost, late := c.at[k].cost, c.at[k].late
	for ; k <= c.n+1; k++ {
		j := c.job[k]
		t += int64(c.out[int(from)*c.wide+int(j)])
		x, w := t-c.d[j], c.w[j]
		c.x[k], c.v[k] = x, w
		c.at[k] = spot{start: t, end: t + c.p[j], late: late, cost: cost, free: c.at[k-1].end, job: j, prev: from}
		if x > 0 {
			late += w
			cost += w * x
		}
		t += c.p[j]
		from = j
	}
	c.at[k].late, c.at[k].cost = late, cost
	c.total = cost
}

// least is the least that shifting positions a to b-1 can change the cost by.
func (c *chain) least(shift int64, a, b int) int64 {
	low := shift * (c.at[b].late - c.at[a].late)
	if shift < 0 {
		low = max(low, c.at[a].cost-c.at[b].cost)
	}
	return low
}

// shifted is what shifting positions a to b-1 changes the cost by; above most
// it may stop with a value above most.
func (c *chain) shifted(shift int64, a, b int, most int64) int64 {
	if shift == 0 || a >= b {
		return 0
	}
	sum := c.at[a].cost - c.at[b].cost
	x, v := c.x[a:b], c.v[a:b]
	for len(x) >= 8 && len(v) >= 8 {
		x8, v8 := (*[8]int64)(x), (*[8]int64)(v)
		a := max(x8[0]+shift, 0)*v8[0] + max(x8[1]+shift, 0)*v8[1]
		b := max(x8[2]+shift, 0)*v8[2] + max(x8[3]+shift, 0)*v8[3]
		c := max(x8[4]+shift, 0)*v8[4] + max(x8[5]+shift, 0)*v8[5]
		d := max(x8[6]+shift, 0)*v8[6] + max(x8[7]+shift, 0)*v8[7]
		sum += a + b + c + d
		if sum > most {
			return sum
		}
		x, v = x[8:], v[8:]
	}
	v = v[:len(x)]
	for k, y := range x {
		sum += max(y+shift, 0) * v[k]
	}
	return sum
}

// few is shifted for a few positions.
func (c *chain) few(shift int64, a, b int) int64 {
	sum := c.at[a].cost - c.at[b].cost
	x, v := c.x[a:b], c.v[a:b]
	v = v[:len(x)]
	for k, y := range x {
		sum += max(y+shift, 0) * v[k]
	}
	return sum
}

// one is the cost of load j at a start.
func (c *chain) one(j int32, start int64) int64 {
	return c.w[j] * max(start-c.d[j], 0)
}

// exchange is what it changes to let positions m to j-1 go before positions
// i to m-1. A value that is not below most may be anything not below it.
func (c *chain) exchange(i, m, j int, most int64) int64 {
	w := c.wide
	dy := c.at[i-1].end + int64(c.out[int(c.job[i-1])*w+int(c.job[m])]) - c.at[m].start
	dx := c.at[j-1].end + dy + int64(c.out[int(c.job[j-1])*w+int(c.job[i])]) - c.at[i].start
	dt := c.at[m-1].end + dx + int64(c.out[int(c.job[m-1])*w+int(c.job[j])]) - c.at[j].start
	return c.moved(i, m, j, dx, dy, dt, most)
}

// moved is exchange with the shifts of the two blocks and of the rest given.
func (c *chain) moved(i, m, j int, dx, dy, dt, most int64) int64 {
	if m-i > j-m { // the lesser block first: it is soon reckoned
		return c.three(m, j, dy, i, m, dx, j, dt, most)
	}
	return c.three(i, m, dx, m, j, dy, j, dt, most)
}

// three is what it changes to shift a first stretch, a second one, and all
// from the third on.
func (c *chain) three(a, b int, d1 int64, e, f int, d2 int64, g int, d3, most int64) int64 {
	end := c.n + 2
	low2, low3 := c.least(d2, e, f), c.least(d3, g, end)
	most -= c.few(d1, a, b)
	if low2+low3 >= most {
		return beyond
	}
	sum := c.shifted(d2, e, f, most-low3)
	if sum+low3 >= most {
		return beyond
	}
	return c.few(d1, a, b) + sum + c.shifted(d3, g, end, most-sum)
}

// swap is what it changes to let positions i and j change places, i < j-1.
func (c *chain) swap(i, j int, most int64) int64 {
	w := c.wide
	x, y := c.job[i], c.job[j]
	ys := c.at[i-1].end + int64(c.out[int(c.job[i-1])*w+int(y)])
	dm := ys + c.p[y] + int64(c.out[int(y)*w+int(c.job[i+1])]) - c.at[i+1].start
	xs := c.at[j-1].end + dm + int64(c.out[int(c.job[j-1])*w+int(x)])
	dt := xs + c.p[x] + int64(c.out[int(x)*w+int(c.job[j+1])]) - c.at[j+1].start
	two := c.one(x, xs) + c.one(y, ys) - (c.at[i+1].cost - c.at[i].cost) - (c.at[j+1].cost - c.at[j].cost)
	end := c.n + 2
	lowM, lowT := c.least(dm, i+1, j), c.least(dt, j+1, end)
	most -= two
	if lowM+lowT >= most {
		return beyond
	}
	sum := c.shifted(dm, i+1, j, most-lowT)
	if sum+lowT >= most {
		return beyond
	}
	return two + sum + c.shifted(dt, j+1, end, most-sum)
}
