package console

import (
	"fmt"

	"seamwright/services/calc/colour"
	"seamwright/services/calc/quantity"
	"seamwright/services/calc/spec"
)

// Colour asks how far two colours are apart, or which sealer is nearest to
// one.
type Colour struct {
	A, B     string // as typed; B may be empty with Products
	Products string // folder; may be empty
}

type colourAnswer struct {
	Difference *float64      `json:"delta_e_2000"` // null without a second colour
	Nearest    []colourMatch `json:"nearest"`      // sealers, the nearest to the first colour first
	Unmeasured []string      `json:"unmeasured"`   // sealers whose file gives no colour
}

type colourMatch struct {
	Product    string  `json:"product"`
	Difference float64 `json:"delta_e_2000"`
}

// Run answers.
func (q Colour) Run(o Out) error {
	if q.A == "" || q.B == "" && q.Products == "" {
		return missing("colour", "two colours as L,a,b, or one and --products")
	}
	first, err := colour.Parse("first colour", q.A)
	if err != nil {
		return err
	}
	a := colourAnswer{Nearest: []colourMatch{}, Unmeasured: []string{}}
	if q.B != "" {
		second, err := colour.Parse("second colour", q.B)
		if err != nil {
			return err
		}
		d := colour.Difference(first, second)
		a.Difference = &d
	}
	if q.Products != "" {
		if err := a.rank(first, q.Products); err != nil {
			return err
		}
	}
	return o.put(a)
}

// rank puts the sealers of a folder in order of how near they are.
func (a *colourAnswer) rank(want colour.Lab, dir string) error {
	products, err := readProducts("--products", dir)
	if err != nil {
		return err
	}
	var stock []colour.Stocked
	for _, p := range products {
		if p.Lab == nil {
			a.Unmeasured = append(a.Unmeasured, p.ID)
			continue
		}
		stock = append(stock, colour.Stocked{ID: p.ID, Lab: colour.Lab(*p.Lab)})
	}
	for _, m := range colour.Ranked(want, stock) {
		a.Nearest = append(a.Nearest, colourMatch{Product: m.ID, Difference: m.Difference})
	}
	return nil
}

func (a colourAnswer) Lines() []string {
	var out []string
	if a.Difference != nil {
		out = append(out, "CIEDE2000  "+quantity.Apart(*a.Difference, spec.DefaultColourLimit, 4), meaning(*a.Difference))
	}
	for i, m := range a.Nearest {
		head := "then"
		if i == 0 {
			head = "nearest"
		}
		out = append(out, fmt.Sprintf("%-10s %s, %s", head, m.Product, quantity.Apart(m.Difference, spec.DefaultColourLimit, 2)))
		if i == 0 && a.Difference == nil {
			out = append(out, meaning(m.Difference))
		}
	}
	for _, id := range a.Unmeasured {
		out = append(out, "unknown    "+id+": its file gives no colour")
	}
	return out
}

// meaning says whether a difference, whose line it stands below, is one that is
// seen.
func meaning(difference float64) string {
	means := "within"
	if difference > spec.DefaultColourLimit {
		means = "more than"
	}
	return fmt.Sprintf("meaning    %s the %g that a bead left exposed may differ, unless the shop sets its own limit (common practice)",
		means, spec.DefaultColourLimit)
}
