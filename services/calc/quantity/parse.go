package quantity

import (
	"math"
	"regexp"
	"strconv"
	"strings"

	"seamwright/services/fault"
)

// Limits are the least and the most that a measure may be, in the unit of
// its type; both are allowed, unless Above asks for more than the least.
type Limits[T ~float64] struct {
	Least, Most T
	Above       bool
}

// holds is false for what is not a number.
func (l Limits[T]) holds(x T) bool { return x >= l.Least && x <= l.Most && !(l.Above && x == l.Least) }

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

// read is a measure as it was found in a text.
type read struct {
	x    float64 // in the unit of its type
	ok   bool    // there is a number, with a unit that is known or none
	unit string  // the unit that is not known, if that is what is wrong
}

// measure reads a number with one of the units; a number alone is in the
// first of them.
func measure(text string, units []unit) read {
	x, name, ok := split(strings.TrimSpace(text))
	if !ok || name == "" {
		return read{x: x, ok: ok}
	}
	u, ok := unitOf(name, units)
	if !ok {
		return read{unit: name}
	}
	return read{x: x * u.factor, ok: true}
}

// kind says in words what is wanted, for an error.
type kind struct {
	what    string // "a length"
	unit    string // of the type
	units   string // all that may be typed
	example string
}

var (
	aLength      = kind{"a length", "mm", listed(lengthUnits), "12.5 mm or 1/2 in"}
	anArea       = kind{"an area", "mm²", listed(areaUnits), "20 mm2 or 0.03 sq in"}
	aVolume      = kind{"a volume", "ml", listed(volumeUnits), "200 ml or 6.8 fl oz"}
	aMass        = kind{"a mass", "g", listed(massUnits), "260 g or 9.2 oz"}
	aTemperature = kind{"a temperature", "°C", "C, F or K", "21 °C or 70 °F"}
	aDifference  = kind{"a temperature difference", "K", listed(differenceUnits), "3 K or 5.4 °F"}
	aDuration    = kind{"a duration", "s", listed(durationUnits), "90 s or 1 h 30 min"}
)

// listed names units: "mm, cm or in".
func listed(units []unit) string {
	var b strings.Builder
	for i, u := range units {
		switch {
		case i > 0 && i == len(units)-1:
			b.WriteString(" or ")
		case i > 0:
			b.WriteString(", ")
		}
		b.WriteString(u.names[0])
	}
	return b.String()
}

// shown is a type that is shown in either system.
type shown interface {
	~float64
	Show(s System) string
}

// within puts a measure that was read against its limits. An error says the
// limits in both systems, and the units where the text has none of them.
func within[T shown](field, text string, r read, lim Limits[T], k kind) (T, error) {
	if r.ok && lim.holds(T(r.x)) {
		return T(r.x), nil
	}
	return 0, refused(field, text, r, k, span(lim, k.unit)+" "+inUS(lim))
}

// inUS says the limits in US units.
func inUS[T shown](lim Limits[T]) string {
	if lim.Least == 0 {
		return "(" + lim.Most.Show(US) + ")"
	}
	return "(" + lim.Least.Show(US) + " to " + lim.Most.Show(US) + ")"
}

// span says the limits: "above 0 to 1000 mm".
func span[T ~float64](lim Limits[T], unit string) string {
	word := "from "
	if lim.Above {
		word = "above "
	}
	return word + plain(float64(lim.Least)) + " to " + plain(float64(lim.Most)) + " " + unit
}

// refused is the fault of a text that is no measure of its kind.
func refused(field, text string, r read, k kind, limits string) error {
	want := k.what + " " + limits
	if !r.ok {
		want += ", in " + k.units + " (a number alone is " + k.unit + ")"
	}
	if advice := PointAdvice(text); advice != "" {
		want = advice + "; " + want
	} else if r.unit != "" {
		_, bare, _ := strings.Cut(k.what, " ")
		want = oneLine(r.unit) + " is no unit of " + bare + ", give " + want
	}
	if text == "" {
		text = "(empty)"
	}
	return fault.Bad(field, oneLine(text), want+", like "+k.example)
}

// comma is a number with a comma in it, and what follows.
var comma = regexp.MustCompile(`^\s*([+-]?[0-9]{1,9}),([0-9]{1,9})(\.[0-9]{1,9})?([^0-9,.].*)?$`)

// PointAdvice says how to write a number that was typed with a comma: "write
// 8.5, with a point". Three figures behind the comma may be thousands, and then
// both are said. It is empty for every other text.
func PointAdvice(text string) string {
	m := comma.FindStringSubmatch(text)
	if m == nil {
		return ""
	}
	unit := oneLine(m[4])
	switch whole := m[1] + m[2] + m[3] + unit; {
	case m[3] != "":
		return "write " + whole + ", without the comma"
	case len(m[2]) == 3 && strings.TrimLeft(m[1], "+-0") != "":
		return "write " + m[1] + "." + m[2] + unit + " with a point, or " + whole + " for thousands"
	}
	return "write " + m[1] + "." + m[2] + unit + ", with a point"
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

func plain(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// ParseLength reads a length: "12.5 mm", "3/8 in", "12.5" (mm).
func ParseLength(field, text string, lim Limits[Length]) (Length, error) {
	return within(field, text, measure(text, lengthUnits), lim, aLength)
}

// ParseArea reads an area: "20 mm²", "0.03 sq in", "20" (mm²).
func ParseArea(field, text string, lim Limits[Area]) (Area, error) {
	return within(field, text, measure(text, areaUnits), lim, anArea)
}

// ParseVolume reads a volume: "200 ml", "6.7 fl oz", "200" (ml).
func ParseVolume(field, text string, lim Limits[Volume]) (Volume, error) {
	return within(field, text, measure(text, volumeUnits), lim, aVolume)
}

// ParseMass reads a mass: "260 g", "9 oz", "260" (g).
func ParseMass(field, text string, lim Limits[Mass]) (Mass, error) {
	return within(field, text, measure(text, massUnits), lim, aMass)
}

// ParseTemperature reads a temperature: "21 °C", "70 °F", "294 K", "21" (°C).
func ParseTemperature(field, text string, lim Limits[Temperature]) (Temperature, error) {
	x, name, ok := split(strings.TrimSpace(text))
	r := read{x: x, ok: ok}
	switch strings.ToLower(name) {
	case "", "°c", "c":
	case "°f", "f":
		r.x = Fahrenheit(x).C()
	case "k":
		r.x = Kelvin(x).C()
	default:
		r = read{unit: name}
	}
	return within(field, text, r, lim, aTemperature)
}

// ParseTemperatureDifference reads a difference: "3 K", "3 °C", "5.4 °F",
// "3" (K).
func ParseTemperatureDifference(field, text string, lim Limits[TemperatureDifference]) (TemperatureDifference, error) {
	return within(field, text, measure(text, differenceUnits), lim, aDifference)
}

// part is one number and unit of a duration.
var part = regexp.MustCompile(`^\s*([0-9.]+)\s*([a-zA-Z]+)`)

// ParseDuration reads a duration: "90 s", "1 h 30 min", "1/2 h", "90" (s).
func ParseDuration(field, text string, lim Limits[Duration]) (Duration, error) {
	r := measure(text, durationUnits)
	if !r.ok {
		if sum, ok := parts(text); ok {
			r = read{x: sum, ok: true}
		}
	}
	if r.ok && lim.holds(Duration(r.x)) {
		return Duration(r.x), nil
	}
	return 0, refused(field, text, r, aDuration, span(lim, aDuration.unit))
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
