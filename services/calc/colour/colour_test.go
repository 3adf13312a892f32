package colour

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"seamwright/services/fault"
)

// rows reads a table of published check values; each row names its source.
func rows(t testing.TB, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("../../../testdata/checks/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, rec := range all[1:] {
		m := map[string]string{}
		for i, c := range all[0] {
			m[c] = rec[i]
		}
		out = append(out, m)
	}
	return out
}

func num(t testing.TB, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func triple(t *testing.T, text, between string) [3]float64 {
	t.Helper()
	parts := strings.Split(text, between)
	if len(parts) != 3 {
		t.Fatalf("%q is not three numbers", text)
	}
	return [3]float64{num(t, parts[0]), num(t, parts[1]), num(t, parts[2])}
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.12g, want %.12g within %g", what, got, want, tolerance)
	}
}

func TestPublishedSRGB(t *testing.T) {
	n := 0
	for _, r := range rows(t, "03_srgb_xyz_lab_d65.csv") {
		n++
		c := triple(t, r["srgb_0_1"], ",")
		x, y, z := xyz(linear(c[0]), linear(c[1]), linear(c[2]))
		lab, err := FromSRGB(c[0], c[1], c[2])
		if err != nil {
			t.Fatal(err)
		}
		wantXYZ, wantLab := triple(t, r["XYZ_D65"], ","), triple(t, r["Lab_D65"], ",")
		tolXYZ, tolLab := num(t, r["tol_XYZ"]), num(t, r["tol_Lab"])
		for i, got := range []float64{x, y, z} {
			near(t, r["hex"]+" XYZ", got, wantXYZ[i], tolXYZ)
		}
		for i, got := range []float64{lab.L, lab.A, lab.B} {
			near(t, r["hex"]+" Lab", got, wantLab[i], tolLab)
		}
		// The same matrix reckoned to 30 digits elsewhere.
		more := triple(t, r["recomputed_XYZ_Lindbloom_matrix"], ";")
		for i, got := range []float64{x, y, z} {
			near(t, r["hex"]+" XYZ, more digits", got, more[i], 1e-9)
		}
	}
	if n != 15 {
		t.Errorf("%d colours were checked, want 15", n)
	}
}

func TestPublishedConstants(t *testing.T) {
	n := 0
	for _, r := range rows(t, "03_white_points_constants.csv") {
		n++
		switch r["id"] {
		case "WP-D65":
			if w := triple(t, r["expected"], ";"); w != [3]float64{whiteX, whiteY, whiteZ} {
				t.Errorf("white %v", w)
			}
		case "WP-M":
			x, y, z := xyz(1, 10, 100) // each digit place is one column's
			for i, row := range strings.Split(r["expected"], "/") {
				m := triple(t, strings.TrimSpace(row), " ")
				near(t, "matrix", []float64{x, y, z}[i], m[0]+10*m[1]+100*m[2], 1e-12)
			}
		case "WP-K":
			near(t, "where the parts join", kappa*epsilon, 8, 1e-12)
			near(t, "slope", labF(epsilon/2), (8.0/2+16)/116, 1e-15)
		case "WP-T":
			near(t, "straight part", linear(0.04045), 0.04045/12.92, 0)
			near(t, "curved part", linear(0.5), math.Pow(0.555/1.055, 2.4), 1e-15)
		case "WP-C":
			c, err := Parse("colour", "#808080")
			if err != nil {
				t.Fatal(err)
			}
			near(t, r["id"], c.L, num(t, r["expected"]), num(t, r["tolerance"]))
		default:
			t.Errorf("%s was not checked", r["id"])
		}
	}
	if n != 5 {
		t.Errorf("%d constants were checked, want 5", n)
	}
}

func TestParse(t *testing.T) {
	for text, want := range map[string]Lab{
		"94,-0.8,2.1":      {94, -0.8, 2.1},
		" 50, -2.5 ,3 ":    {50, -2.5, 3},
		"0,-200,200":       {0, -200, 200},
		"1e2,-.5,+3":       {100, -0.5, 3},
		"#000000":          {},
		"50,-0,0":          {50, 0, 0},
		"100,-0.00,199.99": {100, 0, 199.99},
	} {
		got, err := Parse("colour", text)
		if err != nil || math.Abs(got.L-want.L)+math.Abs(got.A-want.A)+math.Abs(got.B-want.B) > 1e-9 {
			t.Errorf("%q: %v %v", text, got, err)
		}
		if again, err := Parse("colour", got.String()); err != nil || again != got {
			t.Errorf("%q: %s came back as %v %v", text, got, again, err)
		}
	}
	for _, text := range []string{
		"", "50", "50,1", "50,1,2,3", "50,,2", "50;1;2", "L,a,b", "NaN,0,0", "50,Inf,0", "50,0x1,0", "1e400,0,0",
		"-1,0,0", "100.01,0,0", "50,200.1,0", "50,0,-201", "#12345", "#1234567", "#12345g", "\x00,1,2", strings.Repeat("9,", 500),
	} {
		got, err := Parse("colour", text)
		if err == nil || fault.KindOf(err) != fault.Invalid || strings.ContainsAny(err.Error(), "\n\x00") || len(err.Error()) > 200 {
			t.Errorf("%q: %v %v", text, got, err)
		}
	}
	if _, err := FromSRGB(0, 1.01, 0); err == nil {
		t.Error("a channel above 1 was accepted")
	}
	if _, err := FromSRGB(math.NaN(), 0, 0); err == nil {
		t.Error("a channel that is no number was accepted")
	}
}

func TestNearest(t *testing.T) {
	want := Lab{60, 0, 0}
	stock := []Stocked{{"white", Lab{94, -0.8, 2.1}}, {"grey-b", Lab{61, -0.4, -1.6}}, {"grey-a", Lab{61, -0.4, -1.6}}, {"black", Lab{18, 0, 0}}}
	got := Ranked(want, stock)
	var order []string
	for i, m := range got {
		order = append(order, m.ID)
		if m.Difference != Difference(want, m.Lab) {
			t.Errorf("%s: %v", m.ID, m.Difference)
		}
		if i > 0 && got[i-1].Difference > m.Difference {
			t.Errorf("%s stands behind %s", m.ID, got[i-1].ID)
		}
	}
	if s := strings.Join(order, " "); s != "grey-a grey-b white black" && s != "grey-a grey-b black white" {
		t.Errorf("order %s", s)
	}
	if m, ok := Nearest(want, stock); !ok || m != got[0] {
		t.Errorf("nearest %v %v", m, ok)
	}
	if m, ok := Nearest(want, nil); ok || Ranked(want, nil) == nil {
		t.Errorf("out of an empty shelf: %v", m)
	}
}

// A grey of sRGB is grey, and the brighter the lighter.
func TestGreys(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(0, 0.999).Draw(t, "v")
		dark, _ := FromSRGB(v, v, v)
		light, _ := FromSRGB(v+0.001, v+0.001, v+0.001)
		if math.Abs(dark.A) > 1e-4 || math.Abs(dark.B) > 1e-4 || !(light.L > dark.L) {
			t.Fatalf("%v: %v, then %v", v, dark, light)
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"50,-2.5,3", "#e8e6df", "1e9,1e-9,.", "\xff,\xff,\xff"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		c, err := Parse("colour", s)
		if err != nil {
			if fault.KindOf(err) != fault.Invalid || strings.ContainsAny(err.Error(), "\n\r\x00") {
				t.Errorf("%q: %v", s, err)
			}
			return
		}
		if c.Check("colour") != nil {
			t.Errorf("%q was read as %v", s, c)
		}
		if d := Difference(c, Lab{50, 10, -10}); !(d >= 0) {
			t.Errorf("%q: difference %v", s, d)
		}
		if again, err := Parse("colour", c.String()); err != nil || again != c {
			t.Errorf("%q: %v came back as %v", s, c, again)
		}
	})
}
