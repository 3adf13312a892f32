package bench

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"
)

// Figure is one thing that was measured.
type Figure struct {
	Name    string   // stable: "post-to-ack"
	What    string   // for people, one line
	Unit    string   // of Ours and Raw
	Ours    float64  // median over the repetitions
	Against string   // what Raw is; empty: nothing is compared
	Raw     *float64 // median over the repetitions
	Versus  *float64 // ours to raw as the target wants it: a ratio, or a difference in Unit
	Target  string   // what is to be reached; empty: only told
	Met     *bool    // nil: not judged
	Note    string
}

// bound is a limit on a number.
type bound struct {
	most bool // at most; else at least
	x    float64
}

func atMost(x float64) bound  { return bound{true, x} }
func atLeast(x float64) bound { return bound{false, x} }

// holds reports whether a number is within the bound; one that is no number
// never is.
func (b bound) holds(x float64) bool {
	if b.most {
		return x <= b.x
	}
	return x >= b.x
}

func (b bound) String() string {
	if b.most {
		return "at most " + plain(b.x)
	}
	return "at least " + plain(b.x)
}

func plain(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// against notes the other side and the ratio of ours to it.
func (f Figure) against(what string, p pairs, target ...bound) Figure {
	raw, ratio := median(p.raw), p.ratio()
	f.Ours, f.Against, f.Raw, f.Versus = median(p.ours), what, &raw, &ratio
	return f.judged(ratio, "x", target...)
}

// apart notes the other side and how far ours is beyond it.
func (f Figure) apart(what string, p pairs, target ...bound) Figure {
	raw, diff := median(p.raw), p.difference()
	f.Ours, f.Against, f.Raw, f.Versus = median(p.ours), what, &raw, &diff
	return f.judged(diff, " "+f.Unit, target...)
}

// judged says whether a number keeps to its bounds, beside what was judged
// before.
func (f Figure) judged(x float64, unit string, target ...bound) Figure {
	for _, b := range target {
		met := b.holds(x)
		if f.Met != nil {
			met = met && *f.Met
			f.Target += " and "
		}
		f.Target += b.String() + unit
		f.Met = &met
	}
	return f
}

// pairs are repetitions of two sides that took turns.
type pairs struct{ raw, ours []float64 }

// take runs both sides in turn, so many times. The side that begins changes,
// so that neither always comes after the other.
func take(times int, raw, ours func() (float64, error)) (pairs, error) {
	var p pairs
	for i := range times {
		order := []func() error{
			func() error { return put(&p.raw, raw) },
			func() error { return put(&p.ours, ours) },
		}
		if i%2 == 1 {
			slices.Reverse(order)
		}
		for _, side := range order {
			if err := side(); err != nil {
				return p, err
			}
		}
	}
	return p, nil
}

func put(to *[]float64, side func() (float64, error)) error {
	x, err := side()
	if err != nil {
		return err
	}
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return fmt.Errorf("a measurement came to %g", x)
	}
	*to = append(*to, x)
	return nil
}

func (p pairs) ratio() float64 {
	return p.fold(func(raw, ours float64) float64 { return ours / raw })
}

func (p pairs) difference() float64 {
	return p.fold(func(raw, ours float64) float64 { return ours - raw })
}

func (p pairs) fold(f func(raw, ours float64) float64) float64 {
	out := make([]float64, len(p.raw))
	for i := range out {
		out[i] = f(p.raw[i], p.ours[i])
	}
	return median(out)
}

// median of numbers; NaN of none.
func median(xs []float64) float64 { return quantile(xs, 0.5) }

// quantile is the least of the numbers that so large a part of them does not
// exceed, the middle of two for the median of an even count; NaN of none.
func quantile(xs []float64, q float64) float64 {
	if len(xs) == 0 {
		return math.NaN()
	}
	s := slices.Clone(xs)
	slices.SortFunc(s, func(a, b float64) int { return cmp.Compare(a, b) })
	if n := len(s); q == 0.5 && n%2 == 0 {
		return (s[n/2-1] + s[n/2]) / 2
	}
	i := int(math.Ceil(q*float64(len(s)))) - 1
	return s[max(i, 0)]
}

// millis is a length of time in ms.
func millis(d time.Duration) float64 { return float64(d) / float64(time.Millisecond) }

// timed is how long fn took, in ms.
func timed(fn func() error) (float64, error) {
	begun := time.Now()
	err := fn()
	return millis(time.Since(begun)), err
}
