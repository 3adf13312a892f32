// Package vin checks vehicle identification numbers: 17 characters (ISO
// 3779), the alphabet without I, O and Q, the check digit and the model
// year of 49 CFR 565.15.
package vin

import (
	"fmt"
	"strings"
)

// Length is how many characters a vehicle identification number has.
const Length = 17

// Result is what can be said about a number. Reasons are sentences for
// people; they are never nil, and empty when there is nothing to say.
type Result struct {
	VIN         string // as checked: upper case, no spaces around it
	Valid       bool
	CheckDigit  string // what position 9 should be; "" when not computable
	CheckMatch  bool   // position 9 is CheckDigit
	ModelYear   int    // 0 when the code in position 10 names no year
	YearSure    bool   // ModelYear is more than a guess: see YearRuleHolds
	OtherYear   int    // the year of the same code in the other cycle of 30 years; 0 without ModelYear
	Region      string // of the first character, see RegionOf; "" when there is none
	Reasons     []string
	Suggestions []string // numbers that check out, one likely slip away; likeliest first (see suggest)
	Others      []string // numbers that check out and are further off, or less likely meant
}

// weights are the factors of positions 1 to 17 of 49 CFR 565.15, table IV.
var weights = [Length]int{8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2}

// yearCodes are the codes of position 10 in order from 1980 and again from
// 2010 (49 CFR 565.15, table VII).
const yearCodes = "ABCDEFGHJKLMNPRSTVWXY123456789"

// value is the number that 49 CFR 565.15, table III gives a character.
func value(c byte) (int, bool) {
	switch {
	case c >= '0' && c <= '9':
		return int(c - '0'), true
	case c >= 'A' && c <= 'H':
		return int(c-'A') + 1, true
	case c >= 'J' && c <= 'N':
		return int(c-'J') + 1, true
	case c == 'P':
		return 7, true
	case c == 'R':
		return 9, true
	case c >= 'S' && c <= 'Z':
		return int(c-'S') + 2, true
	}
	return 0, false
}

// Check checks a number. Lower case is read as upper. It is invalid when it
// has not 17 characters of the alphabet, or when its first character is 1
// to 5 (North America, where the check digit is law) and the check digit
// does not match; elsewhere a mismatch is only a reason.
func Check(text string) Result {
	v := strings.ToUpper(strings.TrimSpace(text))
	r := Result{VIN: v, Reasons: []string{}, Suggestions: []string{}, Others: []string{}}
	if why := shape(v); len(why) > 0 {
		r.Reasons = why
		r.Suggestions, r.Others = suggest(v)
		return r
	}
	r.Valid = true
	digit := checkDigit(v)
	r.CheckDigit = string(digit)
	r.CheckMatch = v[8] == digit
	r.Region = RegionOf(v[0])
	if !r.CheckMatch {
		if YearRuleHolds(v[0]) {
			r.Valid = false
			r.Reasons = append(r.Reasons, fmt.Sprintf(
				"position 9 is %c, the check digit of 49 CFR 565.15 is %c; read the number again", v[8], digit))
			r.Suggestions, r.Others = suggest(v)
		} else {
			r.Reasons = append(r.Reasons, fmt.Sprintf(
				"position 9 is %c where a check digit would be %c; vehicles built for other markets need not carry one", v[8], digit))
		}
	}
	r.ModelYear = modelYear(v)
	if r.ModelYear == 0 {
		r.Reasons = append(r.Reasons, fmt.Sprintf("position 10 is %c, which names no model year", v[9]))
		return r
	}
	r.YearSure = r.Valid && YearRuleHolds(v[0])
	r.OtherYear = r.ModelYear + 30
	if r.ModelYear >= 2010 {
		r.OtherYear = r.ModelYear - 30
	}
	return r
}

// YearRuleHolds reports whether a number with that first character is one of
// North America, where the check digit and the coding of the model year by
// positions 7 and 10 are law (49 CFR 565.15). Elsewhere both are a habit of
// some makers.
func YearRuleHolds(first byte) bool { return first >= '1' && first <= '5' }

// RegionOf is the part of the world that the first character stands for (ISO
// 3780; read in the tables of several public decoders that cite it, the
// standard itself was not opened). That 7 is shared with North America by later
// assignments is from memory. Empty for 0 and what no number begins with.
func RegionOf(first byte) string {
	switch {
	case first >= 'A' && first <= 'H':
		return "Africa"
	case first >= 'J' && first <= 'R':
		return "Asia"
	case first >= 'S' && first <= 'Z':
		return "Europe"
	case YearRuleHolds(first):
		return "North America"
	case first == '6':
		return "Oceania"
	case first == '7':
		return "Oceania or North America"
	case first == '8' || first == '9':
		return "South America"
	}
	return ""
}

// shape says what is wrong with length and alphabet.
func shape(v string) []string {
	var why []string
	if n := len([]rune(v)); n != Length {
		why = append(why, fmt.Sprintf("it has %d characters, a vehicle identification number has %d", n, Length))
	}
	for i, c := range []rune(v) {
		if i == Length {
			break
		}
		if c < 128 {
			if _, ok := value(byte(c)); ok {
				continue
			}
		}
		why = append(why, fmt.Sprintf("position %d is %q; allowed are digits and capitals without I, O and Q", i+1, c))
	}
	return why
}

// checkDigit is the weighted sum modulo 11, ten written X. The number must
// have passed shape.
func checkDigit(v string) byte {
	sum := 0
	for i := range Length {
		n, _ := value(v[i])
		sum += n * weights[i]
	}
	return "0123456789X"[sum%11]
}

// modelYear reads position 10; a letter in position 7 puts it in 2010 to
// 2039, a digit in 1980 to 2009 (49 CFR 565.15, passenger cars and light
// trucks).
func modelYear(v string) int {
	i := strings.IndexByte(yearCodes, v[9])
	if i < 0 {
		return 0
	}
	if v[6] >= '0' && v[6] <= '9' {
		return 1980 + i
	}
	return 2010 + i
}
