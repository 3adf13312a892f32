package plan

import (
	"math"
	"slices"
	"time"
)

// The twins know no methods. The first tries every order and division of the
// loads; the second, for tiny problems, every moment for everything.

// worth is what a plan is compared by: loads left out first, then cost.
type worth struct {
	left int
	cost float64
}

func (a worth) less(b worth) bool {
	return a.left < b.left || a.left == b.left && a.cost < b.cost-1e-9
}

// byOrders is the best of all orders in which loads without tasks can be put
// into booths, frozen ones in their places, any of the others left out.
func byOrders(p *Problem) worth {
	best := worth{math.MaxInt, 0}
	n := len(p.Loads)
	used := make([]bool, n)
	var booth func(b int, now worth)
	var next func(b int, free time.Time, colour string, behindFree bool, now worth)
	booth = func(b int, now worth) {
		if b < len(p.Booths) {
			next(b, p.Start, p.Booths[b].Colour, false, now)
			return
		}
		for j := range p.Loads {
			if !used[j] {
				if p.Loads[j].Frozen != nil {
					return
				}
				now.left++
				now.cost += p.Loads[j].MissCost
			}
		}
		if now.less(best) {
			best = now
		}
	}
	next = func(b int, free time.Time, colour string, behindFree bool, now worth) {
		if !now.less(best) {
			return
		}
		booth(b+1, now)
		for j := range p.Loads {
			l := &p.Loads[j]
			if used[j] || !slices.Contains(l.Booths, p.Booths[b].ID) {
				continue
			}
			at := free.Add(p.Setups[colour][l.Colour])
			if f := l.Frozen; f != nil {
				if f.Booth != p.Booths[b].ID || behindFree && at.After(f.Start) || f.Start.Before(free) && free.After(p.Start) {
					continue
				}
				at = f.Start
			} else if at = earliest(p.Booths[b].Open, later(at, l.Release), l.Process); at.IsZero() {
				continue
			}
			used[j] = true
			end, c := at.Add(l.Process), worth{now.left, now.cost + price(l, at)}
			if end.After(p.Start) {
				next(b, later(end, free), l.Colour, l.Frozen == nil, c)
			} else {
				next(b, free, colour, behindFree, c)
			}
			used[j] = false
		}
	}
	booth(0, worth{})
	return best
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

func earliest(open []Interval, from time.Time, d time.Duration) time.Time {
	for _, o := range open {
		if s := later(o.From, from); !s.Add(d).After(o.To) {
			return s
		}
	}
	return time.Time{}
}

func price(l *Load, at time.Time) float64 {
	c := l.Wait * max(0, at.Sub(monday).Minutes())
	if x := at.Add(l.Process + l.Tail).Sub(l.Due).Minutes(); !l.Due.IsZero() && x > 0 {
		c += l.Weight * x
	}
	if !l.LatestStart.IsZero() && at.After(l.LatestStart) {
		c += l.MissCost
	}
	return c
}
