package stock

import (
	"fmt"
	"math"

	"seamwright/services/fault"
)

// EOQ is the quantity that makes ordering and keeping cost the least, and what
// both cost per period: √(2 K d / h) and √(2 K d h) for demand d per period, an
// order's cost K and the cost h of keeping one unit for a period (Snyder and
// Shen, section 3.2).
func EOQ(demand, order, hold float64) (quantity, cost float64, err error) {
	err = first(
		above("demand", demand, "without demand nothing is ordered"),
		above("order_cost", order, "give what one order costs, delivery included"),
		above("hold_cost", hold, "give what keeping one unit for a period costs"),
	)
	if err != nil {
		return 0, 0, err
	}
	return math.Sqrt(2 * order * demand / hold), math.Sqrt(2 * order * demand * hold), nil
}

// Pack fits a quantity to what the supplier sells: whole packs, not under the
// minimum. Common practice, no source.
func Pack(quantity float64, pack, minimum int) (int, error) {
	if err := notBelow("quantity", quantity); err != nil {
		return 0, err
	}
	if pack < 1 || pack > 1_000_000 {
		return 0, fault.Bad("pack", pack, "from 1 to 1000000; 1 when single ones are sold")
	}
	if minimum < 0 || minimum > 1_000_000_000 {
		return 0, fault.Bad("minimum", minimum, "from 0 to 1000000000; 0 when there is none")
	}
	const slack = 1e-9
	n := math.Ceil(math.Max(quantity, float64(minimum))/float64(pack) - slack)
	return int(n) * pack, nil
}

// CriticalRatio is the service level that costs ask for: short / (short +
// hold), the cost of being one short against that of keeping one (Snyder and
// Shen, section 4.3).
func CriticalRatio(hold, short float64) (float64, error) {
	err := first(
		above("hold_cost", hold, "give what keeping one unit for a period costs"),
		above("short_cost", short, "give what being one unit short for a period costs"),
	)
	if err != nil {
		return 0, err
	}
	return short / (hold + short), nil
}

// Policy is how a product is ordered.
type Policy struct {
	Service   float64 // cycle service level
	Lead      Lead
	Poisson   bool    // slow movers: whole units, Poisson demand
	OrderCost float64 // 0: not known
	HoldCost  float64 // of one unit for a period; 0: not known
	Cover     float64 // periods that an order lasts where costs are not known
	Keeps     float64 // periods of shelf life; 0: keeps. No more is ordered than is used in it
	Pack      int
	Minimum   int
}

// Advice says whether and how much to order, in whole units.
type Advice struct {
	Point    int // order at or below it
	Safety   float64
	During   float64 // expected use until the delivery
	Quantity int     // what one order is
	Order    int     // to be ordered now; 0: nothing
	Why      string
	Shelf    bool // the quantity was cut to what is used within the shelf life
}

// Advise puts reorder point and quantity together for a product of which so
// many units are in stock and on order (position).
func Advise(d Demand, p Policy, position float64) (Advice, error) {
	if math.IsNaN(position) || math.Abs(position) > maxAmount {
		return Advice{}, fault.Bad("position", position, "stock and what is on order; count again")
	}
	pt, err := ReorderPoint(d, p.Lead, p.Service)
	if err != nil {
		return Advice{}, err
	}
	if p.Poisson {
		n, err := PoissonPoint(pt.During, p.Service)
		if err != nil {
			return Advice{}, err
		}
		pt.At, pt.Safety = float64(n), float64(n)-pt.During
	}
	a := Advice{Point: int(math.Ceil(math.Max(0, pt.At) - 1e-9)), Safety: pt.Safety, During: pt.During}
	if err := a.size(d, p, pt); err != nil {
		return Advice{}, err
	}
	a.Why = fmt.Sprintf("%.4g in stock and on order, more than %d", position, a.Point)
	if position <= float64(a.Point) {
		a.Order = a.Quantity
		if short := float64(a.Point) - position; short > 0 { // catch up with the point first
			if a.Order, err = Pack(float64(a.Quantity)+short, p.Pack, p.Minimum); err != nil {
				return Advice{}, err
			}
		}
		a.Why = fmt.Sprintf("%.4g in stock and on order, %d or less: until a delivery %.3g are used and %.3g are kept for safety",
			position, a.Point, a.During, a.Safety)
	}
	return a, nil
}

// size settles what one order is.
func (a *Advice) size(d Demand, p Policy, pt Point) error {
	var q float64
	switch {
	case p.OrderCost > 0 && p.HoldCost > 0:
		var err error
		if q, _, err = EOQ(d.Mean, p.OrderCost, p.HoldCost); err != nil {
			return err
		}
	case p.Cover > 0 && p.Cover <= maxAmount:
		q = d.Mean * p.Cover
	default:
		return fault.Bad("cover", p.Cover, "above 0 where the costs of ordering and keeping are not known; say how long an order is to last")
	}
	if err := notBelow("keeps", p.Keeps); err != nil {
		return err
	}
	// What comes in lies behind the safety stock: it must be used up in its life.
	if most := d.Mean*p.Keeps - math.Max(0, pt.Safety); p.Keeps > 0 && q > most {
		q, a.Shelf = math.Max(0, most), true
	}
	n, err := Pack(math.Max(1, q), p.Pack, p.Minimum)
	a.Quantity = n
	return err
}
