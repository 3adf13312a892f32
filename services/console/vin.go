package console

import (
	"fmt"
	"slices"
	"strconv"

	"seamwright/services/calc/vin"
)

// VIN asks whether a text can be a vehicle identification number.
type VIN struct{ Number string }

type vinAnswer struct {
	Valid       bool     `json:"valid"`
	CheckDigit  *string  `json:"check_digit"` // what position 9 should be; null: not computable
	ModelYear   *int     `json:"model_year"`  // null: position 10 names none
	Reasons     []string `json:"reasons"`
	Suggestions []string `json:"suggestions"` // likeliest first
	Likely      []string `json:"likely"`      // those of them that are one usual slip away

	number string
}

func (a vinAnswer) Lines() []string {
	out := []string{a.number + "  not valid"}
	if a.Valid {
		out[0] = a.number + "  valid"
	}
	if a.CheckDigit != nil {
		out = append(out, "check digit  "+*a.CheckDigit)
	}
	if a.ModelYear != nil {
		out = append(out, "model year   "+strconv.Itoa(*a.ModelYear))
	}
	for _, r := range a.Reasons {
		out = append(out, "because      "+r)
	}
	for _, s := range a.Likely {
		out = append(out, "perhaps      "+s)
	}
	if more := len(a.Suggestions) - len(a.Likely); more > 0 {
		out = append(out, fmt.Sprintf("or else      %d numbers with one other character; --json lists them, reading the plate again is better", more))
	}
	return out
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
	}
	if r.CheckDigit != "" {
		a.CheckDigit = &r.CheckDigit
	}
	if r.ModelYear != 0 {
		a.ModelYear = &r.ModelYear
	}
	return o.put(a)
}
