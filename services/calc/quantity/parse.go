package quantity

import (
	"math"
	"regexp"
	"strconv"
	"strings"

	"seamwright/services/fault"
)

// Limits are the least and the most that a measure may be, in the unit of
// its type; both are allowed.
type Limits[T ~float64] struct{ Least, Most T }

// holds is false for what is not a number.
func (l Limits[T]) holds(x T) bool { return x >= l.Least && x <= l.Most }

// number is a decimal, a fraction or a mixed number: "12.5", "3/8", "1 1/2".
// No hexadecimal, no words for infinity.
var number = regexp.MustCompile(
	`^([+-]?)(?:([0-9]{1,9}) +)?(?:([0-9]{1,9})/([0-9]{1,9})|([0-9]+(?:\.[0-9]*)?(?:[eE][+-]?[0-9]{1,3})?|\.[0-9]+(?:[eE][+-]?[0-9]{1,3})?))(.*)$`)

// split takes a number off the front of a text and gives what follows it.
func split(text string) (x float64, rest string, ok bool) {
	m := number.FindStringSubmatch(text)
	if m == nil || m[2] != "" && m[3] == "" { // "1 2" is no mixed number
		return 0, "", false
	}
	if m[3] != "" {
		whole, _ := strconv.ParseFloat(m[2], 64) // empty is 0
		above, _ := strconv.ParseFloat(m[3], 64)
		below, _ := strconv.ParseFloat(m[4], 64)
		if below == 0 {
			return 0, "", false
		}
		x = whole + above/below
	} else {
		var err error
		if x, err = strconv.ParseFloat(m[5], 64); err != nil || math.IsInf(x, 0) {
			return 0, "", false
		}
	}
	if m[1] == "-" {
		x = 0 - x // so that -0 becomes 0
	}
	return x, strings.TrimSpace(m[6]), true
}

// unitOf finds a unit by one of its names, in capitals or not.
func unitOf(name string, units []unit) (unit, bool) {
	name = strings.ToLower(name)
	for _, u := range units {
		for _, n := range u.names {
			if n == name {
				return u, true
			}
		}
	}
	return unit{}, false
}

// measure reads a number with one of the units; a number alone is in the
// first of them.
func measure(text string, units []unit) (float64, bool) {
	x, name, ok := split(strings.TrimSpace(text))
	if !ok {
		return 0, false
	}
	if name == "" {
		return x, true
	}
	u, ok := unitOf(name, units)
	if !ok {
		return 0, false
	}
	return x * u.factor, true
}

// within puts a measure that was read against its limits. What says in words
// what is wanted: "a length", and an example.
func within[T ~float64](field, text string, x float64, ok bool, lim Limits[T], what, unit, example string) (T, error) {
	if ok && lim.holds(T(x)) {
		return T(x), nil
	}
	shown := text
	if shown == "" {
		shown = "(empty)"
	}
	return 0, fault.Bad(field, oneLine(shown), what+" from "+plain(float64(lim.Least))+" to "+plain(float64(lim.Most))+
		" "+unit+", like "+example)
}

// oneLine makes a typed value fit for one line of an error.
func oneLine(text string) string {
	const most = 60
	if r := []rune(text); len(r) > most {
		text = string(r[:most]) + "..."
	}
	if q := strconv.Quote(text); q != `"`+text+`"` {
		return q
	}
	return text
}

func plain(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

// ParseLength reads a length: "12.5 mm", "3/8 in", "12.5" (mm).
func ParseLength(field, text string, lim Limits[Length]) (Length, error) {
	x, ok := measure(text, lengthUnits)
	return within(field, text, x, ok, lim, "a length", "mm", `12.5 mm or 1/2 in`)
}

// ParseArea reads an area: "20 mm²", "0.03 sq in", "20" (mm²).
func ParseArea(field, text string, lim Limits[Area]) (Area, error) {
	x, ok := measure(text, areaUnits)
	return within(field, text, x, ok, lim, "an area", "mm²", `20 mm2 or 0.03 sq in`)
}

// ParseVolume reads a volume: "200 ml", "6.7 fl oz", "200" (ml).
func ParseVolume(field, text string, lim Limits[Volume]) (Volume, error) {
	x, ok := measure(text, volumeUnits)
	return within(field, text, x, ok, lim, "a volume", "ml", `200 ml or 6.8 fl oz`)
}

// ParseMass reads a mass: "260 g", "9 oz", "260" (g).
func ParseMass(field, text string, lim Limits[Mass]) (Mass, error) {
	x, ok := measure(text, massUnits)
	return within(field, text, x, ok, lim, "a mass", "g", `260 g or 9.2 oz`)
}

// ParseTemperature reads a temperature: "21 °C", "70 °F", "294 K", "21" (°C).
func ParseTemperature(field, text string, lim Limits[Temperature]) (Temperature, error) {
	x, name, ok := split(strings.TrimSpace(text))
	switch strings.ToLower(name) {
	case "", "°c", "c":
	case "°f", "f":
		x = Fahrenheit(x).C()
	case "k":
		x = Kelvin(x).C()
	default:
		ok = false
	}
	return within(field, text, x, ok, lim, "a temperature", "°C", `21 °C or 70 °F`)
}

// ParseTemperatureDifference reads a difference: "3 K", "3 °C", "5.4 °F",
// "3" (K).
func ParseTemperatureDifference(field, text string, lim Limits[TemperatureDifference]) (TemperatureDifference, error) {
	x, ok := measure(text, differenceUnits)
	return within(field, text, x, ok, lim, "a temperature difference", "K", `3 K or 5.4 °F`)
}

// part is one number and unit of a duration.
var part = regexp.MustCompile(`^\s*([0-9.]+)\s*([a-zA-Z]+)`)

// ParseDuration reads a duration: "90 s", "1 h 30 min", "1/2 h", "90" (s).
func ParseDuration(field, text string, lim Limits[Duration]) (Duration, error) {
	x, ok := measure(text, durationUnits)
	if !ok {
		x, ok = parts(text)
	}
	return within(field, text, x, ok, lim, "a duration", "s", `90 s or 1 h 30 min`)
}

// parts adds up a duration in several units, each smaller than the one
// before it.
func parts(text string) (sum float64, ok bool) {
	last := math.Inf(1)
	for strings.TrimSpace(text) != "" {
		m := part.FindStringSubmatch(text)
		if m == nil {
			return 0, false
		}
		x, err := strconv.ParseFloat(m[1], 64)
		u, known := unitOf(m[2], durationUnits)
		if err != nil || !known || u.factor >= last {
			return 0, false
		}
		sum, last, text = sum+x*u.factor, u.factor, text[len(m[0]):]
	}
	return sum, !math.IsInf(last, 1)
}
