package quantity

import (
	"math/big"
	"strings"

	"seamwright/services/fault"
)

// Exact is an amount of money as a fraction: what was never rounded adds up.
// The zero value is no amount in no currency.
type Exact struct {
	amount   *big.Rat // never changed once it is set
	currency string   // ISO 4217 code
}

// exactPlaces is how many decimal places an Exact is written with at most.
const exactPlaces = 10

// Share is part/whole of the amount, exactly: 47 of 200 ml of a cartridge, 7
// of 60 minutes of an hour's rate. Of nothing, or of no amount, there is no
// share: the zero value.
func (m Money) Share(part, whole int64) Exact {
	if m == (Money{}) || whole == 0 {
		return Exact{}
	}
	r := big.NewRat(m.parts, partsPerUnit)
	return Exact{amount: r.Mul(r, big.NewRat(part, whole)), currency: m.currency}
}

// Known reports whether there is an amount.
func (e Exact) Known() bool { return e.amount != nil }

// Currency is the ISO 4217 code.
func (e Exact) Currency() string { return e.currency }

// Plus adds two amounts. Adding other currencies is a fault of kind Invalid;
// no amount at all adds nothing.
func (e Exact) Plus(f Exact) (Exact, error) {
	switch {
	case !e.Known():
		return f, nil
	case !f.Known():
		return e, nil
	case e.currency != f.currency:
		return Exact{}, fault.Bad("currency", f.currency, "amounts in "+e.currency+" are added up; convert it first")
	}
	return Exact{amount: new(big.Rat).Add(e.amount, f.amount), currency: e.currency}, nil
}

// Decimal is the amount as a decimal: exact where it ends within ten places,
// else rounded there, halves away from zero; empty when there is none.
func (e Exact) Decimal() string {
	if !e.Known() {
		return ""
	}
	return strings.TrimSuffix(strings.TrimRight(e.amount.FloatString(exactPlaces), "0"), ".")
}

// Show rounds to the currency's smallest coin, halves away from zero:
// "31.50 USD".
func (e Exact) Show() string {
	if !e.Known() {
		return "unknown"
	}
	return toCoin(e.amount, e.currency)
}
