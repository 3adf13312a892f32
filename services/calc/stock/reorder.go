package stock

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"

	"seamwright/services/fault"
)

// Lead is the time from an order to its delivery, in periods of the demand.
type Lead struct {
	Mean   float64
	SD     float64 // 0: it never varies
	Review float64 // periods between two looks at the stock; 0: it is looked at all the time
}

func (l Lead) validate() error {
	if err := above("lead.mean", l.Mean, "give the days that a delivery takes"); err != nil {
		return err
	}
	return first(notBelow("lead.sd", l.SD), notBelow("lead.review", l.Review))
}

// Point is a reorder point and what it is made of.
type Point struct {
	At     float64 // order when stock and what is on order have fallen to it
	During float64 // expected use until the delivery
	Safety float64 // the rest
	SD     float64 // standard deviation of the use until the delivery
	Z      float64
}

// Z is the standard normal quantile of a service level above 0 and under 1.
func Z(service float64) (float64, error) {
	if err := checkService(service); err != nil {
		return 0, err
	}
	return mathext.NormalQuantile(service), nil
}

// Service is the inverse of [Z].
func Service(z float64) float64 { return distuv.UnitNormal.CDF(z) }

func checkService(s float64) error {
	if s > 0 && s < 1 {
		return nil
	}
	return fault.Bad("service", s, "above 0 and under 1, like 0.95; all that may be asked for takes endless stock")
}

// ReorderPoint is d L + z √(L sd² + d² sL²) for demand d with standard
// deviation sd per period and a lead time L with standard deviation sL; looked
// at every R periods, R is added to L. (Snyder and Shen, section 4.3 for L + R;
// the variable lead time as in Chopra and Meindl, Supply Chain Management,
// chapter on safety inventory.) Below service 0.5 the safety stock is negative.
func ReorderPoint(d Demand, l Lead, service float64) (Point, error) {
	z, err := Z(service)
	if err != nil {
		return Point{}, err
	}
	p, err := until(d, l)
	if err != nil {
		return Point{}, err
	}
	p.Z, p.Safety = z, z*p.SD
	p.At = p.During + p.Safety
	return p, nil
}

// until is the use until a delivery.
func until(d Demand, l Lead) (Point, error) {
	if err := first(d.validate(), l.validate()); err != nil {
		return Point{}, err
	}
	t := l.Mean + l.Review
	return Point{During: d.Mean * t, SD: math.Sqrt(t*d.SD*d.SD + d.Mean*d.Mean*l.SD*l.SD)}, nil
}

// CycleService is the chance that a delivery comes before the shelf is empty
// when it is ordered at a point: Φ((point - d L) / sd). With no deviation at all
// it is 0 or 1.
func CycleService(d Demand, l Lead, point float64) (float64, error) {
	if err := notBelow("point", point); err != nil {
		return 0, err
	}
	p, err := until(d, l)
	if err != nil {
		return 0, err
	}
	if p.SD == 0 {
		if point >= p.During {
			return 1, nil
		}
		return 0, nil
	}
	return Service((point - p.During) / p.SD), nil
}

// FillRate is the share of demand that is met from the shelf when quantity is
// ordered at a point: 1 - (n(r) - n(r + Q)) / Q, n being the expected shortage
// of normal demand over the lead time (Snyder and Shen, section 5.3).
func FillRate(d Demand, l Lead, point, quantity float64) (float64, error) {
	if err := first(notBelow("point", point), above("quantity", quantity, "give what is ordered at a time")); err != nil {
		return 0, err
	}
	p, err := until(d, l)
	if err != nil {
		return 0, err
	}
	return 1 - (p.shortage(point)-p.shortage(point+quantity))/quantity, nil
}

// shortage is E[(D - y)+] of the normal demand until the delivery.
func (p Point) shortage(y float64) float64 {
	if p.SD == 0 {
		return math.Max(0, p.During-y)
	}
	z := (y - p.During) / p.SD
	return p.SD * (distuv.UnitNormal.Prob(z) - z*distuv.UnitNormal.CDF(-z))
}

// maxPoisson is the largest mean that whole units are counted up for; above
// it normal demand is as good.
const maxPoisson = 1e5

// PoissonPoint is the least whole number that Poisson demand of that mean over
// the lead time stays at or below with the chance asked for.
func PoissonPoint(mean, service float64) (int, error) {
	if err := checkPoisson("mean", mean); err != nil {
		return 0, err
	}
	if err := checkService(service); err != nil {
		return 0, err
	}
	// The normal quantile is near; the sum decides.
	p := distuv.Poisson{Lambda: mean}
	y := math.Max(0, math.Floor(mean+mathext.NormalQuantile(service)*math.Sqrt(mean)))
	for y > 0 && p.CDF(y-1) >= service {
		y--
	}
	for p.CDF(y) < service {
		if y > mean+50*math.Sqrt(mean)+50 { // the sum rounds to a hair below
			break
		}
		y++
	}
	return int(y), nil
}

func checkPoisson(field string, mean float64) error {
	if mean > 0 && mean <= maxPoisson {
		return nil
	}
	return fault.Bad(field, mean, "above 0 to 100000; for more take normal demand")
}
