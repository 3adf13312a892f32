package plan

import "slices"

// Options of a search. The package knows no clock: how long it may go on is
// told by More, or by a number of rounds, or both. With the same problem,
// seed and rounds, and More always true, the answer is the same.
type Options struct {
	Seed   uint64
	More   func() bool        // nil: always; asked again and again, false ends the search
	Rounds int                // of local search after the exact method, which with tasks makes up to 20 nodes a round; 0: as long as More says
	Better func(cost float64) // told of each better order of a Single; nil: nobody
	From   *Plan              // made for an earlier state of things: warm start and stability
	Keep   float64            // with From: share of the old plan's cost that a change must gain
}

// Solve plans. A fault of kind Invalid says what is wrong with the problem;
// there is always an answer to one that is well formed.
//
// As few loads as can be are left without a place; among such plans the
// objective is least. A load's lateness never speaks for leaving it out.
func Solve(p Problem, o Options) (Plan, error) {
	if err := p.Check(); err != nil {
		return Plan{}, err
	}
	m := compile(&p)
	s := solver{m: m, d: newDice(o.Seed), more: o.More, rounds: o.Rounds}
	if s.more == nil {
		s.more = func() bool { return true }
		if s.rounds == 0 {
			s.rounds = 1000
		}
	}
	var old *course
	if o.From != nil {
		old = s.warm(&p, o.From)
	}
	s.run()
	best, kept := s.best, (*Kept)(nil)
	if old != nil {
		var take bool
		if take, kept = s.worth(old, o.Keep); !take {
			best = old
		}
	}
	m.keepLags(best)
	out := m.report(&p, best, s.floor, s.proved && best.cost <= s.best.cost+tight(best.cost), s.done, o.From)
	out.Kept = kept
	return out, nil
}

// solver is the course of one search.
type solver struct {
	m      *model
	d      *dice
	more   func() bool
	rounds int
	seq    [][]int32 // to begin with
	best   *course
	floor  float64 // no plan costs less, as the model counts
	proved bool
	done   int
}

// course is a whole plan in the model's terms.
type course struct {
	cost   float64 // as the model counts: with what is left out
	booth  []int32 // by load; -1: no place
	start  []int64 // by load
	missed []bool  // by load
	task   []int64 // by task; never: not done
	seq    [][]int32
}

func (s *solver) run() {
	if s.seq == nil {
		s.seq = s.m.withRest(s.m.firstOrders())
	}
	s.floor = s.m.floor()
	if len(s.m.tasks) > 0 {
		s.runTasks()
		return
	}
	t := newTour(s.m, s.seq)
	l := newSearcher(s.m, t, s.d, s.more)
	n := len(s.m.free)
	floor := s.floor - s.m.base
	c := s.m.chainOf()
	if c == nil || n <= tableMost {
		s.done = l.iterate(s.opening(n), floor)
	}
	if l.best > floor+tight(floor) && n > 0 {
		s.proved = s.exact(l)
		rest := s.rounds
		if rest == 0 {
			rest = 1 << 40
		}
		switch {
		case s.proved:
		case c != nil:
			l.seq = s.runChain(c, l.seq, rest)
		default:
			t.load(l.seq)
			s.done += l.iterate(rest, floor)
		}
	}
	s.best = s.m.follow(l.seq)
	s.proved = s.proved || s.best.cost <= s.floor+tight(s.floor)
	if s.proved {
		s.floor = s.best.cost
	}
}

// opening is how many rounds the local search makes before the exact method
// is tried: enough for a good bound, few enough not to be what takes time.
func (s *solver) opening(n int) int {
	switch {
	case n <= 8:
		return 2
	case n <= 13:
		return 4
	case n <= 16:
		return 10
	case n <= tableMost:
		return 30
	}
	return 0
}

// exact tries to prove the best orders, or to find better ones and prove
// those.
func (s *solver) exact(l *searcher) bool {
	const most = 2_000_000
	n := len(s.m.free)
	if len(s.m.booths) == 1 {
		if n > tableMost {
			return false
		}
		x := newTable(s.m, 0, s.m.free, most, s.more)
		if len(x.colours)<<n > tableRoom {
			return false
		}
		q, ok := x.best(l.best)
		if q != nil {
			l.seq = [][]int32{x.withRest(q)}
		}
		return ok
	}
	if n > 13 || len(s.m.booths) > 2 && n > 11 {
		return false
	}
	seq, ok := s.m.division(l.best, most, s.more)
	if seq != nil {
		l.seq = s.m.withRest(seq)
	}
	return ok
}

// withRest puts loads that have no place at the end of an order, so that
// orders always hold all loads.
func (x *table) withRest(q []int32) []int32 { return x.m.withRest([][]int32{q})[0] }

func (m *model) withRest(seq [][]int32) [][]int32 {
	in := make([]bool, len(m.loads))
	for _, q := range seq {
		for _, j := range q {
			in[j] = true
		}
	}
	for _, j := range slices.Concat(m.free, m.marks) {
		if !in[j] {
			b := m.loads[j].booths[0]
			seq[b] = append(seq[b], j)
		}
	}
	return seq
}

// follow makes the plan of orders when there are no tasks.
func (m *model) follow(seq [][]int32) *course {
	c := m.blank(seq)
	for b, q := range seq {
		s := m.booths[b].first
		for _, j := range q {
			if m.loads[j].fixed >= 0 {
				m.mark(b, &s, j)
			} else if at := m.place(b, &s, j, 0); at < never {
				c.booth[j], c.start[j] = int32(b), at
			}
		}
	}
	m.price(c)
	return c
}

// blank is a plan with frozen loads only.
func (m *model) blank(seq [][]int32) *course {
	c := &course{
		booth: make([]int32, len(m.loads)), start: make([]int64, len(m.loads)),
		missed: make([]bool, len(m.loads)), task: make([]int64, len(m.tasks)), seq: seq,
	}
	for j := range m.loads {
		c.booth[j], c.start[j] = -1, never
		if l := &m.loads[j]; l.fixed >= 0 {
			c.booth[j], c.start[j] = l.fixed, l.at
		}
	}
	for k := range c.task {
		c.task[k] = never
	}
	return c
}

// price works out what is missed and what a plan costs.
func (m *model) price(c *course) {
	c.cost = 0
	for j := range m.loads {
		l := &m.loads[j]
		if c.booth[j] < 0 {
			c.missed[j] = true
			c.cost += m.none + l.miss
			continue
		}
		if late := c.start[j] - l.slackEnd; late > 0 {
			c.cost += l.weight * float64(late)
		}
		c.cost += l.waits(c.start[j])
		missed := c.start[j] > l.latest
		for _, k := range l.tasks {
			t := &m.tasks[k]
			if t.past {
				continue
			}
			if c.task[k] >= never {
				missed = true
				c.cost += m.none / float64(len(l.tasks))
				continue
			}
			missed = missed || c.start[j]-(c.task[k]+t.length) > t.maxLag
		}
		if c.missed[j] = missed; missed {
			c.cost += l.miss
		}
	}
}
