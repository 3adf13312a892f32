package quantity

import (
	"math/big"
	"testing"

	"pgregory.net/rapid"
)

func TestSharesAreExact(t *testing.T) {
	price := must(ParseMoney("price", "31.50 USD"))
	for _, c := range []struct {
		part, whole    int64
		decimal, shown string
	}{
		{47, 200, "7.4025", "7.40 USD"},
		{1, 3, "10.5", "10.50 USD"},
		{1, 9, "3.5", "3.50 USD"},
		{1, 7, "4.5", "4.50 USD"},
		{1, 11, "2.8636363636", "2.86 USD"},
		{-1, 11, "-2.8636363636", "-2.86 USD"},
		{0, 11, "0", "0.00 USD"},
		{1, 6300000, "0.000005", "0.00 USD"},
	} {
		e := price.Share(c.part, c.whole)
		if e.Decimal() != c.decimal || e.Show() != c.shown || e.Currency() != "USD" {
			t.Errorf("%d/%d: %s, %s", c.part, c.whole, e.Decimal(), e.Show())
		}
	}
	for _, e := range []Exact{{}, price.Share(1, 0), Money{}.Share(1, 2)} {
		if e.Known() || e.Decimal() != "" || e.Show() != "unknown" {
			t.Errorf("%v is an amount", e)
		}
	}
	if _, err := price.Share(1, 2).Plus(must(ParseMoney("x", "1 EUR")).Share(1, 2)); err == nil {
		t.Error("two currencies added up")
	}
	// Half a coin is rounded once, at the end: 0.005 three times is 0.015.
	half := must(ParseMoney("x", "0.01 USD")).Share(1, 2)
	if sum := must(must(half.Plus(half)).Plus(half)); sum.Show() != "0.02 USD" || half.Show() != "0.01 USD" {
		t.Errorf("%s of %s", sum.Show(), half.Show())
	}
}

// However a price is cut, its parts are the price.
func TestSharesAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		price := Money{parts: rapid.Int64Range(0, 1e13).Draw(t, "parts"), currency: "USD"}
		cuts := rapid.SliceOfN(rapid.Int64Range(0, 1e9), 1, 20).Draw(t, "cuts")
		var whole int64
		for _, c := range cuts {
			whole += c
		}
		if whole == 0 {
			t.Skip("cut into nothing")
		}
		var sum Exact
		for _, c := range cuts {
			sum = must(sum.Plus(price.Share(c, whole)))
		}
		if sum.amount.Cmp(big.NewRat(price.parts, partsPerUnit)) != 0 {
			t.Fatalf("%v cut into %v adds up to %v", price, cuts, sum)
		}
	})
}
