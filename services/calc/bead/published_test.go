package bead

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"seamwright/services/calc/quantity"
	"seamwright/services/calc/spec"
)

func number(t *testing.T, text string) float64 {
	t.Helper()
	above, below, fraction := strings.Cut(text, "/")
	x, err := strconv.ParseFloat(above, 64)
	if err != nil {
		t.Fatal(err)
	}
	if !fraction {
		return x
	}
	return x / number(t, below)
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.12g, want %.12g within %g", what, got, want, tolerance)
	}
}

func must[T any](x T, err error) T {
	if err != nil {
		panic(err)
	}
	return x
}

// published reckons the rows by the beginning of their id; f gets the row's
// inputs by name.
var published = map[string]func(t *testing.T, in func(string) float64) float64{
	// Linear feet a US gallon, of a rectangular joint.
	"VOL-Y": func(t *testing.T, in func(string) float64) float64 {
		a := quantity.Inches(in("w_in")).Times(quantity.Inches(in("d_in"))).MM2()
		gallon := quantity.Gallons(1).ML() // under the largest pack
		return quantity.Length(must(YieldMM(a, gallon))).Ft()
	},
	"VOL-M": func(t *testing.T, in func(string) float64) float64 {
		a := must(Section{Profile: spec.Ribbon, WidthMM: in("w_mm"), HeightMM: in("d_mm")}.AreaMM2())
		return must(YieldMM(a, in("V_mL"))) / 1000
	},
	"SEG-2": func(t *testing.T, in func(string) float64) float64 { return radius(in("c_in"), in("h_in")) },
	"SEG-4": func(t *testing.T, in func(string) float64) float64 { return radius(in("s"), in("h")) },
	// A segment by its arc and angle: the radius is arc / angle.
	"SEG-7": func(t *testing.T, in func(string) float64) float64 {
		u := in("angle_deg") * math.Pi / 180
		r := in("arc") / u
		return segment(2*r*math.Sin(u/2), r*(1-math.Cos(u/2)))
	},
	"SEG-8": func(t *testing.T, in func(string) float64) float64 {
		u, r := in("angle_deg")*math.Pi/180, in("r_in")
		return segment(2*r*math.Sin(u/2), r*(1-math.Cos(u/2)))
	},
	"SEC-SEG": func(t *testing.T, in func(string) float64) float64 {
		return must(Section{Profile: spec.Round, WidthMM: in("w_mm"), HeightMM: in("h_mm")}.AreaMM2())
	},
	"SEC-HR": func(t *testing.T, in func(string) float64) float64 {
		return must(Section{Profile: spec.Round, WidthMM: 2 * in("r_mm"), HeightMM: in("r_mm")}.AreaMM2())
	},
	"SEC-TRI": func(t *testing.T, in func(string) float64) float64 {
		return must(Section{Profile: spec.Fillet, WidthMM: in("a_mm"), HeightMM: in("b_mm")}.AreaMM2())
	},
	"SEC-RIB": func(t *testing.T, in func(string) float64) float64 {
		return must(Section{Profile: spec.Ribbon, WidthMM: in("w_mm"), HeightMM: in("t_mm")}.AreaMM2())
	},
	// n elements of L/D diameters each leave a share eps of the tube free.
	"MIX-7": func(t *testing.T, in func(string) float64) float64 {
		return in("eps") * must(EmptyTube(in("D_mm"), in("n")*in("LD")*in("D_mm"))).ML
	},
	"MIX-8": func(t *testing.T, in func(string) float64) float64 {
		return must(ResidenceS(HoldUp{ML: in("V_mL")}, in("Q_mL_min")))
	},
}

func TestPublishedVolumes(t *testing.T) {
	f, err := os.Open("../../../testdata/checks/04_volume.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]int{}
	for _, r := range rows[1:] {
		if strings.HasPrefix(r[0], "VOL-U") {
			continue // units: package quantity
		}
		in := func(name string) float64 {
			for part := range strings.SplitSeq(r[2], ";") {
				if k, v, _ := strings.Cut(part, "="); k == name {
					return number(t, v)
				}
			}
			t.Fatalf("%s: no input %s in %q", r[0], name, r[2])
			return 0
		}
		done := false
		for prefix, reckon := range published {
			if strings.HasPrefix(r[0], prefix) {
				seen[prefix]++
				done = true
				near(t, r[0]+" "+r[1], reckon(t, in), number(t, r[3]), number(t, r[4]))
			}
		}
		if !done {
			t.Errorf("%s was not checked", r[0])
		}
	}
	for prefix := range published {
		if seen[prefix] == 0 {
			t.Errorf("no row %s", prefix)
		}
	}
}
