package cure

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"
)

// The tables under testdata/checks name the source of every row.
const checks = "../../../testdata/checks/"

// row is one line of a check table by column name.
type row map[string]string

func rowsOf(t *testing.T, name string) []row {
	t.Helper()
	f, err := os.Open(checks + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	var rows []row
	for _, rec := range all[1:] {
		r := row{}
		for i, h := range all[0] {
			r[h] = rec[i]
		}
		rows = append(rows, r)
	}
	if len(rows) == 0 {
		t.Fatalf("%s has no rows", name)
	}
	return rows
}

func (r row) num(t *testing.T, column string) float64 {
	t.Helper()
	return number(t, r[column])
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
	if err != nil {
		t.Fatalf("number %q: %v", s, err)
	}
	return x
}

// input reads name=value out of the inputs column.
func (r row) input(t *testing.T, name string) float64 {
	t.Helper()
	for part := range strings.SplitSeq(r["inputs"], ";") {
		if k, v, ok := strings.Cut(part, "="); ok && k == name {
			return number(t, v)
		}
	}
	t.Fatalf("%s: no input %s in %q", r["id"], name, r["inputs"])
	return 0
}

// tolerance reads an absolute tolerance, or "rel 1e-8" of the expected value.
func (r row) tolerance(t *testing.T) float64 {
	t.Helper()
	if rel, ok := strings.CutPrefix(r["tolerance"], "rel "); ok {
		return number(t, rel) * math.Abs(r.num(t, "expected"))
	}
	return r.num(t, "tolerance")
}

// eachRow runs f on the rows whose id begins with prefix; none is a failure.
func eachRow(t *testing.T, table, prefix string, f func(t *testing.T, r row)) {
	t.Helper()
	n := 0
	for _, r := range rowsOf(t, table) {
		if strings.HasPrefix(r["id"], prefix) {
			n++
			t.Run(r["id"], func(t *testing.T) { f(t, r) })
		}
	}
	if n == 0 {
		t.Fatalf("%s has no row %s*", table, prefix)
	}
}

func TestPublishedRateRatios(t *testing.T) {
	const boltzmann = 8.617333262145e-5 // eV/K, as the row's note says
	eachRow(t, "01_arrhenius_q10.csv", "ARR-01", func(t *testing.T, r row) {
		l := must(NewLaw(r.input(t, "Ea_eV")/boltzmann*GasConstant, r.input(t, "T1_C")))
		near(t, "acceleration", l.Rate(r.input(t, "T2_C"), Nominal), r.num(t, "expected"), r.tolerance(t))
	})
	eachRow(t, "01_arrhenius_q10.csv", "ARR-15", func(t *testing.T, r row) {
		l := must(NewLaw(r.input(t, "Ea_kJ_mol")*1000, r.input(t, "T_C")))
		near(t, "Q10", l.Rate(r.input(t, "T_C")+10, Nominal), r.num(t, "expected"), r.tolerance(t))
	})
	eachRow(t, "01_maturity.csv", "MAT-E", func(t *testing.T, r row) {
		l := must(NewLaw(r.input(t, "E_kJ_mol")*1000, r.input(t, "Ts_C")))
		near(t, "factor", l.Rate(r.input(t, "T_C"), Nominal), r.num(t, "expected"), r.tolerance(t))
	})
}

func TestPublishedDoublingRule(t *testing.T) {
	eachRow(t, "01_arrhenius_q10.csv", "ARR-02", func(t *testing.T, r row) {
		l := must(NewDoubling(10, r.input(t, "T_K")-ZeroCelsius))
		_, ea, _ := l.EnergyJ()
		near(t, "energy", ea/1000, r.num(t, "expected"), r.tolerance(t))
		near(t, "rate 10 K up", l.Rate(r.input(t, "T_K")-ZeroCelsius+10, Cold), 2, 1e-12)
	})
}

// The equivalent ages of ASTM C1074, over a zone whose probe is exact and
// whose temperature is held; steps of temperature last a second.
func TestPublishedEquivalentAges(t *testing.T) {
	n := 0
	for _, r := range rowsOf(t, "01_maturity.csv") {
		if !strings.HasPrefix(r["quantity"], "equivalent age") {
			continue
		}
		n++
		t.Run(r["id"], func(t *testing.T) {
			l := must(NewLaw(r.input(t, "Q_K")*GasConstant, r.input(t, "Ts_C")))
			_, seq, _ := strings.Cut(r["inputs"], "=")
			seq, _, _ = strings.Cut(seq, ";")
			z := still()
			var hours float64
			for step := range strings.SplitSeq(seq, "|") {
				temp, length, _ := strings.Cut(step, ":")
				// Each step in a zone of its own: no drift between them.
				c := courseOf(t, z, [2]float64{0, number(t, temp)})
				span := time.Duration(number(t, length) * float64(time.Hour))
				for _, side := range []Side{Cold, Hot, Nominal} {
					age, ok := c.Hindsight().Age(l, side, t0, t0.Add(span))
					if !ok {
						t.Fatal("age not known")
					}
					hours += age / 3600 / 3
				}
			}
			near(t, "equivalent age", hours, r.num(t, "expected"), r.tolerance(t))
		})
	}
	if n == 0 {
		t.Fatal("no equivalent ages in the table")
	}
}

// A published polyurethane cure: its rate constants are one law's rates, and
// its conversions follow from the equivalent age, since da/dt = k f(a) makes
// the conversion a function of the integral of k only.
func TestPublishedUrethaneCure(t *testing.T) {
	const table = "01_cure_models.csv"
	eachRow(t, table, "CUR-K", func(t *testing.T, r row) {
		l := must(NewLaw(r.input(t, "E_J_mol")*GasConstant/r.input(t, "R"), 20))
		near(t, "rate constant", rateConstant(r.input(t, "A_1_s"), r.input(t, "E_J_mol"))*l.Rate(r.input(t, "T_C"), Nominal),
			r.num(t, "expected"), r.tolerance(t))
	})
	eachRow(t, table, "CUR-N", func(t *testing.T, r row) {
		l := must(NewLaw(r.input(t, "E")*GasConstant/r.input(t, "R"), 20))
		z := still()
		z.Limits.Hi = 60
		c := courseOf(t, z, [2]float64{0, r.input(t, "T_C")})
		age, _ := c.Hindsight().Age(l, Cold, t0, t0.Add(time.Duration(r.input(t, "t_s"))*time.Second))
		n := r.input(t, "n")
		got := 1 - math.Pow(1-(1-n)*rateConstant(r.input(t, "A"), r.input(t, "E"))*age, 1/(1-n))
		near(t, "conversion", got, r.num(t, "expected"), r.tolerance(t))
	})
}

// rateConstant at 20 °C with the gas constant of the table's rows.
func rateConstant(a, e float64) float64 { return a * math.Exp(-e/8.314/293.15) }

func TestPublishedEnergiesAreAccepted(t *testing.T) {
	n := 0
	for _, r := range rowsOf(t, "01_activation_energies.csv") {
		l, err := NewBand(r.num(t, "Ea_low")*1000, r.num(t, "Ea_high")*1000, 21)
		if err != nil {
			t.Errorf("%s: %v", r["id"], err)
			continue
		}
		if r["id"] == "EA-15" {
			n++
			if def := must(DefaultLaw(21)); def != l {
				t.Errorf("the default band is %v, the table's working default %v", def, l)
			}
		}
	}
	if n != 1 {
		t.Errorf("%d working defaults in the table, want one", n)
	}
}

func TestPublishedStudentT(t *testing.T) {
	n := 0
	for _, r := range rowsOf(t, "01_student_t.csv") {
		if r.num(t, "one_sided_p") != 0.975 || math.IsInf(r.num(t, "df"), 1) {
			continue
		}
		n++
		got := student95(int(r.num(t, "df")))
		near(t, r["id"]+" table", got, r.num(t, "expected_table"), r.num(t, "tolerance_table"))
		near(t, r["id"]+" precise", got, r.num(t, "expected_precise"), r.num(t, "tolerance_precise"))
	}
	if n < 10 {
		t.Fatalf("only %d quantiles checked", n)
	}
}

// NIST StRD Norris, the certified set for a straight line.
func TestCertifiedStraightLine(t *testing.T) {
	var xs, ys []float64
	var names []string
	for _, r := range rowsOf(t, "data/strd_norris.csv") {
		xs, ys, names = append(xs, r.num(t, "x")), append(ys, r.num(t, "y")), append(names, "norris")
	}
	s, ok := commonSlope(xs, ys, names)
	if !ok {
		t.Fatal("no slope")
	}
	g := s.groups["norris"]
	got := map[string]float64{
		"B0": g.meanY - s.slope*g.meanX, "B1": s.slope, "RSS": s.rss,
		"residual_sd": math.Sqrt(s.rss / float64(s.dof)),
	}
	n := 0
	for _, r := range rowsOf(t, "01_strd.csv") {
		want := r.num(t, "certified_value")
		if x, ok := got[r["parameter"]]; ok {
			n++
			near(t, r["id"], x, want, 1e-10*math.Abs(want))
		}
		if r["parameter"] == "B1" {
			sd := r.num(t, "certified_sd")
			near(t, r["id"]+" sd", s.slopeErr, sd, 1e-10*sd)
		}
	}
	if n != len(got) {
		t.Fatalf("checked %d of %d certified values", n, len(got))
	}
}

// The published decompositions are rates; a time goes as the inverse of a
// rate, so the regression of ln k has the opposite sign.
func TestPublishedArrheniusFits(t *testing.T) {
	line := func(tk, k []float64) slopes {
		xs, ys, names := make([]float64, len(tk)), make([]float64, len(tk)), make([]string, len(tk))
		for i := range tk {
			xs[i], ys[i] = 1/tk[i], -math.Log(k[i])
		}
		s, ok := commonSlope(xs, ys, names)
		if !ok {
			t.Fatal("no slope")
		}
		return s
	}
	// OpenStax Chemistry 2e, 12.5: k of HI in L/mol/s. The rows ARR-06 print
	// three of the five; the other two are of the same worked example.
	hi := line([]float64{555, 575, 645, 700, 781}, []float64{3.52e-7, 1.22e-6, 8.59e-5, 1.16e-3, 3.95e-2})
	g := hi.groups[""]
	// NCERT Chemistry XII, dissociation of N2O5: k in 1/s.
	tk, k := []float64{273, 293, 313, 333, 353}, []float64{0.0787e-5, 1.70e-5, 25.7e-5, 178e-5, 2140e-5}
	n2o5 := line(tk, k)
	got := map[string]float64{
		"ARR-08-2": -(g.meanY - hi.slope*g.meanX),
		"ARR-08-3": hi.slope * 8.314 / 1000,
		"ARR-08-5": hi.slopeErr,
		"ARR-09":   line([]float64{650, 700}, []float64{1.66, 7.39}).slope * GasConstant / 1000,
		"ARR-11":   n2o5.slope * GasConstant / 1000,
		"ARR-12":   -n2o5.slope,
		"ARR-14":   line([]float64{500, 600}, []float64{9.51e-9, 1.10e-5}).slope * GasConstant / 1000,
	}
	n := 0
	for _, r := range rowsOf(t, "01_arrhenius_q10.csv") {
		if x, ok := got[r["id"]]; ok {
			n++
			near(t, r["id"], x, r.num(t, "expected"), r.tolerance(t))
		}
	}
	if n != len(got) {
		t.Fatalf("checked %d of %d fits", n, len(got))
	}
	// The same through the door that a product's points take.
	var points []Point
	for i := range tk {
		points = append(points, Point{"handling", tk[i] - ZeroCelsius, 1 / k[i] / 60})
	}
	f := must(FitPoints(points, 20))
	near(t, "fit of N2O5", f.EnergyJ/GasConstant, 12103.390078, 1e-3)
	if f.DoF != 3 || fmt.Sprint(f.Stages()) != "[handling]" {
		t.Errorf("dof %d, stages %v", f.DoF, f.Stages())
	}
}
