package plan

import (
	"cmp"
	"slices"

	"seamwright/services/fault"
)

// Single is the plain problem of one machine: jobs without a break, each
// followed by the setup to the next, weighted tardiness to be least. Published
// benchmarks are of this form.
type Single struct {
	Process []int64 // by job, above 0
	Due     []int64
	Weight  []float64
	Setup   [][]int64 // from job i to job j; row n is from the start; nil: none
}

// Sequence answers a Single.
type Sequence struct {
	Order  []int
	Cost   float64
	Rounds int
}

// maxSingle keeps all sums exact.
const maxSingle = int64(1) << 40

// Solve searches for the best order; Options.From and Keep are not looked at.
func (s Single) Solve(o Options) (Sequence, error) {
	n := len(s.Process)
	if n == 0 || n > 2000 || len(s.Due) != n || len(s.Weight) != n || s.Setup != nil && len(s.Setup) != n+1 {
		return Sequence{}, fault.Bad("process", n, "1 to 2000 jobs, as many due dates and weights, and a row of setups more")
	}
	c := newChain(n, 0)
	for j := range n {
		if s.Process[j] <= 0 || s.Process[j] > maxSingle || s.Due[j] < -maxSingle || s.Due[j] > maxSingle || !(s.Weight[j] >= 0 && s.Weight[j] <= MaxCost) {
			return Sequence{}, fault.Bad("process", s.Process[j], "above 0, all numbers at most 2^40, weights from 0 to 1e9")
		}
		c.p[j], c.d[j] = s.Process[j], s.Due[j]-s.Process[j]
		for i := range s.Setup {
			if len(s.Setup[i]) != n || s.Setup[i][j] < 0 || s.Setup[i][j] > setupMost {
				return Sequence{}, fault.Bad("setup", i, "a row of n setups from 0 to 2^31 - 1")
			}
			c.setup(i, j, int32(s.Setup[i][j]))
		}
	}
	c.weigh(s.Weight)
	more, rounds := o.More, o.Rounds
	if more == nil {
		more = func() bool { return true }
	}
	if rounds == 0 {
		if rounds = 1 << 40; o.More == nil {
			rounds = 1000
		}
	}
	c.begin()
	x := newChainSearch(c, newDice(o.Seed), more)
	x.told = o.Better
	done := x.iterate(rounds, c.floor())
	order := make([]int, n)
	for k, j := range x.order {
		order[k] = int(j)
	}
	return Sequence{order, s.Cost(order), done}, nil
}

// Cost is what an order of all jobs costs.
func (s Single) Cost(order []int) float64 {
	t, from, sum := int64(0), len(s.Process), 0.0
	for _, j := range order {
		if s.Setup != nil {
			t += s.Setup[from][j]
		}
		t += s.Process[j]
		sum += s.Weight[j] * float64(max(0, t-s.Due[j]))
		from = j
	}
	return sum
}

// floor is what each load would cost if it were first.
func (c *chain) floor() int64 {
	sum := int64(0)
	for j := range c.n {
		least := c.into[j*c.wide+c.n]
		for i := range c.n {
			if i != j {
				least = min(least, c.into[j*c.wide+i])
			}
		}
		sum += c.one(int32(j), c.at[0].end+int64(least))
	}
	return sum
}

// begin takes the best of the orders that some rules make.
func (c *chain) begin() {
	order := make([]int32, c.n)
	var best []int32
	least := int64(0)
	offer := func() {
		if c.take(order); best == nil || c.total < least {
			best, least = slices.Clone(order), c.total
		}
	}
	for j := range order {
		order[j] = int32(j)
	}
	slices.SortStableFunc(order, func(a, b int32) int { return cmp.Compare(c.d[a]+c.p[a], c.d[b]+c.p[b]) })
	offer()
	slices.SortStableFunc(order, func(a, b int32) int {
		return cmp.Compare(float64(c.p[a])*float64(c.w[b]), float64(c.p[b])*float64(c.w[a]))
	})
	offer()
	c.take(best)
}
