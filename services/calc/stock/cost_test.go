package stock

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"seamwright/services/calc/quantity"
	"seamwright/services/fault"
)

func usd(amount string) quantity.Money { return must(quantity.NewMoney("price", amount, "USD")) }

func TestCostsByHand(t *testing.T) {
	prices := map[string]Price{"L1": {usd("40"), 200}} // 20 cents a ml
	laid := []Laid{
		{"2207/a", "2207", "L1", "C1", "N1", 30},
		{"2207/b", "2207", "L1", "C1", "N1", 10},
		{"2214/c", "2214", "L1", "C1", "N2", 40},
	}
	lost := []Loss{
		{Purged, "L1", "C1", "N1", 8}, {HeldUp, "L1", "C1", "N1", 8}, // 12 to a, 4 to b
		{Purged, "L1", "C1", "N2", 10},  // to c
		{Equalised, "L1", "C1", "", 8},  // 3, 1 and 4
		{Discarded, "L1", "C9", "", 5},  // nobody's
		{Purged, "L1", "C1", "N3", 1.6}, // nothing laid through it: 0.6, 0.2, 0.8
	}
	c := must(Costs(laid, lost, prices))
	for i, want := range []struct {
		laid, share float64
		cost        string
	}{{30, 15.6, "9.12 USD"}, {10, 5.2, "3.04 USD"}, {40, 14.8, "10.96 USD"}} {
		s := c.Seams[i]
		near(t, s.SeamID+" laid", s.Laid.ML(), want.laid, 0)
		near(t, s.SeamID+" share", s.Share.ML(), want.share, 1e-9)
		if s.Cost.String() != want.cost || !s.Priced {
			t.Errorf("%s: %v, want %s", s.SeamID, s.Cost, want.cost)
		}
	}
	if c.Jobs[0].Cost.String() != "12.16 USD" || c.Jobs[1].Cost.String() != "10.96 USD" || c.Shop.Cost.String() != "1 USD" || len(c.Jobs) != 2 {
		t.Errorf("%+v, shop %+v", c.Jobs, c.Shop)
	}
}

func TestUnknownPriceIsSaid(t *testing.T) {
	c := must(Costs([]Laid{{"a", "1", "L1", "C1", "", 10}, {"a", "1", "L2", "C2", "", 10}, {"b", "2", "L1", "C1", "", 10}}, nil, map[string]Price{"L1": {usd("20"), 200}}))
	if c.Seams[0].Priced || c.Jobs[0].Priced || !c.Seams[1].Priced || !c.Jobs[1].Priced || c.Seams[0].Cost.String() != "1 USD" {
		t.Errorf("%+v", c)
	}
	if c := must(Costs(nil, nil, nil)); c.Seams == nil || c.Jobs == nil || !c.Shop.Priced {
		t.Errorf("%+v", c)
	}
}

// Nothing is lost in the division: neither material nor a ten-thousandth.
func TestCostsAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		price := Price{usd(fmt.Sprintf("%d.%02d", rapid.IntRange(1, 99).Draw(t, "price"), rapid.IntRange(0, 99).Draw(t, "cents"))), 200}
		id := func(what string, n int) string { return fmt.Sprint(what, rapid.IntRange(1, n).Draw(t, what)) }
		var laid []Laid
		var lost []Loss
		volume := quantity.Volume(0)
		draw := func() quantity.Volume {
			v := quantity.Volume(rapid.Float64Range(0, 90).Draw(t, "ml"))
			volume += v
			return v
		}
		for range rapid.IntRange(0, 8).Draw(t, "laid") {
			n := rapid.IntRange(1, 4).Draw(t, "seam")
			laid = append(laid, Laid{fmt.Sprint("s", n), fmt.Sprint("job", n%2), "L", id("C", 2), id("N", 3), draw()})
		}
		for range rapid.IntRange(0, 8).Draw(t, "lost") {
			lost = append(lost, Loss{rapid.SampledFrom([]LossKind{Purged, HeldUp, Equalised, Discarded}).Draw(t, "kind"), "L", id("C", 2), id("N", 3), draw()})
		}
		c := must(Costs(laid, lost, map[string]Price{"L": price}))
		whole, cost := c.Shop.Share, c.Shop.Cost
		for _, s := range c.Seams {
			whole += s.Laid + s.Share
			cost = must(cost.Plus(s.Cost))
		}
		jobs := c.Shop.Cost
		for _, j := range c.Jobs {
			jobs = must(jobs.Plus(j.Cost))
		}
		if jobs != cost || math.Abs((whole-volume).ML()) > 1e-6 {
			t.Fatalf("%v of %v ml, jobs %v, seams %v", whole, volume, jobs, cost)
		}
		// Each bead and each pot is rounded once to the ten-thousandth.
		want := must(price.Cartridge.Times(volume.ML() / 200))
		off := must(minus(cost, want))
		var x float64
		if off != (quantity.Money{}) {
			if _, err := fmt.Sscan(off.Amount(), &x); err != nil {
				t.Fatal(err)
			}
		}
		if math.Abs(x) > 0.0001*float64(len(laid)+len(lost)+1) {
			t.Fatalf("seams and shop %v, all of it %v", cost, want)
		}
	})
}

func TestRefusedCosts(t *testing.T) {
	nan := quantity.Volume(math.NaN())
	eur := must(quantity.NewMoney("price", "1", "EUR"))
	for what, f := range map[string]func() (Charges, error){
		"no seam": func() (Charges, error) { return Costs([]Laid{{Volume: 1}}, nil, nil) },
		"two jobs": func() (Charges, error) {
			return Costs([]Laid{{SeamID: "a", RO: "1"}, {SeamID: "a", RO: "2"}}, nil, nil)
		},
		"volume":         func() (Charges, error) { return Costs([]Laid{{SeamID: "a", Volume: nan}}, nil, nil) },
		"loss":           func() (Charges, error) { return Costs(nil, []Loss{{Kind: Purged, Volume: -1}}, nil) },
		"kind":           func() (Charges, error) { return Costs(nil, []Loss{{Kind: "spilt"}}, nil) },
		"price of what":  func() (Charges, error) { return Costs(nil, nil, map[string]Price{"L": {usd("1"), 0}}) },
		"two currencies": func() (Charges, error) { return Costs(nil, nil, map[string]Price{"L": {usd("1"), 1}, "M": {eur, 1}}) },
	} {
		if c, err := f(); err == nil || fault.KindOf(err) != fault.Invalid {
			t.Errorf("%s: %+v %v", what, c, err)
		}
	}
}
