package plan

import (
	"slices"

	"seamwright/services/fault"
)

// Project is the problem of activities with least and greatest lags between
// their starts and shared resources, to be over soonest (RCPSP/max). It is the
// crews' part of a booth plan in its plainest form, solved the same way: the
// least solution of the lags, then branching on who of too many goes first.
// Published benchmarks are of this form.
type Project struct {
	Length []int64
	Lags   []Lag
	Need   [][]int // by activity and resource
	Have   []int   // by resource
}

// Lag says that To starts no earlier than the start of From and Least more; a
// negative Least is a greatest lag from To to From.
type Lag struct {
	From, To int
	Least    int64
}

// Schedule answers a Project.
type Schedule struct {
	Start    []int64 // nil: none was found
	Makespan int64   // until the last activity ends
	Proved   bool    // no shorter one exists; without Start: none exists
	Nodes    int
}

type projector struct {
	p     *Project
	n     int
	more  func() bool
	stop  bool
	nodes int
	best  []int64
	ub    int64 // makespan to beat
}

// far is the distance of activities that no lag ties.
const far = -(int64(1) << 50)

// Solve finds the shortest schedule.
func (p Project) Solve(o Options) (Schedule, error) {
	n := len(p.Length)
	if n == 0 || n > 500 || len(p.Need) != n {
		return Schedule{}, fault.Bad("length", n, "1 to 500 activities, each with its needs")
	}
	x := &projector{p: &p, n: n, more: o.More}
	if x.more == nil {
		x.more = func() bool { return true }
	}
	d := slices.Repeat([]int64{far}, n*n)
	x.ub = 1
	for i := range n {
		d[i*n+i] = 0
		if p.Length[i] < 0 || p.Length[i] > maxSingle/1000 || len(p.Need[i]) != len(p.Have) {
			return Schedule{}, fault.Bad("length", p.Length[i], "from 0, with a need for each resource")
		}
		x.ub += p.Length[i]
		for r, q := range p.Need[i] {
			if q < 0 {
				return Schedule{}, fault.Bad("need", q, "from 0")
			}
			if q > p.Have[r] && p.Length[i] > 0 {
				return Schedule{Proved: true}, nil
			}
		}
	}
	for _, l := range p.Lags {
		if l.From < 0 || l.From >= n || l.To < 0 || l.To >= n || l.Least > maxSingle/1000 || l.Least < -maxSingle/1000 {
			return Schedule{}, fault.Bad("lags", l, "between activities of the project")
		}
		d[l.From*n+l.To] = max(d[l.From*n+l.To], l.Least)
		x.ub += max(l.Least, 0)
	}
	for k := range n {
		for i := range n {
			if d[i*n+k] > far {
				for j := range n {
					if d[k*n+j] > far {
						d[i*n+j] = max(d[i*n+j], d[i*n+k]+d[k*n+j])
					}
				}
			}
		}
	}
	for i := range n {
		if d[i*n+i] > 0 {
			return Schedule{Proved: true}, nil
		}
	}
	x.search(d)
	s := Schedule{Start: x.best, Proved: !x.stop, Nodes: x.nodes}
	if x.best != nil {
		s.Makespan = x.ub
	}
	return s, nil
}

// tie adds a lag to a closed matrix of distances; false: it makes a circle
// that nothing can keep.
func (x *projector) tie(d []int64, i, j int, least int64) bool {
	n := x.n
	if d[j*n+i] > far && d[j*n+i]+least > 0 {
		return false
	}
	if d[i*n+j] >= least {
		return true
	}
	for a := range n {
		to := d[a*n+i]
		if to <= far {
			continue
		}
		for b := range n {
			if d[j*n+b] > far {
				d[a*n+b] = max(d[a*n+b], to+least+d[j*n+b])
			}
		}
	}
	return true
}

// starts are the earliest that the distances allow.
func (x *projector) starts(d []int64) ([]int64, int64) {
	s := make([]int64, x.n)
	end := int64(0)
	for i := range x.n {
		for a := range x.n {
			s[i] = max(s[i], d[a*x.n+i])
		}
		end = max(end, s[i]+x.p.Length[i])
	}
	return s, end
}

func (x *projector) search(d []int64) {
	x.nodes++
	if x.stop = x.stop || x.nodes&15 == 0 && !x.more(); x.stop {
		return
	}
	s, end := x.starts(d)
	if end >= x.ub {
		return
	}
	set := x.clash(s)
	if set == nil {
		x.best, x.ub = s, end
		return
	}
	type kid struct {
		d        []int64
		end, sum int64
	}
	var kids []kid
	for _, i := range set {
		for _, j := range set {
			if i == j {
				continue
			}
			k := slices.Clone(d)
			if !x.tie(k, i, j, x.p.Length[i]) {
				continue
			}
			s, end := x.starts(k)
			sum := int64(0)
			for _, t := range s {
				sum += t
			}
			if end < x.ub {
				kids = append(kids, kid{k, end, sum})
			}
		}
	}
	slices.SortStableFunc(kids, func(a, b kid) int {
		if a.end != b.end {
			return int(a.end - b.end)
		}
		return int(max(-1, min(1, a.sum-b.sum)))
	})
	for _, k := range kids {
		if k.end < x.ub {
			x.search(k.d)
		}
	}
}

// clash finds activities that are at work at once and need more of a resource
// than there is, none of them needless for that; of several such sets one of
// the fewest.
func (x *projector) clash(s []int64) []int {
	var best []int
	p := x.p
	for r := range p.Have {
		for i := range x.n {
			if p.Need[i][r] == 0 || p.Length[i] == 0 {
				continue
			}
			var set []int
			sum := 0
			for j := range x.n {
				if p.Need[j][r] > 0 && s[j] <= s[i] && s[i] < s[j]+p.Length[j] {
					set = append(set, j)
					sum += p.Need[j][r]
				}
			}
			if sum <= p.Have[r] {
				continue
			}
			slices.SortStableFunc(set, func(a, b int) int { return p.Need[b][r] - p.Need[a][r] })
			sum = 0
			for k, j := range set {
				if sum += p.Need[j][r]; sum > p.Have[r] {
					set = set[:k+1]
					break
				}
			}
			if best == nil || len(set) < len(best) {
				best = set
			}
		}
	}
	return best
}
