package quantity

import (
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"seamwright/services/fault"
)

func TestRoundingForDisplay(t *testing.T) {
	for _, c := range []struct {
		x      float64
		places int
		want   string
	}{
		{2.5, 0, "3"},
		{-2.5, 0, "-3"},
		{2.675, 2, "2.68"},
		{0.05, 1, "0.1"},
		{-0.04, 1, "0.0"},
		{1.005, 2, "1.01"},
		{0, 2, "0.00"},
		{1e15, 0, "1000000000000000"},
		{math.NaN(), 1, "unknown"},
		{math.Inf(1), 1, "unknown"},
	} {
		if got := Round(c.x, c.places); got != c.want {
			t.Errorf("Round(%v, %d) = %s, want %s", c.x, c.places, got, c.want)
		}
	}
}

func TestShownMeasures(t *testing.T) {
	for got, want := range map[string]string{
		Temperature(21.06).Show(Metric):       "21.1 °C",
		Temperature(21.06).Show(US):           "70 °F",
		Temperature(-0.04).Show(Metric):       "0.0 °C",
		TemperatureDifference(3).Show(Metric): "3.0 K",
		TemperatureDifference(3).Show(US):     "5.4 °F",
		Length(12.7).Show(Metric):             "12.7 mm",
		Length(12.7).Show(US):                 "0.50 in",
		Length(1400).Show(Metric):             "1400 mm",
		Length(1400).Show(US):                 "55.1 in",
		Area(14.13716694).Show(Metric):        "14.1 mm²",
		Area(645.16).Show(US):                 "1.0000 in²",
		Volume(8.236).Show(Metric):            "8.24 ml",
		Volume(82.36).Show(Metric):            "82.4 ml",
		Volume(823.6).Show(Metric):            "824 ml",
		Volume(12345.6).Show(Metric):          "12346 ml",
		Volume(29.5735295625).Show(US):        "1.00 fl oz",
		Mass(260.4).Show(Metric):              "260 g",
		Mass(26.04).Show(Metric):              "26.0 g",
		Mass(28.349523125).Show(US):           "1.00 oz",
		Duration(45.4).Show():                 "45 s",
		Duration(119.4).Show():                "119 s",
		Duration(119.6).Show():                "2 min",
		Duration(900).Show():                  "15 min",
		Duration(7170).Show():                 "2 h 00 min",
		Duration(7500).Show():                 "2 h 05 min",
		Duration(-7500).Show():                "-2 h 05 min",
		Duration(-0.2).Show():                 "0 s",
		Duration(math.NaN()).Show():           "unknown",
		Volume(math.NaN()).Show(Metric):       "unknown ml",
	} {
		if got != want {
			t.Errorf("shown as %q, want %q", got, want)
		}
	}
}

// What is shown is never further off than half of its last place.
func TestShownWithinHalfAPlace(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(-1e9, 1e9).Draw(t, "x")
		places := rapid.IntRange(0, 6).Draw(t, "places")
		got, err := strconv.ParseFloat(Round(x, places), 64)
		if err != nil || math.Abs(got-x) > 0.5*math.Pow10(-places)*(1+1e-9)+1e-15*math.Abs(x) {
			t.Fatalf("%v with %d places: %v %v", x, places, got, err)
		}
	})
}

func must[T any](x T, err error) T {
	if err != nil {
		panic(err)
	}
	return x
}

func TestMoney(t *testing.T) {
	price := must(ParseMoney("price", "31.50 USD"))
	if price.String() != "31.5 USD" || price.Show() != "31.50 USD" || price.Currency() != "USD" || price.Amount() != "31.5" {
		t.Errorf("%s, %s", price, price.Show())
	}
	// 47 of 200 ml: 7.4025, shown to the cent.
	part := must(price.Times(47.0 / 200))
	if part.Amount() != "7.4025" || part.Show() != "7.40 USD" {
		t.Errorf("%s, %s", part, part.Show())
	}
	sum := must(part.Plus(must(NewMoney("x", "-7.40", "USD"))))
	if sum.Amount() != "0.0025" || sum.Show() != "0.00 USD" {
		t.Errorf("%s, %s", sum, sum.Show())
	}
	if got := must(NewMoney("x", "-0.004", "USD")).Show(); got != "0.00 USD" {
		t.Error(got)
	}
	if got := must(NewMoney("x", "1250.5", "JPY")).Show(); got != "1251 JPY" { // ISO 4217: no smaller coin
		t.Error(got)
	}
	if got := must(NewMoney("x", "1.2345", "KWD")).Show(); got != "1.235 KWD" {
		t.Error(got)
	}
	if got := must(Money{}.Plus(price)); got != price {
		t.Error(got)
	}
	if got := must(price.Plus(Money{})); got != price {
		t.Error(got)
	}
	if (Money{}).Show() != "unknown" || (Money{}).String() != "unknown" {
		t.Error("no amount is not said to be unknown")
	}
}

func TestRefusedMoney(t *testing.T) {
	for _, text := range []string{
		"", "31.50", "USD", "31.50 usd", "31.50 US", "31,50 USD", "1e3 USD", "+1 USD", "01 USD", "1.23456 USD", ". USD", "1. USD",
		"1000000000000 USD", "NaN USD", "1 USD USD",
	} {
		if m, err := ParseMoney("price", text); err == nil || fault.KindOf(err) != fault.Invalid {
			t.Errorf("%q: %v %v", text, m, err)
		}
	}
	usd, eur := must(ParseMoney("x", "1 USD")), must(ParseMoney("x", "1 EUR"))
	if m, err := usd.Plus(eur); err == nil {
		t.Errorf("two currencies added up to %v", m)
	}
	for _, x := range []float64{math.NaN(), math.Inf(1), 1e300} {
		if m, err := usd.Times(x); err == nil {
			t.Errorf("%v: %v", x, m)
		}
	}
	most := must(must(ParseMoney("x", "900000000000 USD")).Times(1000))
	if m, err := most.Plus(most); err == nil {
		t.Errorf("beyond what can be held: %v", m)
	}
	if m, err := must(most.Times(-1)).Plus(must(most.Times(-1))); err == nil {
		t.Errorf("beyond what can be held: %v", m)
	}
}

// Parts of a price add up to the price, however it is cut, to a
// ten-thousandth a part.
func TestPartsOfAPrice(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		price := Money{parts: rapid.Int64Range(0, 1e9).Draw(t, "parts"), currency: "USD"}
		share := rapid.Float64Range(0, 1).Draw(t, "share")
		a, b := must(price.Times(share)), must(price.Times(1-share))
		sum := must(a.Plus(b))
		if d := sum.parts - price.parts; d < -1 || d > 1 {
			t.Fatalf("%v cut at %v: %v and %v", price, share, a, b)
		}
	})
}

func TestBothSystemsAndSeconds(t *testing.T) {
	for got, want := range map[string]string{
		Both(Length(12.7)): "12.7 mm (0.50 in)", Both(Temperature(20)): "20.0 °C (68 °F)", Both(Volume(29.5735295625)): "29.6 ml (1.00 fl oz)",
		Duration(270).ShowSeconds(): "4 min 30 s", Duration(45).ShowSeconds(): "45 s", Duration(59.6).ShowSeconds(): "1 min", Duration(720).ShowSeconds(): "12 min",
		Duration(-75).ShowSeconds(): "-1 min 15 s", Duration(3599.6).ShowSeconds(): "60 min", Duration(7500).ShowSeconds(): "2 h 05 min",
		Duration(0).ShowSeconds(): "0 s", Duration(math.NaN()).ShowSeconds(): "unknown",
	} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

func TestShownApart(t *testing.T) {
	for _, c := range []struct {
		x, from float64
		places  int
		want    string
	}{
		{85.04, 85, 1, "85.04"},
		{85.6, 85, 1, "85.6"},
		{85, 85, 1, "85.0"},
		{85.0000001, 85, 1, "85.0000001"},
		{2.998, 3, 2, "2.998"},
		{2.9961, 3, 2, "2.996"},
		{2.74, 3, 2, "2.74"},
		{1e-30, 0, 1, "1e-30"},
		{-0.04, 0, 1, "-0.04"},
		{math.NaN(), 3, 1, "unknown"},
		{math.Nextafter(3, 0), 3, 1, "2.9999999999999996"},
	} {
		if got := Apart(c.x, c.from, c.places); got != c.want {
			t.Errorf("Apart(%v, %v, %d) = %s, want %s", c.x, c.from, c.places, got, c.want)
		}
	}
}

// Two numbers that differ never look alike, and the written one lies on the
// side where it is.
func TestWhatDiffersLooksDifferent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from := rapid.Float64Range(-200, 200).Draw(t, "from")
		x := from + rapid.Float64Range(-1, 1).Draw(t, "off")*math.Pow10(-rapid.IntRange(0, 12).Draw(t, "size"))
		got := Apart(x, from, 1)
		y, err := strconv.ParseFloat(got, 64)
		if err != nil || x != from && (y == from || (y > from) != (x > from)) {
			t.Fatalf("%v beside %v is written %s", x, from, got)
		}
	})
}
