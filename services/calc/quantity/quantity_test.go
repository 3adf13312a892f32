package quantity

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.15g, want %.15g within %g", what, got, want, tolerance)
	}
}

// The rows VOL-U name their sources; most of them are exact by definition.
func TestPublishedVolumeUnits(t *testing.T) {
	f, err := os.Open("../../../testdata/checks/04_volume.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	// Ratios of constants are exact in the language, so a tolerance of 0 holds.
	got := map[string]float64{
		"VOL-U1": MLPerGallon / MLPerInch3,
		"VOL-U2": MLPerGallon / 1000,
		"VOL-U3": MLPerFlOz,
		"VOL-U4": MLPerInch3,
		"VOL-U5": MLPerFlOz / MLPerInch3,
		"VOL-U6": MLPerInch3 / MLPerFlOz,
	}
	n := 0
	for _, r := range rows[1:] {
		x, ok := got[r[0]]
		if !ok {
			continue
		}
		n++
		want, err1 := strconv.ParseFloat(r[3], 64)
		tol, err2 := strconv.ParseFloat(r[4], 64)
		if err1 != nil || err2 != nil {
			t.Fatal(r)
		}
		near(t, r[0], x, want, tol)
	}
	if n != len(got) {
		t.Errorf("%d rows were checked, want %d", n, len(got))
	}
}

// Fixed points of the Fahrenheit scale (NIST SP 811, from memory): ice, steam
// and where the two scales meet.
func TestFixedPointsOfTemperature(t *testing.T) {
	for f, c := range map[float64]float64{32: 0, 212: 100, -40: -40, 70: 190.0 / 9} {
		near(t, "to C", Fahrenheit(f).C(), c, 1e-12)
		near(t, "to F", Temperature(c).F(), f, 1e-12)
	}
	near(t, "kelvin", Temperature(0).K(), 273.15, 0)
	near(t, "from kelvin", Kelvin(294.15).C(), 21, 1e-12)
	// A difference has no 32 in it.
	near(t, "3 K", TemperatureDifference(3).F(), 5.4, 1e-12)
	near(t, "difference", Fahrenheit(75).Minus(Fahrenheit(66)).K(), 5, 1e-12)
	near(t, "sum", Temperature(20).Plus(FahrenheitDegrees(9)).C(), 25, 1e-12)
}

func TestLengthsMakeAreasAndVolumes(t *testing.T) {
	near(t, "section", Length(6).Times(3).MM2(), 18, 0)
	near(t, "bead", Length(6).Times(3).Along(1000).ML(), 18, 1e-12)
	near(t, "reach", Volume(18).Over(18).MM(), 1000, 1e-9)
	// One cubic inch by its definition.
	near(t, "cubic inch", Inches(1).Times(Inches(1)).Along(Inches(1)).ML(), 16.387064, 1e-12)
	near(t, "yard", Feet(3).MM(), 914.4, 1e-9)
	near(t, "pound", Pounds(1).G(), 453.59237, 0)
	near(t, "ounces", Pounds(1).Oz(), 16, 0)
}

func TestStandardDurations(t *testing.T) {
	if got := Minutes(1.5).Std(); got != 90*time.Second {
		t.Errorf("%v", got)
	}
	if got := Duration(1e300).Std(); got != 1<<63-1 {
		t.Errorf("too long: %v", got)
	}
	if got := Duration(-1e300).Std(); got != -1<<63 {
		t.Errorf("too long ago: %v", got)
	}
}

// What goes out in a unit comes back as it was, up to the last bits.
func TestUnitRoundTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(-1e6, 1e6).Draw(t, "x")
		for what, got := range map[string]float64{
			"in":    Inches(Length(x).In()).MM(),
			"ft":    Feet(Length(x).Ft()).MM(),
			"in2":   SquareInches(Area(x).In2()).MM2(),
			"fl oz": FluidOunces(Volume(x).FlOz()).ML(),
			"oz":    Ounces(Mass(x).Oz()).G(),
			"lb":    Pounds(Mass(x).Lb()).G(),
			"F":     Fahrenheit(Temperature(x).F()).C(),
			"K":     Kelvin(Temperature(x).K()).C(),
			"dF":    FahrenheitDegrees(TemperatureDifference(x).F()).K(),
			"min":   Minutes(Duration(x).Min()).S(),
			"reach": Length(x).Times(2).Along(5).Over(10).MM(),
		} {
			if math.Abs(got-x) > 1e-12*math.Abs(x)+1e-9 {
				t.Fatalf("%s: %v came back as %v", what, x, got)
			}
		}
	})
}
