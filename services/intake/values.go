package intake

import (
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"seamwright/services/calc/spec"
)

// span is what a number may be. Its text is the limit in an error.
type span struct {
	lo, hi float64
	above  bool   // lo itself is not allowed
	below  bool   // hi itself is not allowed
	whole  bool   // whole numbers only
	unit   string // "mm"
}

// String says the limit: "above 0 to 500 mm".
func (p span) String() string {
	s := "a number from "
	if p.whole {
		s = "a whole number from "
	}
	if p.above {
		s = strings.TrimSuffix(s, "from ") + "above "
	}
	s += plain(p.lo) + " to "
	if p.below {
		s += "under "
	}
	s += plain(p.hi)
	if p.unit != "" {
		s += " " + p.unit
	}
	return s
}

func plain(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// holds reports whether x is within the span.
func (p span) holds(x float64) bool {
	if math.IsNaN(x) || x < p.lo || x > p.hi || (p.above && x == p.lo) || (p.below && x == p.hi) {
		return false
	}
	return !p.whole || x == math.Trunc(x)
}

// The spans that several files share.
var (
	minutes    = span{lo: 0, hi: 525600, unit: "minutes"}
	minutesPos = span{lo: 0, above: true, hi: 525600, unit: "minutes"}
	airTemp    = span{lo: -60, hi: 200, unit: "°C"}
	limitTemp  = span{lo: -60, hi: 150, unit: "°C"}
	labL       = span{lo: 0, hi: 100}
	labAB      = span{lo: -200, hi: 200}
)

// decimal is a number as people write it: no hexadecimal, no underscores,
// no words for infinity.
var decimal = regexp.MustCompile(`^[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]{1,3})?$`)

// number reads a finite decimal within a span.
func number(text string, p span) (float64, bool) {
	if !decimal.MatchString(text) {
		return 0, false
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil || !p.holds(x) {
		return 0, false
	}
	return x + 0, true // -0 becomes 0
}

// identifier is what may name a thing: it becomes part of a subject on the
// bus and of a path, so no dots, spaces or slashes.
var identifier = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_-]{0,47}$`)

const identifierLimit = "1 to 48 letters, digits, - or _, a letter or digit first"

// line reports whether text is one line of printable characters of at most
// n characters.
func line(text string, n int) bool {
	if utf8.RuneCountInString(text) > n {
		return false
	}
	for _, r := range text {
		if !unicode.IsGraphic(r) || r == utf8.RuneError {
			return false
		}
	}
	return true
}

// stamp is RFC 3339 with an offset and at most nanoseconds.
var stamp = regexp.MustCompile(`^[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt][0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,9})?([Zz]|[+-][0-9]{2}:[0-9]{2})$`)

const momentLimit = "a time like 2026-03-02T07:30:00Z with its offset, from 1970 to 2200"

// moment reads an instant; it comes back in UTC.
func moment(text string) (time.Time, bool) {
	if !stamp.MatchString(text) {
		return time.Time{}, false
	}
	t, err := time.Parse(time.RFC3339Nano, strings.ToUpper(text))
	if err != nil {
		return time.Time{}, false
	}
	t = t.UTC()
	if t.Year() < 1970 || t.Year() >= 2200 {
		return time.Time{}, false
	}
	return t, true
}

// oneOf is the limit of a word: "one of a, b, c".
func oneOf[W ~string](all []W) string {
	names := make([]string, len(all))
	for i, a := range all {
		names[i] = string(a)
	}
	return "one of " + strings.Join(names, ", ")
}

// lab turns three numbers into a colour.
func lab(v [3]float64) *spec.Lab { return &spec.Lab{L: v[0], A: v[1], B: v[2]} }

// sorted gives the keys of a set in order.
func sorted(set map[string]bool) []string {
	out := make([]string, 0, len(set))
	for k := range set {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}
