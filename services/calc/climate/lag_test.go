package climate

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"seamwright/services/fault"
)

func must[T any](x T, err error) T {
	if err != nil {
		panic(err)
	}
	return x
}

// The rows name their sources; rows about another thermometer scale use the
// law in °F, since only differences and ratios enter it.
func TestPublishedLags(t *testing.T) {
	checked := 0
	for _, row := range rows(t, "07_thermal.csv") {
		in := map[string]float64{}
		for part := range strings.SplitSeq(row["inputs"], ";") {
			if k, v, ok := strings.Cut(strings.TrimPrefix(part, "AISI 1010 plate 40 mm"), "="); ok {
				if strings.HasPrefix(k, "T(30") { // with its unit or without
					k = "T30"
				}
				if v == "tau" {
					continue
				}
				in[k] = num(t, strings.TrimSuffix(v, "F"))
			}
		}
		var got float64
		switch id := row["id"]; {
		case id == "THM-1":
			p := Panel{40, 2, in["h"], in["rho"], in["c"], 42.5} // conductivity: the row's note
			got = must(TimeTo(in["Ti"], in["Tinf"], in["T"], must(p.TimeConstantS())))
		case id == "THM-2":
			got = Panel{ThicknessMM: 2000 * in["Lc"], Faces: 2, FilmWM2K: in["h"], ConductorWMK: in["k"]}.Biot()
		case id == "THM-4":
			got = must(TimeTo(in["Ti"], in["Tinf"], in["T"], in["tau"]))
		case strings.HasPrefix(id, "THM-P-"):
			p := SteelPanel(in["t_mm"], int(in["faces"]))
			p.FilmWM2K = in["h"]
			if p.DensityKgM3 != in["rho"] || p.HeatJKgK != in["c"] {
				t.Errorf("%s: steel is %+v", id, p)
			}
			got = must(p.TimeConstantS())
		case id == "THM-5":
			got = must(TempAfter(in["Ti"], in["Tinf"], in["tau_s"], in["t_s"]))
		case id == "THM-7":
			got = must(TempAfter(0, 1, 140, 140))
		case id == "THM-N1":
			got = 1 / (must(TimeConstantSeen(in["T0"], in["T30"], in["Ts"], 30*60)) / 60)
		case id == "THM-N3": // as THM-N1, to 100 F
			got = must(TimeTo(185, 75, 100, must(TimeConstantSeen(185, 150, 75, 30))))
		case id == "THM-N4":
			got = 1 / must(TimeConstantSeen(in["T0"], in["T30"], in["Ts"], 30))
		default:
			t.Errorf("%s was not checked", id)
			continue
		}
		checked++
		if want := num(t, row["expected"]); !(math.Abs(got-want) <= num(t, row["tolerance"])) {
			t.Errorf("%s: %.10g, want %g within %s (%s)", row["id"], got, want, row["tolerance"], row["source"])
		}
	}
	if checked != 12 {
		t.Errorf("%d rows were checked, want 12", checked)
	}
}

func TestRefusedLags(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	thick := SteelPanel(0.8, 1)
	thick.ThicknessMM, thick.FilmWM2K = 100, 100
	hollow, bare := SteelPanel(0.8, 1), SteelPanel(0.8, 1)
	hollow.DensityKgM3, bare.ConductorWMK = 0, nan
	for what, p := range map[string]Panel{
		"no thickness": SteelPanel(0, 1), "no face": SteelPanel(0.8, 0), "three faces": SteelPanel(0.8, 3),
		"unknown thickness": SteelPanel(nan, 1), "too thick": thick, "no density": hollow, "no conductivity": bare, "empty": {},
	} {
		if tau, err := p.TimeConstantS(); err == nil || fault.KindOf(err) != fault.Invalid {
			t.Errorf("%s: %v %v", what, tau, err)
		}
	}
	for what, f := range map[string]func() (float64, error){
		"before the start":   func() (float64, error) { return TempAfter(8, 22, 140, -1) },
		"unknown moment":     func() (float64, error) { return TempAfter(8, 22, 140, nan) },
		"no lag":             func() (float64, error) { return TempAfter(8, 22, 0, 1) },
		"unknown start":      func() (float64, error) { return TempAfter(nan, 22, 140, 1) },
		"unknown air":        func() (float64, error) { return TempAfter(8, inf, 140, 1) },
		"away from the air":  func() (float64, error) { return TimeTo(8, 22, 7, 140) },
		"beyond the air":     func() (float64, error) { return TimeTo(8, 22, 23, 140) },
		"the air itself":     func() (float64, error) { return TimeTo(8, 22, 22, 140) },
		"unknown target":     func() (float64, error) { return TimeTo(8, 22, nan, 140) },
		"no time between":    func() (float64, error) { return TimeConstantSeen(8, 15, 22, 0) },
		"nothing happened":   func() (float64, error) { return TimeConstantSeen(8, 8, 22, 60) },
		"went the wrong way": func() (float64, error) { return TimeConstantSeen(8, 7, 22, 60) },
	} {
		if x, err := f(); err == nil || fault.KindOf(err) != fault.Invalid {
			t.Errorf("%s: %v %v", what, x, err)
		}
	}
	if s := must(TimeTo(8, 22, 8, 140)); s != 0 {
		t.Errorf("already there: %v s", s)
	}
}

// A panel nears the air without passing it, and the three questions about it
// answer each other.
func TestLagProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		start, air := rapid.Float64Range(-20, 80).Draw(t, "start"), rapid.Float64Range(-20, 80).Draw(t, "air")
		if math.Abs(start-air) < 0.01 {
			t.Skip("no step")
		}
		tau := rapid.Float64Range(10, 2000).Draw(t, "tau")
		s := tau * rapid.Float64Range(0.01, 8).Draw(t, "periods")
		early, late := must(TempAfter(start, air, tau, s)), must(TempAfter(start, air, tau, 1.1*s))
		if !(math.Abs(late-air) < math.Abs(early-air) && math.Abs(early-air) < math.Abs(start-air) &&
			(late > air) == (start > air)) {
			t.Fatalf("%v °C in air of %v: %v, then %v", start, air, early, late)
		}
		if got := must(TimeTo(start, air, early, tau)); math.Abs(got-s) > 1e-6*s {
			t.Fatalf("%v after %v s, time to it %v", early, s, got)
		}
		if got := must(TimeConstantSeen(start, early, air, s)); math.Abs(got-tau) > 1e-6*tau {
			t.Fatalf("time constant %v, seen %v", tau, got)
		}
	})
}
