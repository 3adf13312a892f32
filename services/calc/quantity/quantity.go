package quantity

import "time"

// Temperature is a temperature in °C.
type Temperature float64

// ZeroCelsiusK is 0 °C in kelvin, and so the coldest Temperature is its
// negative.
const ZeroCelsiusK = 273.15

// Fahrenheit makes a temperature out of °F.
func Fahrenheit(f float64) Temperature { return Temperature((f - 32) * 5 / 9) }

// Kelvin makes a temperature out of kelvin.
func Kelvin(k float64) Temperature { return Temperature(k - ZeroCelsiusK) }

// C is the temperature in °C.
func (t Temperature) C() float64 { return float64(t) }

// F is the temperature in °F.
func (t Temperature) F() float64 { return float64(t)*9/5 + 32 }

// K is the temperature in kelvin.
func (t Temperature) K() float64 { return float64(t) + ZeroCelsiusK }

// Minus is the difference t - u.
func (t Temperature) Minus(u Temperature) TemperatureDifference {
	return TemperatureDifference(t - u)
}

// Plus is the temperature d above t.
func (t Temperature) Plus(d TemperatureDifference) Temperature { return t + Temperature(d) }

// TemperatureDifference is a difference of temperatures in K: 3 K is 3 °C
// and 5.4 °F more, without the 32 that a temperature has.
type TemperatureDifference float64

// FahrenheitDegrees makes a difference out of degrees Fahrenheit.
func FahrenheitDegrees(f float64) TemperatureDifference { return TemperatureDifference(f * 5 / 9) }

// K is the difference in kelvin.
func (d TemperatureDifference) K() float64 { return float64(d) }

// F is the difference in degrees Fahrenheit.
func (d TemperatureDifference) F() float64 { return float64(d) * 9 / 5 }

// Length is a length in mm.
type Length float64

// Inches makes a length out of inches.
func Inches(in float64) Length { return Length(in * MMPerInch) }

// Feet makes a length out of feet.
func Feet(ft float64) Length { return Length(ft * MMPerFoot) }

// MM is the length in mm.
func (l Length) MM() float64 { return float64(l) }

// In is the length in inches.
func (l Length) In() float64 { return float64(l) / MMPerInch }

// Ft is the length in feet.
func (l Length) Ft() float64 { return float64(l) / MMPerFoot }

// Times is the area of a rectangle.
func (l Length) Times(w Length) Area { return Area(l * w) }

// Area is an area in mm².
type Area float64

// SquareInches makes an area out of square inches.
func SquareInches(in2 float64) Area { return Area(in2 * MM2PerInch2) }

// MM2 is the area in mm².
func (a Area) MM2() float64 { return float64(a) }

// In2 is the area in square inches.
func (a Area) In2() float64 { return float64(a) / MM2PerInch2 }

// Along is the volume of a bead of that section and length.
func (a Area) Along(l Length) Volume { return Volume(float64(a) * float64(l) * MLPerMM3) }

// Volume is a volume in ml.
type Volume float64

// FluidOunces makes a volume out of US fluid ounces.
func FluidOunces(oz float64) Volume { return Volume(oz * MLPerFlOz) }

// Gallons makes a volume out of US gallons.
func Gallons(gal float64) Volume { return Volume(gal * MLPerGallon) }

// ML is the volume in ml.
func (v Volume) ML() float64 { return float64(v) }

// FlOz is the volume in US fluid ounces.
func (v Volume) FlOz() float64 { return float64(v) / MLPerFlOz }

// Over is how long a bead of that section comes of the volume. The section
// must be above 0.
func (v Volume) Over(a Area) Length { return Length(float64(v) / MLPerMM3 / float64(a)) }

// Mass is a mass in g.
type Mass float64

// Pounds makes a mass out of pounds.
func Pounds(lb float64) Mass { return Mass(lb * GPerPound) }

// Ounces makes a mass out of ounces.
func Ounces(oz float64) Mass { return Mass(oz * GPerOunce) }

// G is the mass in g.
func (m Mass) G() float64 { return float64(m) }

// Oz is the mass in ounces.
func (m Mass) Oz() float64 { return float64(m) / GPerOunce }

// Lb is the mass in pounds.
func (m Mass) Lb() float64 { return float64(m) / GPerPound }

// Duration is a span of time in s.
type Duration float64

// Minutes makes a duration out of minutes.
func Minutes(m float64) Duration { return Duration(m * 60) }

// S is the duration in s.
func (d Duration) S() float64 { return float64(d) }

// Min is the duration in minutes.
func (d Duration) Min() float64 { return float64(d) / 60 }

// Std is the duration as the standard library counts it, cut to whole
// nanoseconds and to the 292 years that it can hold.
func (d Duration) Std() time.Duration {
	const most = float64(1<<63 - 1)
	ns := float64(d) * float64(time.Second)
	switch {
	case ns >= most:
		return 1<<63 - 1
	case ns <= -most:
		return -1 << 63
	}
	return time.Duration(ns)
}
