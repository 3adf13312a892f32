package cure

import (
	"math"
	"testing"
	"time"

	"gonum.org/v1/gonum/optimize"

	"seamwright/services/fault"
)

// stepped is a bead in air of one temperature for some minutes and of another
// one from then on, seen when a law of energy ea brings it to minutes20 at
// 20 °C: k(first) m + k(then) x = minutes20, the equivalent age of ASTM C1074.
func stepped(t *testing.T, stage string, ea, minutes20, first, m, then float64) Observed {
	t.Helper()
	l := must(NewLaw(ea, 20))
	x := (minutes20 - m*l.Rate(first, Nominal)) / l.Rate(then, Nominal)
	if x <= 0 {
		t.Fatalf("reached before the step: %g", x)
	}
	at := func(c float64) []Fixed { return []Fixed{{Set{c, c}, c}} }
	p := must(NewPath(Span{From: t0, Fixed: at(first)}, Span{From: minute(m), Fixed: at(then)}))
	return Observed{stage, p.Hindsight(), t0, minute(m + x)}
}

// The label says 60 kJ/mol; the shop's material follows 48. What is seen in
// changing air gives 48, and the stages' times.
func TestObservationsInChangingAirFindTheLaw(t *testing.T) {
	label := must(NewLaw(60e3, 21))
	seen := []Observed{
		stepped(t, "handling", 48e3, 50, 12, 30, 18), stepped(t, "handling", 48e3, 50, 18, 10, 29),
		stepped(t, "handling", 48e3, 50, 30, 5, 24), stepped(t, "tooling", 48e3, 12, 25, 4, 14), stepped(t, "tooling", 48e3, 12, 9, 7, 9.5),
	}
	f, points, err := FitObserved(label, nil, seen)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "energy", f.EnergyJ, 48e3, 0.01) // where the search ends
	k := must(NewLaw(48e3, 20)).Rate(21, Nominal)
	near(t, "handling at 21", f.RefMinutes["handling"], 50/k, 1e-5)
	near(t, "tooling at 21", f.RefMinutes["tooling"], 12/k, 1e-5)
	if f.DoF != 2 || len(points) != 5 {
		t.Errorf("dof %d, points %v", f.DoF, points)
	}
	for i, p := range points {
		if lo, hi := 9.0, 30.0; !(p.TempC >= lo && p.TempC <= hi) || p.Stage != seen[i].Stage {
			t.Errorf("point %d: %v", i, p)
		}
	}
	again, _, err := FitObserved(must(NewLaw(20e3, 21)), nil, seen)
	if err != nil || math.Abs(again.EnergyJ-f.EnergyJ) > 1 {
		t.Errorf("from another label: %g J/mol, %v", again.EnergyJ, err)
	}
}

// The twin asks a general minimiser for the energy and the two times that
// bring the ages nearest to what was seen, in logarithms.
func TestObservationsWithScatterAgreeWithAMinimiser(t *testing.T) {
	label := must(NewLaw(52e3, 21))
	seen := []Observed{
		stepped(t, "handling", 50e3, 50, 12, 30, 18), stepped(t, "handling", 50e3, 54, 18, 10, 29), stepped(t, "handling", 50e3, 47, 30, 5, 24),
		stepped(t, "handling", 50e3, 52, 15, 20, 22),
	}
	f, _, err := FitObserved(label, nil, seen)
	if err != nil {
		t.Fatal(err)
	}
	// At the solution the constant temperatures are those of its own energy, and
	// among them it is the least-squares line: so no other energy fits these
	// points better.
	own := must(NewLaw(f.EnergyJ, 21))
	var xs, ys []float64
	for _, o := range seen {
		c, _ := o.ConstantC(own)
		xs, ys = append(xs, 1000/(c+ZeroCelsius)), append(ys, math.Log(o.At.Sub(o.From).Minutes()))
	}
	r, err := optimize.Minimize(optimize.Problem{Func: func(p []float64) (sum float64) {
		for i := range xs {
			d := ys[i] - p[0] - p[1]*(xs[i]-3.4)
			sum += d * d
		}
		return sum
	}}, []float64{3, 1}, nil, &optimize.NelderMead{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "energy", f.EnergyJ, r.X[1]*1000*GasConstant, 1e-3)
}

func TestObservationsThatGiveNoLaw(t *testing.T) {
	label := must(NewLaw(52e3, 21))
	one := stepped(t, "handling", 50e3, 50, 12, 30, 18)
	if _, _, err := FitObserved(label, nil, []Observed{one}); fault.KindOf(err) != fault.Invalid {
		t.Errorf("one observation: %v", err)
	}
	cold := courseOf(t, bay()) // nothing was ever read
	if _, _, err := FitObserved(label, nil, []Observed{one, {"handling", cold.Hindsight(), t0, minute(50)}}); fault.KindOf(err) != fault.Invalid {
		t.Errorf("no temperature: %v", err)
	}
	if _, ok := (Observed{"handling", one.Seen, t0, t0.Add(-time.Minute)}).ConstantC(label); ok {
		t.Error("seen before it was laid")
	}
	// Slower when it is warmer: the search ends, and the law is refused.
	f, _, err := FitObserved(label, nil, []Observed{stepped(t, "handling", 50e3, 20, 12, 5, 12.5), stepped(t, "handling", 50e3, 200, 29, 5, 30)})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.Law(); fault.KindOf(err) != fault.Invalid {
		t.Errorf("%g J/mol: %v", f.EnergyJ, err)
	}
}
