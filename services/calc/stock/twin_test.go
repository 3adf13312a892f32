package stock

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

var monday = time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)

// The dumb twin of the demand: for each period look through all uses.
func TestDemandedAgreesWithCounting(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		period := time.Duration(rapid.IntRange(1, 9).Draw(t, "days")) * 24 * time.Hour
		n := rapid.IntRange(2, 12).Draw(t, "periods")
		from := monday.Add(-time.Duration(rapid.IntRange(0, 23).Draw(t, "over")) * time.Hour)
		to := monday.Add(time.Duration(n) * period)
		uses := []Use{{to.Add(-time.Second), 1}}
		for range rapid.IntRange(0, 30).Draw(t, "uses") {
			uses = append(uses, Use{from.Add(time.Duration(rapid.IntRange(-20, 24*110).Draw(t, "at")) * time.Hour), float64(rapid.IntRange(0, 50).Draw(t, "ml"))})
		}
		var sums []float64
		for k := range n {
			sum := 0.0
			for _, u := range uses {
				if begin := monday.Add(time.Duration(k) * period); !u.At.Before(begin) && u.At.Before(begin.Add(period)) {
					sum += u.Amount
				}
			}
			sums = append(sums, sum)
		}
		mean, sd := stat.MeanStdDev(sums, nil)
		d, err := Demanded(uses, from, to, period)
		if err != nil || d.Periods != n || math.Abs(d.Mean-mean) > 1e-9 || math.Abs(d.SD-sd) > 1e-9 {
			t.Fatalf("%+v %v, counted %g %g", d, err, mean, sd)
		}
	})
}

// A shelf that is looked at all the time, by the hour: how often does a
// delivery come before it is empty, how much is met from it? The band is four
// standard errors of so many cycles, with a little for the hour's steps.
func TestServiceAgreesWithASimulatedShelf(t *testing.T) {
	for _, service := range []float64{0.8, 0.9, 0.95, 0.99} {
		for _, leadSD := range []float64{0, 1.5} {
			d, l := Demand{Mean: 40, SD: 9}, Lead{Mean: 5, SD: leadSD}
			p := must(ReorderPoint(d, l, service))
			const quantity, cycles, steps = 600, 4000, 48
			src := rand.New(rand.NewPCG(7, uint64(service*1000)+uint64(leadSD*10)))
			good, unmet, asked := 0, 0.0, 0.0
			shelf := p.At + quantity
			for range cycles {
				for shelf > p.At { // until it is ordered
					x := d.Mean/steps + d.SD/math.Sqrt(steps)*src.NormFloat64()
					shelf, asked = shelf-x, asked+x
				}
				lead := math.Max(0, l.Mean+l.SD*src.NormFloat64())
				x := d.Mean*lead + d.SD*math.Sqrt(lead)*src.NormFloat64()
				before := math.Max(0, shelf)
				asked += x
				if x <= shelf {
					good++
				} else {
					unmet += x - before
				}
				shelf += quantity - x
			}
			got := float64(good) / cycles
			band := 4*math.Sqrt(service*(1-service)/cycles) + 0.008
			near(t, "cycle service", got, service, band)
			near(t, "the formula back", must(CycleService(d, l, p.At)), service, 1e-9)
			fill := must(FillRate(d, l, p.At, quantity))
			near(t, "fill rate", 1-unmet/asked, fill, 0.004)
			if fill < service-0.2 || fill > 1 {
				t.Errorf("fill rate %g at service %g", fill, service)
			}
		}
	}
}

func TestPoissonPointAgreesWithAdding(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mean := rapid.Float64Range(0.01, 300).Draw(t, "mean")
		service := rapid.Float64Range(0.001, 0.999).Draw(t, "service")
		got := must(PoissonPoint(mean, service))
		sum, term, n := math.Exp(-mean), math.Exp(-mean), 0
		for sum < service-1e-12 {
			n++
			term *= mean / float64(n)
			sum += term
		}
		if got != n && math.Abs(sum-service) > 1e-9 {
			t.Fatalf("mean %g service %g: %d, by adding %d", mean, service, got, n)
		}
	})
}

// Every pair of levels, each pair's cost by solving its cycle one demand at a
// time.
func TestLevelsAgreeWithEveryPair(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mean, lead := rapid.Float64Range(0.2, 8).Draw(t, "mean"), rapid.IntRange(0, 2).Draw(t, "lead")
		c := Rates{Hold: rapid.Float64Range(0.5, 2).Draw(t, "hold"), Short: rapid.Float64Range(2, 12).Draw(t, "short"), Order: rapid.Float64Range(1, 40).Draw(t, "order")}
		s, up, cost, err := SS(mean, lead, c)
		if err != nil {
			t.Fatal(err)
		}
		best := math.Inf(1)
		until := mean * float64(lead+1)
		for hi := 0; hi < int(until)+60; hi++ {
			for lo := hi - 1; lo > hi-60 && lo > -20; lo-- {
				best = math.Min(best, cycleCost(mean, until, c, lo, hi))
			}
		}
		if math.Abs(cost-best) > 1e-6*best {
			t.Fatalf("s=%d S=%d cost %g, best of all pairs %g", s, up, cost, best)
		}
		if again := cycleCost(mean, until, c, s, up); math.Abs(again-cost) > 1e-6*cost {
			t.Fatalf("s=%d S=%d cost %g, by its cycle %g", s, up, cost, again)
		}
	})
}

// cycleCost is the cost of a cycle over its length, both by first-step
// equations from the lowest level up.
func cycleCost(mean, until float64, c Rates, s, up int) float64 {
	p := poissonTerms(mean, up-s+1)
	length, total := make([]float64, up-s+1), make([]float64, up-s+1)
	for k := 1; k <= up-s; k++ { // level s + k
		length[k], total[k] = 1, expectedRate(until, c, s+k)
		for j := 1; j < k; j++ {
			length[k] += p[j] * length[k-j]
			total[k] += p[j] * total[k-j]
		}
		length[k] /= 1 - p[0]
		total[k] /= 1 - p[0]
	}
	return (c.Order + total[up-s]) / length[up-s]
}

func poissonTerms(mean float64, n int) []float64 {
	p := []float64{math.Exp(-mean)}
	for k := 1; k < n; k++ {
		p = append(p, p[k-1]*mean/float64(k))
	}
	return p
}

var rateOf = map[[4]float64]float64{}

func expectedRate(mean float64, c Rates, y int) float64 {
	key := [4]float64{mean, c.Hold, c.Short, float64(y)}
	if x, ok := rateOf[key]; ok {
		return x
	}
	sum := 0.0
	for d, p := range poissonTerms(mean, int(mean)+80) {
		if y >= d {
			sum += p * c.Hold * float64(y-d)
		} else {
			sum += p * c.Short * float64(d-y)
		}
	}
	rateOf[key] = sum
	return sum
}

// No point and quantity near the ones found cost less, and the cost is the
// mean of the cost rate by strips.
func TestPointAndQuantityAreTheLeast(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := Demand{Mean: rapid.Float64Range(10, 2000).Draw(t, "mean")}
		d.SD = d.Mean * rapid.Float64Range(0.05, 0.5).Draw(t, "sd")
		l := Lead{Mean: rapid.Float64Range(0.05, 3).Draw(t, "lead"), SD: rapid.Float64Range(0, 0.5).Draw(t, "lead sd")}
		c := Rates{Hold: rapid.Float64Range(0.1, 3).Draw(t, "hold"), Short: rapid.Float64Range(1, 30).Draw(t, "short"), Order: rapid.Float64Range(1, 100).Draw(t, "order")}
		r, q, cost, err := RQ(d, l, c)
		if err != nil {
			t.Fatal(err)
		}
		for _, dr := range []float64{-0.2, -0.01, 0, 0.01, 0.2} {
			for _, dq := range []float64{-0.2, -0.01, 0, 0.01, 0.2} {
				if other := must(RQCost(d, l, c, r+dr*q, q*(1+dq))); other < cost*(1-1e-9) {
					t.Fatalf("r=%g Q=%g cost %g; r=%g Q=%g cost %g", r, q, cost, r+dr*q, q*(1+dq), other)
				}
			}
		}
		u := must(until(d, l))
		sum, n := 0.0, 2000
		for i := range n {
			y := r + q*(float64(i)+0.5)/float64(n)
			short := u.SD*distuv.UnitNormal.Prob((y-u.During)/u.SD) - (y-u.During)*distuv.UnitNormal.Survival((y-u.During)/u.SD)
			sum += (c.Hold*(y-u.During+short) + c.Short*short) / float64(n)
		}
		if by := c.Order*d.Mean/q + sum; math.Abs(by-cost) > 1e-4*cost {
			t.Fatalf("cost %g, by strips %g", cost, by)
		}
	})
}
