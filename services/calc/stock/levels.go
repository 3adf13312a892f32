package stock

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// levels is periodic review of Poisson demand in whole units.
type levels struct {
	c     Rates
	mean  float64        // demand of a period
	until distuv.Poisson // demand of the review period and the lead time
	p     []float64      // of a period's demand, as far as it counts
	renew []float64      // m(j): expected visits to j units below the start
	sums  []float64      // M(j) = m(0) + ... + m(j-1)
}

// SS finds the reorder point s and the order-up-to level S that cost the least
// per period when stock is looked at once a period, demand of a period is
// Poisson and orders take lead whole periods (0: they are there before its
// demand): order up to S when the position is at s or below. The algorithm and
// its cost are those of Zheng and Federgruen, Operations Research 39 (1991).
// The mean may be above 0 to 1000.
func SS(mean float64, lead int, c Rates) (s, upTo int, cost float64, err error) {
	if err := first(c.validate(), checkLevels(mean, lead)); err != nil {
		return 0, 0, 0, err
	}
	l := newLevels(mean, lead, c)
	low := l.least()
	s = low - 1
	for l.cost(s, low) > l.rate(s) {
		if s--; low-s > maxLevels {
			return 0, 0, 0, errUnlike
		}
	}
	upTo, cost = low, l.cost(s, low)
	for next := low + 1; l.rate(next) <= cost; next++ {
		if next-s > maxLevels {
			return 0, 0, 0, errUnlike
		}
		if l.cost(s, next) >= cost {
			continue
		}
		upTo = next
		for l.cost(s, upTo) <= l.rate(s+1) {
			s++
		}
		cost = l.cost(s, upTo)
	}
	return s, upTo, cost, nil
}

// SSCost is what ordering up to upTo at s or below costs per period; see [SS].
func SSCost(mean float64, lead int, c Rates, s, upTo int) (float64, error) {
	if err := first(c.validate(), checkLevels(mean, lead)); err != nil {
		return 0, err
	}
	if upTo <= s || upTo-s > maxLevels || s < -maxLevels || s > maxLevels {
		return 0, errLevels(s, upTo)
	}
	return newLevels(mean, lead, c).cost(s, upTo), nil
}

func newLevels(mean float64, lead int, c Rates) *levels {
	l := &levels{c: c, mean: mean, until: distuv.Poisson{Lambda: mean * float64(lead+1)}, sums: []float64{0}}
	demand := distuv.Poisson{Lambda: mean}
	for i := range int(mean+20*math.Sqrt(mean)) + 50 { // beyond it nothing that a sum would notice
		l.p = append(l.p, demand.Prob(float64(i)))
	}
	return l
}

// least is the level whose next period costs the least.
func (l *levels) least() int {
	y := int(math.Floor(l.until.Lambda))
	for l.rate(y+1) < l.rate(y) {
		y++
	}
	for l.rate(y-1) <= l.rate(y) {
		y--
	}
	return y
}

// rate is the expected cost of keeping and of being short behind a position
// y: h E[(y - D)+] + p E[(D - y)+].
func (l *levels) rate(y int) float64 {
	m := l.until.Lambda
	short, kept := m-float64(y), 0.0
	if y > 0 {
		// E[(D - y)+] = (m - y) P(D >= y) + m p(y - 1), which is m - y for y <= 0.
		short = math.Max(0, (m-float64(y))*(1-l.until.CDF(float64(y-1)))+m*l.until.Prob(float64(y-1)))
		kept = math.Max(0, float64(y)-m+short)
	}
	return l.c.Hold*kept + l.c.Short*short
}

// cost is the cost per period between two orders: (K + Σ m(j) G(S - j)) / M(S -
// s).
func (l *levels) cost(s, upTo int) float64 {
	n := upTo - s
	l.grow(n)
	sum := l.c.Order
	for j := range n {
		sum += l.renew[j] * l.rate(upTo-j)
	}
	return sum / l.sums[n]
}

// grow reckons the renewal function up to n: m(j) = Σ p(i) m(j - i), m(0) = 1 /
// (1 - p(0)).
func (l *levels) grow(n int) {
	some := -math.Expm1(-l.mean) // 1 - p(0), with the digits of a small mean
	for j := len(l.renew); j < n; j++ {
		m := 1.0
		if j > 0 {
			m = 0
			for i := 1; i <= min(j, len(l.p)-1); i++ {
				m += l.p[i] * l.renew[j-i]
			}
		}
		l.renew = append(l.renew, m/some)
		l.sums = append(l.sums, l.sums[j]+m/some)
	}
}
