package quantity

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"seamwright/services/fault"
)

var (
	anyLength = Limits[Length]{Least: -1e9, Most: 1e9}
	anyTemp   = Limits[Temperature]{Least: -ZeroCelsiusK, Most: 1e9}
)

func TestLengthsAsPeopleWriteThem(t *testing.T) {
	for text, mm := range map[string]float64{
		"12.5": 12.5, "12.5mm": 12.5, " 12.5 mm ": 12.5, "1.25 cm": 12.5, "0.5 m": 500,
		`1/2"`: 12.7, "1/2 in": 12.7, "1 1/2 inches": 38.1, "-3/8 IN": -9.525, "2 ft": 609.6, ".5 in": 12.7, "1e2": 100, "-0": 0,
	} {
		got, err := ParseLength("width", text, anyLength)
		if err != nil {
			t.Errorf("%q: %v", text, err)
			continue
		}
		near(t, text, got.MM(), mm, 1e-12*math.Abs(mm))
		if math.Signbit(got.MM()) != (mm < 0) {
			t.Errorf("%q: sign of %v", text, got)
		}
	}
}

func TestOtherMeasuresAsPeopleWriteThem(t *testing.T) {
	check := func(text string, got float64, err error, want float64) {
		t.Helper()
		if err != nil {
			t.Errorf("%q: %v", text, err)
			return
		}
		near(t, text, got, want, 1e-12*math.Abs(want)+1e-12)
	}
	for text, c := range map[string]float64{"21": 21, "21 °C": 21, "-5c": -5, "70 °F": 190.0 / 9, "-40F": -40, "294.15 K": 21} {
		x, err := ParseTemperature("t", text, anyTemp)
		check(text, x.C(), err, c)
	}
	for text, k := range map[string]float64{"3": 3, "3 K": 3, "3 °C": 3, "5.4 °F": 3} {
		x, err := ParseTemperatureDifference("t", text, Limits[TemperatureDifference]{Least: 0, Most: 100})
		check(text, x.K(), err, k)
	}
	for text, ml := range map[string]float64{"200": 200, "0.2 l": 200, "200 CC": 200, "1 fl oz": 29.5735295625, "1 in3": 16.387064, "1/2 gal": 1892.705892, "500 mm3": 0.5} {
		x, err := ParseVolume("v", text, Limits[Volume]{Least: 0, Most: 1e6})
		check(text, x.ML(), err, ml)
	}
	for text, mm2 := range map[string]float64{"18": 18, "18 mm2": 18, "1 cm²": 100, "1 sq in": 645.16} {
		x, err := ParseArea("a", text, Limits[Area]{Least: 0, Most: 1e6})
		check(text, x.MM2(), err, mm2)
	}
	for text, g := range map[string]float64{"260": 260, "0.26 kg": 260, "1 lb": 453.59237, "1 oz": 28.349523125, "5 mg": 0.005} {
		x, err := ParseMass("m", text, Limits[Mass]{Least: 0, Most: 1e6})
		check(text, x.G(), err, g)
	}
	for text, s := range map[string]float64{"90": 90, "1.5 min": 90, "1 h 30 min": 5400, "1h30min5s": 5405, "1/2 h": 1800, "2 d": 172800} {
		x, err := ParseDuration("d", text, Limits[Duration]{Least: 0, Most: 1e9})
		check(text, x.S(), err, s)
	}
}

func TestRefusedMeasuresNameValueLimitAndExample(t *testing.T) {
	lim := Limits[Length]{Least: 0.5, Most: 500}
	for _, text := range []string{
		"", " ", "mm", "twelve", "0x10", "1_000", "Inf", "NaN", "1e999", "12,5", "1/0", "1 2", "1 2 mm", "12 furlongs", "12 K",
		"0.4", "501", "20 in", "--1", "1/2/3", "12.5 mm mm", "\x00", "\xff", strings.Repeat("9", 400),
	} {
		x, err := ParseLength("width", text, lim)
		if err == nil {
			t.Errorf("%q: accepted as %v", text, x)
			continue
		}
		m := err.Error()
		if fault.KindOf(err) != fault.Invalid || !strings.HasPrefix(m, "width: ") ||
			!strings.Contains(m, "0.5 to 500 mm") || !strings.Contains(m, "1/2 in") || strings.ContainsAny(m, "\n\x00") {
			t.Errorf("%q: %v", text, err)
		}
	}
	for text, want := range map[string]string{
		"12 furlongs": "width: 12 furlongs: furlongs is no unit of length, give a length from 0.5 to 500 mm (0.02 in to 19.7 in), in mm, cm, m, in or ft (a number alone is mm), like 12.5 mm or 1/2 in",
		"20 in":       "width: 20 in: a length from 0.5 to 500 mm (0.02 in to 19.7 in), like 12.5 mm or 1/2 in",
		"twelve":      "width: twelve: a length from 0.5 to 500 mm (0.02 in to 19.7 in), in mm, cm, m, in or ft (a number alone is mm), like 12.5 mm or 1/2 in",
	} {
		if _, err := ParseLength("width", text, lim); err == nil || err.Error() != want {
			t.Errorf("%q: %v", text, err)
		}
	}
	if _, err := ParseVolume("v", "0 floz", Limits[Volume]{Most: 10000, Above: true}); err == nil || err.Error() != "v: 0 floz: a volume above 0 to 10000 ml (338 fl oz), like 200 ml or 6.8 fl oz" {
		t.Errorf("nothing: %v", err)
	}
	if _, err := ParseTemperature("t", "68 R", Limits[Temperature]{Least: -40, Most: 60}); err == nil || !strings.Contains(err.Error(), "R is no unit of temperature, give a temperature from -40 to 60 °C (-40 °F to 140 °F), in C, F or K (a number alone is °C)") {
		t.Errorf("another scale: %v", err)
	}
	for _, text := range []string{"1 min 1 h", "1 h 1 h", "1 h 30", "h", "1 h 30 x", "1..5 h 3 min"} {
		if x, err := ParseDuration("d", text, Limits[Duration]{Least: 0, Most: 1e9}); err == nil {
			t.Errorf("%q: accepted as %v", text, x)
		}
	}
	for _, text := range []string{"-300", "-500 F", "-1 K", "21 mm"} {
		if x, err := ParseTemperature("t", text, anyTemp); err == nil {
			t.Errorf("%q: accepted as %v", text, x)
		}
	}
	// A limit of no number lets nothing through.
	if _, err := ParseLength("width", "1", Limits[Length]{Least: Length(math.NaN()), Most: 5}); err == nil {
		t.Error("accepted without limits")
	}
}

func TestWrittenMeasuresReadBack(t *testing.T) {
	units := []string{"mm", "cm", "m", "in", "ft"}
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(-1e5, 1e5).Draw(t, "x")
		u, _ := unitOf(rapid.SampledFrom(units).Draw(t, "unit"), lengthUnits)
		got, err := ParseLength("x", strconv.FormatFloat(x, 'g', -1, 64)+u.names[0], anyLength)
		if err != nil || got.MM() != x*u.factor {
			t.Fatalf("%v %s: %v %v", x, u.names[0], got, err)
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"1 1/2 in", "1 h 30 min", "-40 °F", "6.8 fl oz", "31.50 USD", "1e400", "\xff", "0/0"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		look := func(x float64, err error, least, most float64) {
			if err == nil && !(x >= least && x <= most) {
				t.Errorf("%q gave %v", s, x)
			}
			if err != nil && (fault.KindOf(err) != fault.Invalid || strings.ContainsAny(err.Error(), "\n\r")) {
				t.Errorf("%q: error %q", s, err)
			}
		}
		l, err := ParseLength("x", s, Limits[Length]{Least: 0, Most: 1e4})
		look(l.MM(), err, 0, 1e4)
		a, err := ParseArea("x", s, Limits[Area]{Least: 0, Most: 1e4})
		look(a.MM2(), err, 0, 1e4)
		v, err := ParseVolume("x", s, Limits[Volume]{Least: 0, Most: 1e4})
		look(v.ML(), err, 0, 1e4)
		m, err := ParseMass("x", s, Limits[Mass]{Least: 0, Most: 1e4})
		look(m.G(), err, 0, 1e4)
		c, err := ParseTemperature("x", s, Limits[Temperature]{Least: -40, Most: 60})
		look(c.C(), err, -40, 60)
		k, err := ParseTemperatureDifference("x", s, Limits[TemperatureDifference]{Least: 0, Most: 60})
		look(k.K(), err, 0, 60)
		d, err := ParseDuration("x", s, Limits[Duration]{Least: 0, Most: 1e9})
		look(d.S(), err, 0, 1e9)
		if p, err := ParseMoney("x", s); err == nil {
			if again, err := ParseMoney("x", p.String()); err != nil || again != p {
				t.Errorf("%q: %v came back as %v, %v", s, p, again, err)
			}
		}
	})
}

// A comma is not read, since it may part thousands as well as decimals; the
// refusal says how to write the number.
func TestACommaIsToldHowToWrite(t *testing.T) {
	for text, want := range map[string]string{
		"8,5":      "write 8.5, with a point; a length above 0 to 1000 mm",
		"8,5 mm":   "write 8.5 mm, with a point; ",
		"0,25in":   "write 0.25in, with a point; ",
		"0,125":    "write 0.125, with a point; ",
		"1,400":    "write 1.400 with a point, or 1400 for thousands; ",
		"1,400.5":  "write 1400.5, without the comma; ",
		"8,5,5":    ",5,5 is no unit of length",
		"8,":       ", is no unit of length",
		"8 parsec": "parsec is no unit of length",
	} {
		_, err := ParseLength("width_mm", text, Limits[Length]{Most: 1000, Above: true})
		if err == nil || !strings.HasPrefix(err.Error(), "width_mm: "+text+": "+want) {
			t.Errorf("%s: %v", text, err)
		}
	}
	if _, err := ParseTemperature("temp_c", "-5,5C", Limits[Temperature]{Least: -40, Most: 60}); err == nil || !strings.Contains(err.Error(), "write -5.5C, with a point") {
		t.Error(err)
	}
	if _, err := ParseDuration("t", "1,5 h", Limits[Duration]{Most: 1e6}); err == nil || !strings.Contains(err.Error(), "write 1.5 h, with a point") {
		t.Error(err)
	}
	for _, text := range []string{"", "8.5", "8;5", ",5", "x,5", "50,2,3"} {
		if got := PointAdvice(text); got != "" {
			t.Errorf("%q: %s", text, got)
		}
	}
}
