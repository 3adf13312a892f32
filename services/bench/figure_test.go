package bench

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"seamwright/services/fault"
)

func TestMedianAndQuantiles(t *testing.T) {
	xs := []float64{5, 1, 4, 2, 3}
	for q, want := range map[float64]float64{0.5: 3, 0.99: 5, 0.2: 1, 0.21: 2, 1: 5, 0: 1} {
		if got := quantile(xs, q); got != want {
			t.Errorf("quantile %g is %g, want %g", q, got, want)
		}
	}
	if got := median([]float64{4, 1, 3, 2}); got != 2.5 {
		t.Errorf("median of an even count is %g, want 2.5", got)
	}
	if !math.IsNaN(median(nil)) {
		t.Error("nothing has a median")
	}
	rapid.Check(t, func(t *rapid.T) {
		xs := rapid.SliceOfN(rapid.Float64Range(-1e6, 1e6), 1, 60).Draw(t, "xs")
		q := rapid.Float64Range(0.01, 1).Draw(t, "q")
		if q == 0.5 {
			return
		}
		got, upTo := quantile(xs, q), 0
		for _, x := range xs {
			if x <= got {
				upTo++
			}
		}
		if float64(upTo) < q*float64(len(xs)) {
			t.Fatalf("%d of %d are at most the %g quantile %g", upTo, len(xs), q, got)
		}
	})
}

// The two sides take turns and the one that begins changes.
func TestSidesTakeTurns(t *testing.T) {
	var order strings.Builder
	side := func(name string, x float64) func() (float64, error) {
		return func() (float64, error) { order.WriteString(name); return x, nil }
	}
	p, err := take(3, side("r", 2), side("o", 3))
	if err != nil || order.String() != "roorro" || len(p.raw) != 3 || len(p.ours) != 3 {
		t.Fatalf("%s, %v, %v", &order, p, err)
	}
	if p.ratio() != 1.5 || p.difference() != 1 {
		t.Errorf("ratio %g, difference %g", p.ratio(), p.difference())
	}
	broken := errors.New("broken")
	if _, err := take(2, side("r", 1), func() (float64, error) { return 0, broken }); !errors.Is(err, broken) {
		t.Errorf("got %v", err)
	}
	if _, err := take(1, side("r", math.NaN()), side("o", 1)); err == nil {
		t.Error("what is no number is taken for a measurement")
	}
}

// A ratio is told of pairs: a disk that becomes slow in the middle of a run
// hits both sides of a pair.
func TestRatioIsOfPairs(t *testing.T) {
	p := pairs{raw: []float64{1, 1, 10, 10, 10}, ours: []float64{2, 2, 20, 20, 20}}
	if got := p.ratio(); got != 2 {
		t.Errorf("ratio %g, want 2", got)
	}
}

func TestTargetsAreJudged(t *testing.T) {
	p := pairs{raw: []float64{2}, ours: []float64{3}}
	for _, c := range []struct {
		f      Figure
		met    bool
		target string
	}{
		{Figure{}.against("raw", p, atMost(1.5)), true, "at most 1.5x"},
		{Figure{}.against("raw", p, atMost(1.4)), false, "at most 1.4x"},
		{Figure{}.against("raw", p, atLeast(1.6)), false, "at least 1.6x"},
		{Figure{Unit: "ms"}.apart("raw", p, atMost(1)), true, "at most 1 ms"},
		{Figure{Unit: "ms"}.apart("raw", p, atMost(0.5)), false, "at most 0.5 ms"},
		{Figure{}.against("raw", p, atMost(2)).judged(51, " µs", atMost(50)), false, "at most 2x and at most 50 µs"},
		{Figure{}.against("raw", p, atMost(1)).judged(49, " µs", atMost(50)), false, "at most 1x and at most 50 µs"},
		{Figure{}.judged(math.NaN(), " B", atMost(200)), false, "at most 200 B"},
	} {
		if c.f.Met == nil || *c.f.Met != c.met || c.f.Target != c.target {
			t.Errorf("%s: %v, want %v %s", c.f.Target, c.f.Met, c.met, c.target)
		}
	}
	if f := (Figure{}).against("raw", p); f.Met != nil || *f.Versus != 1.5 || *f.Raw != 2 {
		t.Errorf("without a target: %+v", f)
	}
}

func TestOnlyWhatIsKnownIsMeasured(t *testing.T) {
	if _, err := Run(t.Context(), Options{Only: []string{"reading", "speed"}}); fault.KindOf(err) != fault.Invalid || !strings.Contains(err.Error(), "post-to-ack") {
		t.Errorf("%v, want a fault that names what there is", err)
	}
	r, err := Run(t.Context(), Options{Quick: true, Only: []string{"reading"}})
	if err != nil || len(r.Figures) != 3 || r.Figures[0].Name != "reading" || r.Figures[0].Met != nil {
		t.Errorf("%+v, %v", r, err)
	}
}
