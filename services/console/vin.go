package console

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"seamwright/services/calc/vin"
)

// VIN asks whether a text can be a vehicle identification number.
type VIN struct{ Number string }

type vinAnswer struct {
	Valid       bool     `json:"valid"`
	CheckDigit  *string  `json:"check_digit"` // what position 9 should be; null: not computable
	ModelYear   *int     `json:"model_year"`  // null: position 10 names none
	YearSure    bool     `json:"model_year_certain"`
	Region      *string  `json:"region"` // by the first character; null: none
	Reasons     []string `json:"reasons"`
	Suggestions []string `json:"suggestions"` // likeliest first
	Likely      []string `json:"likely"`      // those of them that come before all others

	number string
	other  int // the year of the same code 30 years off
}

func (a vinAnswer) Lines() []string {
	out := []string{a.number + "  not valid"}
	if a.Valid {
		out[0] = a.number + "  valid"
	}
	if a.CheckDigit != nil {
		out = append(out, "check digit  "+*a.CheckDigit)
	}
	switch {
	case a.Region != nil:
		out = append(out, "region       "+*a.Region+", by the first character (ISO 3780)")
	case a.CheckDigit != nil:
		out = append(out, "region       none: no region has "+a.number[:1]+" for its first character (ISO 3780, by the tables of public decoders)")
	}
	if a.ModelYear != nil {
		out = append(out, "model year   "+a.year())
	}
	for _, r := range a.Reasons {
		out = append(out, "because      "+r)
	}
	for _, s := range a.Likely {
		out = append(out, "perhaps      "+s+", "+a.off(s))
	}
	return append(out, a.rest()...)
}

// off says how far a suggested number is from the one that was asked about.
func (a vinAnswer) off(s string) string {
	switch n := vin.Apart(s, a.number); {
	case n < 0 && len(s) < len(a.number):
		return "without one of two equal characters"
	case n < 0:
		return "with a character that stands twice"
	case n == 1:
		return "1 other character"
	case n == 2 && swapped(s, a.number):
		return "two neighbours swapped"
	default:
		return strconv.Itoa(n) + " other characters"
	}
}

// swapped reports whether two numbers that differ in two positions hold the
// same characters there, side by side.
func swapped(a, b string) bool {
	for i := range len(a) - 1 {
		if a[i] != b[i] {
			return a[i] == b[i+1] && a[i+1] == b[i]
		}
	}
	return false
}

// rest counts the suggestions that are not likely, by how many characters are
// other.
func (a vinAnswer) rest() []string {
	counts := map[int]int{}
	for _, s := range a.Suggestions[len(a.Likely):] {
		counts[vin.Apart(s, a.number)]++
	}
	var parts []string
	for _, n := range slices.Sorted(maps.Keys(counts)) {
		parts = append(parts, fmt.Sprintf("%s with %s", counted(counts[n], "number"), counted(n, "other character")))
	}
	if len(parts) == 0 {
		return nil
	}
	return []string{"or else      " + strings.Join(parts, ", ") + "; --json lists them, reading the plate again is better"}
}

// year says the model year and how sure it is.
func (a vinAnswer) year() string {
	y := strconv.Itoa(*a.ModelYear)
	switch {
	case a.YearSure:
		return y + ", by positions 7 and 10 (49 CFR 565.15, cars and light trucks)"
	case !a.Valid:
		return y + ", if the characters that tell it were read right"
	}
	return fmt.Sprintf("perhaps %d or %d: positions 7 and 10 tell the year for sure only where the first character is 1 to 5 (North America); read it in the vehicle's papers",
		min(*a.ModelYear, a.other), max(*a.ModelYear, a.other))
}

// Run answers, also about a number that is none.
func (q VIN) Run(o Out) error {
	if q.Number == "" {
		return missing("VIN", "the number as it was read")
	}
	r := vin.Check(q.Number)
	a := vinAnswer{
		Valid: r.Valid, Reasons: list(r.Reasons), Likely: list(r.Suggestions),
		Suggestions: list(slices.Concat(r.Suggestions, r.Others)), number: show(r.VIN),
		YearSure: r.YearSure, other: r.OtherYear,
	}
	if r.Region != "" {
		a.Region = &r.Region
	}
	if r.CheckDigit != "" {
		a.CheckDigit = &r.CheckDigit
	}
	if r.ModelYear != 0 {
		a.ModelYear = &r.ModelYear
	}
	return o.put(a)
}
