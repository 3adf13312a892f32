package stock

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"seamwright/services/fault"
)

// Rates are what it costs to keep a unit and to be one short, each for a
// period, and to order.
type Rates struct {
	Hold  float64
	Short float64
	Order float64
}

func (c Rates) validate() error {
	return first(
		above("hold_cost", c.Hold, "give what keeping one unit for a period costs"),
		above("short_cost", c.Short, "give what being one unit short for a period costs"),
		above("order_cost", c.Order, "give what one order costs"),
	)
}

// NewsvendorCost is the least expected cost of a period when stock is filled
// up once for it, for normal demand: (h + p) sd φ(z) (Snyder and Shen, section
// 4.3).
func NewsvendorCost(d Demand, hold, short float64) (float64, error) {
	ratio, err := CriticalRatio(hold, short)
	if err != nil {
		return 0, err
	}
	if err := d.validate(); err != nil {
		return 0, err
	}
	z, err := Z(ratio)
	return (hold + short) * d.SD * distuv.UnitNormal.Prob(z), err
}

// RQCost is what ordering quantity at point costs per period, normal demand
// over the lead time, stock looked at all the time: (K d + ∫ g) / Q with g(y) = h
// E[(y - D)+] + p E[(D - y)+] from r to r + Q (Snyder and Shen, section 5.2).
func RQCost(d Demand, l Lead, c Rates, point, quantity float64) (float64, error) {
	if err := first(c.validate(), above("quantity", quantity, "give what is ordered at a time")); err != nil {
		return 0, err
	}
	if math.IsNaN(point) || math.Abs(point) > maxAmount {
		return 0, fault.Bad("point", point, "a finite number; correct it")
	}
	u, err := until(d, l)
	if err != nil {
		return 0, err
	}
	if u.SD == 0 {
		return 0, fault.Bad("demand.sd", d.SD, "above 0; without deviation take EOQ and the use over the lead time")
	}
	return u.rqCost(d.Mean, c, point, quantity), nil
}

func (p Point) rqCost(demand float64, c Rates, r, q float64) float64 {
	kept := ((r+q-p.During)*(r+q-p.During) - (r-p.During)*(r-p.During)) / 2
	return (c.Order*demand + c.Hold*kept + (c.Hold+c.Short)*(p.shortages(r)-p.shortages(r+q))) / q
}

// shortages is the integral of the shortage from y up: sd² ((z² + 1) Φ(-z) - z
// φ(z)) / 2, the second loss function of normal demand.
func (p Point) shortages(y float64) float64 {
	z := (y - p.During) / p.SD
	return p.SD * p.SD * ((z*z+1)*distuv.UnitNormal.CDF(-z) - z*distuv.UnitNormal.Prob(z)) / 2
}

// rate is g, what a stock level costs per period.
func (p Point) rate(c Rates, y float64) float64 {
	n := p.shortage(y)
	return c.Hold*(y-p.During+n) + c.Short*n
}

// RQ finds the point and the quantity that together cost the least per period
// for normal demand: where g(r) = g(r + Q) = the cost (Zheng, Management Science
// 38 (1992); Snyder and Shen, section 5.2).
func RQ(d Demand, l Lead, c Rates) (point, quantity, cost float64, err error) {
	if err := first(c.validate(), above("demand.mean", d.Mean, "without demand nothing is ordered")); err != nil {
		return 0, 0, 0, err
	}
	u, err := until(d, l)
	if err != nil {
		return 0, 0, 0, err
	}
	if u.SD == 0 {
		return 0, 0, 0, fault.Bad("demand.sd", d.SD, "above 0; without deviation take EOQ and the use over the lead time")
	}
	z, err := Z(c.Short / (c.Hold + c.Short))
	if err != nil {
		return 0, 0, 0, err
	}
	best := u.During + z*u.SD // least of g
	// H(Q) = g(r(Q)) grows with Q, and the cost is least where it meets it.
	wide := math.Sqrt(2*c.Order*d.Mean*(c.Hold+c.Short)/(c.Hold*c.Short)) + u.SD
	low, high := 0.0, wide
	excess := func(q float64) float64 {
		r := u.balance(c, best, q)
		return u.rate(c, r) - u.rqCost(d.Mean, c, r, q)
	}
	for i := 0; excess(high) < 0 && i < 100; i++ {
		low, high = high, 2*high
	}
	quantity = bisect(low, high, excess)
	point = u.balance(c, best, quantity)
	if cost = u.rqCost(d.Mean, c, point, quantity); !(math.Abs(point)+quantity+math.Abs(cost) <= maxAmount) {
		return 0, 0, 0, errUnlike
	}
	return point, quantity, cost, nil
}

// errUnlike is for costs that no shop has together.
var errUnlike = fault.New(fault.Invalid, "costs-unlike", "The costs of ordering, of keeping and of being short are too unlike to be weighed up.", "check their units")

// balance is the r with g(r) = g(r + q).
func (p Point) balance(c Rates, best, q float64) float64 {
	return bisect(best-q, best, func(r float64) float64 { return p.rate(c, r+q) - p.rate(c, r) })
}

// bisect finds where a rising function crosses 0, to the last bits.
func bisect(low, high float64, f func(float64) float64) float64 {
	for range 200 {
		mid := low + (high-low)/2
		if mid <= low || mid >= high {
			break
		}
		if f(mid) < 0 {
			low = mid
		} else {
			high = mid
		}
	}
	return low + (high-low)/2
}
