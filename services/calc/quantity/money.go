package quantity

import (
	"math"
	"math/big"
	"regexp"
	"strconv"
	"strings"

	"seamwright/services/fault"
)

// Money is an amount in one currency. Amounts are whole ten-thousandths, so
// that sums are exact; the zero value is no amount in no currency.
type Money struct {
	parts    int64  // ten-thousandths
	currency string // ISO 4217 code
}

const partsPerUnit = 10000

// minorPlaces are the decimal places of the currencies of ISO 4217 that have
// not two. From memory, the common ones.
var minorPlaces = map[string]int{
	"BHD": 3, "CLP": 0, "ISK": 0, "JOD": 3, "JPY": 0, "KRW": 0, "KWD": 3, "OMR": 3, "TND": 3, "VND": 0, "XAF": 0, "XOF": 0,
}

var (
	currencyForm = regexp.MustCompile(`^[A-Z]{3}$`)
	amountForm   = regexp.MustCompile(`^-?(0|[1-9][0-9]{0,11})(\.[0-9]{1,4})?$`)
)

// NewMoney reads an amount like "31.50", at most four decimal places, in a
// currency of three capital letters. The error is a fault of kind Invalid.
func NewMoney(field, amount, currency string) (Money, error) {
	if !currencyForm.MatchString(currency) {
		return Money{}, fault.Bad(field, oneLine(currency), "a currency of three capital letters (ISO 4217) like USD")
	}
	if !amountForm.MatchString(amount) {
		return Money{}, fault.Bad(field, oneLine(amount), "an amount like 31.50, at most four decimal places and under 1e12")
	}
	whole, frac, _ := strings.Cut(amount, ".")
	parts, err := strconv.ParseInt(whole+frac+strings.Repeat("0", 4-len(frac)), 10, 64)
	if err != nil {
		return Money{}, fault.Bad(field, oneLine(amount), "an amount like 31.50")
	}
	return Money{parts: parts, currency: currency}, nil
}

// ParseMoney reads an amount with its currency behind it: "31.50 USD".
func ParseMoney(field, text string) (Money, error) {
	f := strings.Fields(text)
	if len(f) != 2 {
		return Money{}, fault.Bad(field, oneLine(text), "an amount and its currency like 31.50 USD")
	}
	return NewMoney(field, f[0], f[1])
}

// Currency is the ISO 4217 code.
func (m Money) Currency() string { return m.currency }

// Plus adds two amounts. Adding other currencies, or beyond what can be
// held, is a fault of kind Invalid; no amount at all adds nothing.
func (m Money) Plus(n Money) (Money, error) {
	switch {
	case m == (Money{}):
		return n, nil
	case n == (Money{}):
		return m, nil
	case m.currency != n.currency:
		return Money{}, fault.Bad("currency", n.currency, "amounts in "+m.currency+" are added up; convert it first")
	}
	sum := m.parts + n.parts
	if (m.parts > 0) == (n.parts > 0) && (sum > 0) != (m.parts > 0) && m.parts != 0 && n.parts != 0 {
		return Money{}, fault.Bad("amount", n.String(), "sums below 9e14")
	}
	return Money{parts: sum, currency: m.currency}, nil
}

// Times is a share or a multiple of the amount, to the ten-thousandth, halves
// away from zero: what 47 ml of a 200 ml cartridge cost. A factor that is not
// finite or leads beyond what can be held is a fault of kind Invalid.
func (m Money) Times(x float64) (Money, error) {
	f, ok := new(big.Rat).SetString(strconv.FormatFloat(x, 'g', -1, 64))
	if math.IsNaN(x) || math.IsInf(x, 0) || !ok || math.Abs(x*float64(m.parts)) > 9e18 {
		return Money{}, fault.Bad("factor", x, "a finite factor that keeps the amount below 9e14")
	}
	f.Mul(f, new(big.Rat).SetInt64(m.parts))
	parts, err := strconv.ParseInt(f.FloatString(0), 10, 64)
	if err != nil {
		return Money{}, fault.Bad("factor", x, "a finite factor that keeps the amount below 9e14")
	}
	return Money{parts: parts, currency: m.currency}, nil
}

// Amount is the exact decimal: "31.5".
func (m Money) Amount() string {
	s := big.NewRat(m.parts, partsPerUnit).FloatString(4)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}

// String is the exact amount with its currency; NewMoney reads it back.
func (m Money) String() string {
	if m == (Money{}) {
		return "unknown"
	}
	return m.Amount() + " " + m.currency
}

// Show rounds to the currency's smallest coin, halves away from zero:
// "31.50 USD".
func (m Money) Show() string {
	if m == (Money{}) {
		return "unknown"
	}
	return toCoin(big.NewRat(m.parts, partsPerUnit), m.currency)
}

// toCoin rounds to a currency's smallest coin, halves away from zero.
func toCoin(amount *big.Rat, currency string) string {
	places, odd := minorPlaces[currency]
	if !odd {
		places = 2
	}
	s := amount.FloatString(places)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return s + " " + currency
}
