package cure

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
)

// rule is a Gauss-Legendre rule on [-1, 1].
type rule struct {
	x, w []float64
	upTo float64 // half-range of the exponent for which the rule is exact to 1e-11
}

// The integrand is exp of a nearly linear function. With n nodes the relative
// error over an exponent that swings by ±c is about
// c^(2n) 2^(2n+1) (n!)^4 / ((2n+1) ((2n)!)^3), the remainder term of the rule
// (Abramowitz and Stegun 25.4.30, from memory): 6e-5 c^6, 8e-10 c^10 and
// 2e-18 c^16 for these three.
var rules = [...]rule{newRule(3, 0.05), newRule(5, 0.5), newRule(8, 1.5)}

func newRule(n int, upTo float64) rule {
	r := rule{x: make([]float64, n), w: make([]float64, n), upTo: upTo}
	quad.Legendre{}.FixedLocations(r.x, r.w, -1, 1)
	return r
}

// over integrates the rate along a straight piece of dt seconds from c0 to c1
// (°C); the result is in seconds at the reference temperature.
func (l Law) over(side Side, dt, c0, c1 float64) float64 {
	if dt <= 0 {
		return 0
	}
	if c0 == c1 {
		return dt * l.Rate(c0, side)
	}
	cuts, n := l.cuts(side, c0, c1)
	var sum float64
	for i := 1; i < n; i++ {
		u, v := cuts[i-1], cuts[i]
		sum += l.part(side, dt*(v-u), c0+(c1-c0)*u, c0+(c1-c0)*v)
	}
	return sum
}

// reach finds the first moment (s after the piece's start, at most dt) at
// which the integral along the piece equals amount.
func (l Law) reach(side Side, dt, c0, c1, amount float64) float64 {
	if amount <= 0 {
		return 0
	}
	cuts, n := l.cuts(side, c0, c1)
	for i := 1; i < n; i++ {
		u, v := cuts[i-1], cuts[i]
		cu, cv, d := c0+(c1-c0)*u, c0+(c1-c0)*v, dt*(v-u)
		got := l.part(side, d, cu, cv)
		if got >= amount {
			return math.Min(dt, dt*u+l.root(side, d, cu, cv, amount, got))
		}
		amount -= got
	}
	return dt
}

// root solves for the moment inside a smooth part whose whole integral is
// total: Newton's method, kept inside a shrinking bracket.
func (l Law) root(side Side, dt, c0, c1, amount, total float64) float64 {
	lo, hi := 0.0, dt
	t := dt * amount / total
	for range 60 {
		c := c0 + (c1-c0)*t/dt
		miss := l.part(side, t, c0, c) - amount
		if miss > 0 {
			hi = t
		} else {
			lo = t
		}
		next := t - miss/l.smooth(side, c, (c0+c1)/2)
		if !(next > lo && next < hi) {
			next = lo + (hi-lo)/2
		}
		if math.Abs(next-t) < 1e-10 {
			return next
		}
		t = next
	}
	return t
}

// cuts lists the fractions of a straight piece between which the rate is
// smooth: 0, where it crosses the least or the reference temperature, 1.
func (l Law) cuts(side Side, c0, c1 float64) ([4]float64, int) {
	cuts, n := [4]float64{0}, 1
	add := func(c float64) {
		if f := (c - c0) / (c1 - c0); f > 0 && f < 1 {
			cuts[n] = f
			n++
		}
	}
	if c0 != c1 {
		if l.hasMin && side != Hot {
			add(l.minC)
		}
		if l.lowJ != l.highJ && side != Nominal {
			add(l.refC)
		}
		if n == 3 && cuts[1] > cuts[2] {
			cuts[1], cuts[2] = cuts[2], cuts[1]
		}
	}
	cuts[n] = 1
	return cuts, n + 1
}

// part integrates over a piece without inner breaks.
func (l Law) part(side Side, dt, c0, c1 float64) float64 {
	mid := (c0 + c1) / 2
	if dt <= 0 || l.stalls(mid, side) {
		return 0
	}
	t0, t1 := c0+ZeroCelsius, c1+ZeroCelsius
	if t0 <= 0 || t1 <= 0 {
		return 0
	}
	b, ref := l.energy(mid, side)/GasConstant, 1/(l.refC+ZeroCelsius)
	half := b * math.Abs(1/t0-1/t1) / 2
	for i := range rules {
		if half <= rules[i].upTo {
			return rules[i].integrate(b, ref, dt, t0, t1)
		}
	}
	n := int(math.Ceil(half))
	step := (t1 - t0) / float64(n)
	var sum float64
	for i := range n {
		a := t0 + step*float64(i)
		sum += rules[len(rules)-1].integrate(b, ref, dt/float64(n), a, a+step)
	}
	return sum
}

// integrate applies the rule to exp(-b (1/T - ref)) for T from t0 to t1
// (kelvin) in dt seconds.
func (r *rule) integrate(b, ref, dt, t0, t1 float64) float64 {
	mid, half := (t0+t1)/2, (t1-t0)/2
	var sum float64
	for i, x := range r.x {
		sum += r.w[i] * math.Exp(-b*(1/(mid+half*x)-ref))
	}
	return sum * dt / 2
}

// smooth is the rate at c with the branch (stalled or not, end of the band)
// that holds at mid, so that a part's own ends do not fall on the next one's.
func (l Law) smooth(side Side, c, mid float64) float64 {
	if l.stalls(mid, side) {
		return 0
	}
	return math.Exp(-l.energy(mid, side) / GasConstant * (1/(c+ZeroCelsius) - 1/(l.refC+ZeroCelsius)))
}
