package console

import (
	"strconv"
	"strings"

	"seamwright/services/calc/quantity"
)

// Measures that are typed: in metric without a unit, or with a metric or US
// unit behind the number.

// lengthMM reads a flag's length in mm; "0.25in" is one too.
func lengthMM(flag, text string, lim quantity.Limits[quantity.Length]) (float64, error) {
	if text == "" {
		return 0, missing(flag, "a length in mm, or with its unit, like 6 or 0.25in")
	}
	l, err := quantity.ParseLength(flag, text, lim)
	return l.MM(), err
}

// volumeML reads a flag's volume in ml; "10floz" is one too.
func volumeML(flag, text string, lim quantity.Limits[quantity.Volume]) (float64, error) {
	if text == "" {
		return 0, missing(flag, "a volume in ml, or with its unit, like 200 or 6.8floz")
	}
	v, err := quantity.ParseVolume(flag, text, lim)
	return v.ML(), err
}

// tempC reads a flag's temperature in °C; "68F" is one too.
func tempC(flag, text string, least, most float64) (float64, error) {
	if text == "" {
		return 0, missing(flag, "a temperature in °C, or with its unit, like 20 or 68F")
	}
	t, err := quantity.ParseTemperature(flag, text, quantity.Limits[quantity.Temperature]{Least: quantity.Temperature(least), Most: quantity.Temperature(most)})
	return t.C(), err
}

// both writes a volume in both systems of units.
func both(ml float64) string { return quantity.Both(quantity.Volume(ml)) }

// degrees writes a temperature in both scales: "20.0 °C (68 °F)".
func degrees(c float64) string { return quantity.Both(quantity.Temperature(c)) }

// across writes what a bead measures across: "8 x 2 mm (0.31 x 0.08 in)".
func across(widthMM, heightMM float64) string {
	us := func(mm float64) string { return strings.TrimSuffix(quantity.Length(mm).Show(quantity.US), " in") }
	return plainMM(widthMM) + " x " + plainMM(heightMM) + " mm (" + us(widthMM) + " x " + us(heightMM) + " in)"
}

// inches writes mm in inches: "0.25 in".
func inches(mm float64) string { return quantity.Length(mm).Show(quantity.US) }

// plainMM writes mm to the hundredth, without noughts at the end.
func plainMM(mm float64) string { return trimmed(mm, 2) }

// trimmed rounds to so many places (at least one) and drops the noughts at
// the end.
func trimmed(x float64, places int) string {
	return strings.TrimSuffix(strings.TrimRight(quantity.Round(x, places), "0"), ".")
}

// shortly writes a number that was typed, without the noise of its last bits.
func shortly(x float64) string { return strconv.FormatFloat(x, 'g', 6, 64) }

// long writes a length along a seam: "1400 mm (55.1 in)".
func long(mm float64) string {
	return plainMM(mm) + " mm (" + inches(mm) + ")"
}
