package console

import (
	"fmt"

	"seamwright/services/calc/colour"
)

// Colour asks how far two colours are apart.
type Colour struct{ A, B string }

type colourAnswer struct {
	Difference float64 `json:"delta_e_2000"`
}

func (a colourAnswer) Lines() []string {
	return []string{fmt.Sprintf("CIEDE2000  %.4f", a.Difference)}
}

// Run answers.
func (q Colour) Run(o Out) error {
	if q.A == "" || q.B == "" {
		return missing("colour", "two colours as L,a,b")
	}
	a, err := colour.Parse("first colour", q.A)
	if err != nil {
		return err
	}
	b, err := colour.Parse("second colour", q.B)
	if err != nil {
		return err
	}
	return o.put(colourAnswer{colour.Difference(a, b)})
}
