package cure

import (
	"maps"
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// exactly makes the minutes that a law gives for a stage at some temperatures.
func exactly(stage string, ea, minutesAt20 float64, temps ...float64) []Point {
	l := must(NewLaw(ea, 20))
	var ps []Point
	for _, c := range temps {
		ps = append(ps, Point{stage, c, minutesAt20 / l.Rate(c, Nominal)})
	}
	return ps
}

func TestFitFindsTheLawThatMadeThePoints(t *testing.T) {
	points := append(exactly("handling", 52e3, 45, 10, 15, 30), exactly("tooling", 52e3, 12, 15, 25)...)
	f := must(FitPoints(points, 21))
	near(t, "energy", f.EnergyJ, 52e3, 1e-5)
	near(t, "low", f.LowJ, 52e3, 1e-3)
	near(t, "high", f.HighJ, 52e3, 1e-3)
	if f.DoF != 2 {
		t.Errorf("dof %d, want 5 points - (2 stages + 1) = 2", f.DoF)
	}
	k := must(NewLaw(52e3, 20)).Rate(21, Nominal)
	near(t, "handling at 21", f.RefMinutes["handling"], 45/k, 1e-9)
	near(t, "tooling at 21", f.RefMinutes["tooling"], 12/k, 1e-9)
}

// The twin solves the whole regression with one column a stage by QR.
func TestFitAgreesWithAGeneralRegression(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		stages := []string{"tooling", "handling", "full-cure"}
		var points []Point
		for range rapid.IntRange(5, 12).Draw(rt, "n") {
			points = append(points, Point{
				rapid.SampledFrom(stages).Draw(rt, "stage"),
				float64(rapid.IntRange(0, 40).Draw(rt, "temp")),
				rapid.Float64Range(1, 500).Draw(rt, "minutes"),
			})
		}
		f, err := FitPoints(points, 21)
		if err != nil {
			return // all of a stage's points at one temperature
		}
		names := f.Stages()
		a, y := mat.NewDense(len(points), len(names)+1, nil), mat.NewVecDense(len(points), nil)
		for i, p := range points {
			a.Set(i, slices.Index(names, p.Stage), 1)
			// Scaled so that the columns are of one size.
			a.Set(i, len(names), 1000/(p.TempC+ZeroCelsius))
			y.SetVec(i, math.Log(p.Minutes))
		}
		var b, fitted mat.VecDense
		if err := b.SolveVec(a, y); err != nil {
			return
		}
		ea := b.AtVec(len(names)) * 1000 * GasConstant
		if math.Abs(ea-f.EnergyJ) > 1e-6*math.Abs(ea)+1e-3 {
			rt.Fatalf("energy %v, by QR %v", f.EnergyJ, ea)
		}
		if f.DoF != len(points)-len(names)-1 {
			rt.Fatalf("dof %d", f.DoF)
		}
		if f.DoF == 0 {
			return
		}
		fitted.MulVec(a, &b)
		fitted.SubVec(y, &fitted)
		var inv, ata mat.Dense
		ata.Mul(a.T(), a)
		if err := inv.Inverse(&ata); err != nil {
			return
		}
		k := len(names)
		se := math.Sqrt(mat.Dot(&fitted, &fitted)/float64(f.DoF)*inv.At(k, k)) * 1000 * GasConstant
		if math.Abs(se-f.StdErrJ) > 1e-4*se+1e-3 {
			rt.Fatalf("standard error %v, by QR %v", f.StdErrJ, se)
		}
	})
}

func TestTheBandOfAFit(t *testing.T) {
	band := func(l Law) [2]float64 {
		low, _, high := l.EnergyJ()
		return [2]float64{low, high}
	}
	// Two points leave no degree of freedom: the hull with 45 to 60.
	for ea, want := range map[float64][2]float64{50e3: {45e3, 60e3}, 30e3: {30e3, 60e3}, 90e3: {45e3, 90e3}} {
		f := must(FitPoints(exactly("handling", ea, 45, 15, 30), 21))
		got := band(must(f.Law()))
		near(t, "low", got[0], want[0], 1e-5)
		near(t, "high", got[1], want[1], 1e-5)
	}
	// Scattered points: the band is wide and is cut to 10 to 200 kJ/mol.
	f := must(FitPoints([]Point{{"handling", 15, 70}, {"handling", 20, 45}, {"handling", 30, 44}}, 21))
	if f.LowJ >= minFitJ || f.HighJ <= maxFitJ {
		t.Fatalf("band %g to %g is not wide enough for this test", f.LowJ, f.HighJ)
	}
	l := must(f.Law())
	if got := band(l); got != [2]float64{10e3, 200e3} {
		t.Errorf("band %v", got)
	}
	if _, nominal, _ := l.EnergyJ(); nominal != 105e3 {
		t.Errorf("nominal %v, want the middle of the cut band", nominal)
	}
}

func TestFitsAreRefused(t *testing.T) {
	for what, points := range map[string][]Point{
		"none":            nil,
		"one temperature": {{"handling", 20, 45}, {"handling", 20, 50}},
		"one each":        {{"handling", 20, 45}, {"tooling", 30, 5}},
		"no minutes":      {{"handling", 20, 0}, {"handling", 30, 5}},
		"endless minutes": {{"handling", 20, math.Inf(1)}, {"handling", 30, 5}},
		"NaN temperature": {{"handling", math.NaN(), 4}, {"handling", 30, 5}},
		"nameless stage":  {{"", 20, 4}, {"", 30, 5}},
	} {
		if _, err := FitPoints(points, 21); err == nil {
			t.Errorf("%s: accepted", what)
		}
	}
	for what, points := range map[string][]Point{
		"faster when colder": {{"handling", 15, 20}, {"handling", 30, 40}},
		"hardly faster":      {{"handling", 15, 41}, {"handling", 30, 40}},
		"far too fast":       {{"handling", 15, 4000}, {"handling", 25, 1}},
	} {
		if _, err := must(FitPoints(points, 21)).Law(); err == nil {
			t.Errorf("%s: accepted as a law", what)
		}
	}
}

func TestStatedLaws(t *testing.T) {
	num := func(x float64) *float64 { return &x }
	label := map[string]float64{"handling": 45, "tooling": 12}
	points := exactly("handling", 52e3, 45, 10, 30)
	for what, x := range map[string]struct {
		s           Stated
		low, high   float64
		finding     string
		leastIsNine bool
	}{
		"nothing":           {s: Stated{}, low: 45e3, high: 60e3, finding: DefaultEnergy},
		"energy":            {s: Stated{EnergyJ: num(52e3), MinC: num(9)}, low: 52e3, high: 52e3, leastIsNine: true},
		"band":              {s: Stated{BandJ: &[2]float64{40e3, 70e3}}, low: 40e3, high: 70e3},
		"doubling":          {s: Stated{DoublesPerK: num(10)}, low: GasConstant * math.Ln2 * 293.15 * 303.15 / 10, high: GasConstant * math.Ln2 * 293.15 * 303.15 / 10},
		"points":            {s: Stated{Points: points, LabelMinutes: label}, low: 52e3, high: 52e3},
		"points, no label":  {s: Stated{Points: points}, low: 45e3, high: 60e3},
		"a copied row":      {s: Stated{Points: append([]Point{points[0]}, points...)}, low: 45e3, high: 60e3},
		"the label's row":   {s: Stated{Points: []Point{points[0], {"handling", 20, 45}}, LabelMinutes: label}, low: 45e3, high: 60e3},
		"energy and points": {s: Stated{EnergyJ: num(70e3), Points: points, LabelMinutes: label}, low: 70e3, high: 70e3, finding: EnergyOutsideBand},
		"fitting energy":    {s: Stated{EnergyJ: num(50e3), Points: points}, low: 50e3, high: 50e3},
		"useless points":    {s: Stated{EnergyJ: num(50e3), Points: points[:1]}, low: 50e3, high: 50e3, finding: PointsUnusable},
	} {
		x.s.RefC = 20
		l, fs, err := x.s.Law()
		if err != nil {
			t.Errorf("%s: %v", what, err)
			continue
		}
		low, _, high := l.EnergyJ()
		near(t, what+": low", low, x.low, 0.1)
		near(t, what+": high", high, x.high, 0.1)
		if len(fs) > 1 || (len(fs) == 1) != (x.finding != "") || len(fs) == 1 && fs[0].Kind != x.finding {
			t.Errorf("%s: findings %v, want %q", what, fs, x.finding)
		}
		if least, ok := l.MinTempC(); ok != x.leastIsNine || ok && least != 9 {
			t.Errorf("%s: least temperature %v %v", what, least, ok)
		}
	}
	for what, s := range map[string]Stated{
		"two kinds":   {RefC: 20, EnergyJ: num(52e3), DoublesPerK: num(10)},
		"no slope":    {RefC: 20, Points: points[:1]},
		"bad least":   {RefC: 20, MinC: num(math.NaN())},
		"bad doubles": {RefC: 20, DoublesPerK: num(-1)},
	} {
		if _, _, err := s.Law(); err == nil {
			t.Errorf("%s: accepted", what)
		}
	}
	if got := slices.Sorted(maps.Keys(must(Stated{RefC: 20, Points: points}.Fit()).RefMinutes)); len(got) != 1 {
		t.Errorf("stages of the fit: %v", got)
	}
}
