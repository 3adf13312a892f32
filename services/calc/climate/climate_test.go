package climate

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

// rows reads a table of published check values; source and provenance of
// each row stand in its own columns.
func rows(t *testing.T, name string) []map[string]string {
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

// inputs splits "T_C=5;RH=80".
func inputs(t *testing.T, text string) map[string]float64 {
	t.Helper()
	out := map[string]float64{}
	for _, part := range strings.Split(text, ";") {
		k, v, ok := strings.Cut(part, "=")
		if !ok {
			continue
		}
		out[k] = num(t, v)
	}
	return out
}

func num(t *testing.T, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// humidityByWetBulb is the psychrometer formula of WMO-No. 8, annex on
// humidity, at 1013.25 hPa: the coefficients are from memory.
func humidityByWetBulb(dryC, wetC float64) float64 {
	es := func(c float64) float64 { return 6.112 * math.Exp(magnusA*c/(magnusB+c)) }
	e := es(wetC) - 6.53e-4*(1+0.000944*wetC)*1013.25*(dryC-wetC)
	return 100 * e / es(dryC)
}

func celsius(f float64) float64    { return (f - 32) / 1.8 }
func fahrenheit(c float64) float64 { return c*1.8 + 32 }

func TestDewPointTable(t *testing.T) {
	checked := 0
	for _, row := range rows(t, "02_dewpoint.csv") {
		// Rows of other coefficients or of a rule of thumb check other formulas.
		if strings.HasPrefix(row["id"], "DPM-A") || row["id"] == "DPT-8" || row["id"] == "DPT-9" {
			continue
		}
		in := inputs(t, row["inputs"])
		temp, ok := in["T_C"]
		if !ok {
			temp = celsius(in["T_F"])
		}
		got, err := DewPoint(temp, in["RH"])
		if err != nil {
			t.Fatalf("%s: %v", row["id"], err)
		}
		if row["unit"] == "F" {
			got = fahrenheit(got)
		}
		if want := num(t, row["expected"]); math.Abs(got-want) > num(t, row["tolerance"]) {
			t.Errorf("%s: dew point %.4f, want %.4f within %s (%s)", row["id"], got, want, row["tolerance"], row["source"])
		}
		checked++
	}
	if checked < 75 {
		t.Errorf("only %d rows were checked", checked)
	}
}

func TestDewPointChart(t *testing.T) {
	checked := 0
	for _, row := range rows(t, "02_dewpoint_chart_F.csv") {
		got, err := DewPoint(celsius(num(t, row["air_T_F"])), num(t, row["RH_pct"]))
		if err != nil {
			t.Fatalf("%s: %v", row["id"], err)
		}
		if want := num(t, row["expected_dewpoint"]); math.Abs(fahrenheit(got)-want) > num(t, row["tolerance"]) {
			t.Errorf("%s: dew point %.2f F, chart says %g within %s", row["id"], fahrenheit(got), want, row["tolerance"])
		}
		checked++
	}
	if checked < 96 {
		t.Errorf("only %d rows of the chart were checked", checked)
	}
}

// Air whose vapour pressure is the saturation pressure of a lower
// temperature has its dew point there. The pressures are those of the ASHRAE
// Handbook Fundamentals 2017, chapter 1, table 3, which is not Magnus.
func TestDewPointFromVapourPressures(t *testing.T) {
	es := map[string]float64{}
	for _, row := range rows(t, "02_satvap.csv") {
		if strings.HasPrefix(row["id"], "SVP-H") {
			es[strings.TrimPrefix(row["inputs"], "T_C=")] = num(t, row["expected"])
		}
	}
	for _, pair := range [][2]string{{"25", "5"}, {"50", "25"}, {"50", "5"}} {
		got, err := DewPoint(num(t, pair[0]), 100*es[pair[1]]/es[pair[0]])
		if err != nil {
			t.Fatal(err)
		}
		if want := num(t, pair[1]); math.Abs(got-want) > 0.05 {
			t.Errorf("air of %s °C saturated at %s °C: dew point %.3f", pair[0], pair[1], got)
		}
	}
}

func TestRuleTable(t *testing.T) {
	checked := 0
	for _, row := range rows(t, "02_dewpoint_rule.csv") {
		want := OK
		if strings.HasPrefix(row["expected"], "REJECT") {
			want = Hold
		} else if !strings.HasPrefix(row["expected"], "ACCEPT") {
			continue
		}
		in := inputs(t, row["inputs"])
		temp, surface := in["T_air_C"], in["surface_C"]
		switch row["id"] {
		case "DPR-2": // humidity by wet bulb
			in["RH"] = humidityByWetBulb(temp, in["Twet_C"])
		case "DPR-4": // about humidity alone: a warm surface
			temp, surface = 20, 40
		}
		a, err := Assess(temp, in["RH"], &surface)
		if err != nil {
			t.Fatal(err)
		}
		if a.Verdict != want || (len(a.Reasons) == 0) != (want == OK) {
			t.Errorf("%s: %+v, want %s (%s)", row["id"], a, want, row["source"])
		}
		checked++
	}
	if checked != 5 {
		t.Errorf("%d rules were checked, want 5", checked)
	}
}

func TestHoldNamesEveryReason(t *testing.T) {
	surface := 12.0
	a, err := Assess(12, 90, &surface)
	if err != nil {
		t.Fatal(err)
	}
	if a.Verdict != Hold || len(a.Reasons) != 2 {
		t.Errorf("%+v: want a hold for the surface and one for the humidity", a)
	}
	a, err = Assess(20, 50, nil)
	if err != nil || a.Verdict != Hold || a.MarginK != nil || len(a.Reasons) != 1 {
		t.Errorf("unknown surface: %+v %v, want a hold without margin", a, err)
	}
	surface = 30
	if a, err = Assess(20, 85, &surface); err != nil || a.Verdict != OK {
		t.Errorf("85 %% exactly: %+v %v, want ok (not above 85)", a, err)
	}
}

func TestRanges(t *testing.T) {
	warm := 20.0
	for _, c := range []struct {
		name              string
		temp, rh, surface float64
	}{
		{"cold", -40.01, 50, warm},
		{"hot", 60.01, 50, warm},
		{"dry", 20, 0, warm},
		{"negative", 20, -1, warm},
		{"wet", 20, 100.01, warm},
		{"no temperature", math.NaN(), 50, warm},
		{"no humidity", 20, math.NaN(), warm},
		{"infinite", math.Inf(1), 50, warm},
		{"surface too cold", 20, 50, -61},
		{"surface not a number", 20, 50, math.NaN()},
	} {
		a, err := Assess(c.temp, c.rh, &c.surface)
		if err == nil {
			t.Errorf("%s: %+v was accepted", c.name, a)
			continue
		}
		if fault.KindOf(err) != fault.Invalid || a.Verdict != "" {
			t.Errorf("%s: %v with verdict %q, want invalid and no verdict", c.name, err, a.Verdict)
		}
	}
	for _, edge := range [][2]float64{{-40, 100}, {60, 100}, {-40, 1e-300}, {60, 1e-300}} {
		if d, err := DewPoint(edge[0], edge[1]); err != nil || math.IsNaN(d) || math.IsInf(d, 0) {
			t.Errorf("%v: %v %v", edge, d, err)
		}
	}
}

// The dew point is never above the air, meets it at saturation, and rises
// with humidity.
func TestDewPointProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		temp := rapid.Float64Range(MinAirC, MaxAirC).Draw(t, "temp")
		rh := rapid.Float64Range(0.01, 99).Draw(t, "rh")
		more := rapid.Float64Range(0.01, 1).Draw(t, "more")
		low, err1 := DewPoint(temp, rh)
		high, err2 := DewPoint(temp, rh+more)
		full, err3 := DewPoint(temp, 100)
		if err1 != nil || err2 != nil || err3 != nil {
			t.Fatal(err1, err2, err3)
		}
		if !(low < high && high <= full+1e-9 && math.Abs(full-temp) < 1e-9) {
			t.Fatalf("dew points %g, %g, %g at %g °C", low, high, full, temp)
		}
	})
}

// A surface below the dew point is said to be below it, not a minus above.
func TestReasonSaysAboveOrBelow(t *testing.T) {
	for _, c := range []struct {
		surface float64
		want    string
	}{
		{12, "surface 12.0 °C (54 °F) is 2.74 K (4.9 °F) above the dew point 9.3 °C (49 °F); at least 3 K (5.4 °F) are needed: warm the panel or dry the air"},
		{-41, "surface -41.0 °C (-42 °F) is 50.26 K (90.5 °F) below the dew point 9.3 °C (49 °F); water settles on it, and it must be at least 3 K (5.4 °F) above: warm the panel or dry the air"},
	} {
		a, err := Assess(20, 50, &c.surface)
		if err != nil || len(a.Reasons) != 1 || a.Reasons[0] != c.want {
			t.Errorf("%g °C: %q, %v, want %q", c.surface, a.Reasons, err, c.want)
		}
	}
}

// What is held never reads as if it were just allowed: 85.04 % rounds to the
// 85 % that pass, 2.998 K to the 3 K that are needed (arithmetic).
func TestAHoldDoesNotRoundToItsLimit(t *testing.T) {
	surface := 30.0
	a, err := Assess(20, 85.04, &surface)
	if err != nil || len(a.Reasons) != 1 || !strings.HasPrefix(a.Reasons[0], "relative humidity 85.04 % is above 85 %") {
		t.Errorf("%v %v", a.Reasons, err)
	}
	surface = 30.1975
	a, err = Assess(30, 85, &surface)
	const want = "surface 30.1975 °C (86 °F) is 2.998 K (5.397 °F) above the dew point 27.1990 °C (81 °F); at least 3 K (5.4 °F) are needed"
	if err != nil || len(a.Reasons) != 1 || !strings.HasPrefix(a.Reasons[0], want) {
		t.Errorf("%v %v", a.Reasons, err)
	}
	for k, want := range map[float64]string{
		3: "3.0 K (5.4 °F) above", 3.04: "3.0 K (5.5 °F) above", 2.96: "2.96 K (5.3 °F) above", 2.74: "2.7 K (4.9 °F) above",
		3 - slackK/2: "3.0 K (5.4 °F) above", -0.004: "0.004 K (0.01 °F) below", 0: "0.0 K (0.0 °F) above",
	} {
		if got := ShowMargin(k, 1); got != want {
			t.Errorf("%v K: %s, want %s", k, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		rh := 85 + rapid.Float64Range(1e-9, 0.06).Draw(t, "rh above 85")
		dew, err := DewPoint(30, rh)
		if err != nil {
			t.Fatal(err)
		}
		surface := dew + 3 - rapid.Float64Range(2e-9, 0.06).Draw(t, "short of 3 K")
		a, err := Assess(30, rh, &surface)
		if err != nil || len(a.Reasons) != 2 {
			t.Fatal(a, err)
		}
		_, margin, _ := strings.Cut(a.Reasons[0], " is ")
		margin, _, _ = strings.Cut(margin, " K")
		percent, _, _ := strings.Cut(strings.TrimPrefix(a.Reasons[1], "relative humidity "), " %")
		if m, err := strconv.ParseFloat(margin, 64); err != nil || m >= 3 {
			t.Fatalf("%v K short: %s", 3-(surface-dew), a.Reasons[0])
		}
		if h, err := strconv.ParseFloat(percent, 64); err != nil || h <= 85 {
			t.Fatalf("%v %%: %s", rh, a.Reasons[1])
		}
	})
}
