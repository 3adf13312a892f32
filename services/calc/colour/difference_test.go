package colour

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func pair(t testing.TB, r map[string]string) (p, q Lab) {
	return Lab{num(t, r["L1"]), num(t, r["a1"]), num(t, r["b1"])}, Lab{num(t, r["L2"]), num(t, r["a2"]), num(t, r["b2"])}
}

// The 34 pairs of Sharma, Wu and Dalal (2005), table 1, to the digits printed
// there and to the ten figures that the formula gives.
func TestPublishedPairs(t *testing.T) {
	n := 0
	for _, r := range rows(t, "03_ciede2000.csv") {
		n++
		p, q := pair(t, r)
		near(t, r["id"], Difference(p, q), num(t, r["expected"]), num(t, r["tolerance"]))
		near(t, r["id"]+" turned round", Difference(q, p), num(t, r["expected"]), num(t, r["tolerance"]))
		near(t, r["id"]+", more digits", Difference(p, q), num(t, r["recomputed_30_digits"]), 1e-9)
	}
	if n != 34 {
		t.Errorf("%d pairs were checked, want 34", n)
	}
}

func anyLab(t *rapid.T, name string) Lab {
	ab := rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(-MaxAB, MaxAB), rapid.Float64Range(-2, 2))
	return Lab{rapid.Float64Range(0, MaxL).Draw(t, name+".L"), ab.Draw(t, name+".a"), ab.Draw(t, name+".b")}
}

func TestDifferenceIsSymmetricAndZeroOnItself(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, q := anyLab(t, "p"), anyLab(t, "q")
		there, back := Difference(p, q), Difference(q, p)
		if there != back || !(there >= 0) || math.IsInf(there, 0) {
			t.Fatalf("%v to %v: %v there, %v back", p, q, there, back)
		}
		if d := Difference(p, p); d != 0 {
			t.Fatalf("%v is %v from itself", p, d)
		}
	})
}

// Along the axis of greys only lightness counts, and less of it far from L*
// 50: (18) and (22) alone.
func TestGreysDifferByLightness(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l, d := rapid.Float64Range(0, 90).Draw(t, "l"), rapid.Float64Range(0, 10).Draw(t, "d")
		m := l + d/2 - 50
		want := d / (1 + 0.015*m*m/math.Sqrt(20+m*m))
		if got := Difference(Lab{L: l}, Lab{L: l + d}); math.Abs(got-want) > 1e-9 {
			t.Fatalf("%v to %v: %v, want %v", l, l+d, got, want)
		}
	})
}

// Opposite hues land on one side of the seam at 180 degrees, however their
// angles round.
func TestOppositeHues(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h, c := rapid.Float64Range(0, 179).Draw(t, "hue"), rapid.Float64Range(0.5, 30).Draw(t, "chroma")
		s, k := math.Sincos(radians(h))
		a, b := c*k, c*s
		dh, mean := hues(a, b, -a, -b)
		want := hue(a, b) + 90
		if math.Abs(math.Abs(dh)-180) > 1e-9 || math.Abs(mean-want) > 1e-6 {
			t.Fatalf("hue %v and its opposite: %v apart, mean %v, want %v", h, dh, mean, want)
		}
	})
}

func BenchmarkDifference(b *testing.B) {
	table := rows(b, "03_ciede2000.csv")
	pairs := make([][2]Lab, len(table))
	for i, r := range table {
		pairs[i][0], pairs[i][1] = pair(b, r)
	}
	i := 0
	for b.Loop() {
		p := pairs[i%len(pairs)]
		Difference(p[0], p[1])
		i++
	}
}
