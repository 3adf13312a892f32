package bead

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"seamwright/services/fault"
)

func TestEstimateByHand(t *testing.T) {
	l := Losses{PurgeML: 8, HoldUpML: 7, WastePercent: 10}
	for what, c := range map[string]struct {
		laid    float64
		nozzles int
		want    Need
	}{
		// 100 + 10 + 15 = 125 of 200.
		"one cartridge": {100, 1, Need{100, 10, 15, 125, 1, 1, 75}},
		// Three nozzles on one cartridge: 110 + 45.
		"three nozzles": {100, 3, Need{100, 10, 45, 155, 3, 1, 45}},
		// 220 leave 185 a cartridge: two, each with its nozzle.
		"two cartridges": {200, 1, Need{200, 20, 30, 250, 2, 2, 150}},
		// 168.1818... laid fill one cartridge to the last drop.
		"just one": {185 / 1.1, 1, Need{185 / 1.1, 18.5 / 1.1, 15, 200, 1, 1, 0}},
	} {
		got := must(Estimate(c.laid, c.nozzles, l, 200))
		if got.Nozzles != c.want.Nozzles || got.Cartridges != c.want.Cartridges {
			t.Errorf("%s: %+v", what, got)
		}
		near(t, what+": waste", got.WasteML, c.want.WasteML, 1e-9)
		near(t, what+": nozzles", got.NozzlesML, c.want.NozzlesML, 1e-9)
		near(t, what+": total", got.TotalML, c.want.TotalML, 1e-9)
		near(t, what+": left", got.LeftML, c.want.LeftML, 1e-9)
	}
}

func TestRefusedEstimates(t *testing.T) {
	nan := math.NaN()
	for what, c := range map[string]struct {
		laid, purge, hold, waste, cartridge float64
		nozzles                             int
	}{
		"nothing laid":       {0, 1, 1, 1, 200, 1},
		"unknown volume":     {nan, 1, 1, 1, 200, 1},
		"negative purge":     {10, -1, 1, 1, 200, 1},
		"unknown hold-up":    {10, 1, nan, 1, 200, 1},
		"negative waste":     {10, 1, 1, -1, 200, 1},
		"no cartridge":       {10, 1, 1, 1, 0, 1},
		"all in the nozzle":  {10, 5, 5, 1, 10, 1},
		"no nozzle":          {10, 1, 1, 1, 200, 0},
		"too many nozzles":   {10, 1, 1, 1, 200, 1 << 30},
		"hardly a cartridge": {1e6, 0, 0, 0, 1, 1},
		"nozzle nearly all":  {1e6, 5, 5, 0, 10.0000001, 1},
	} {
		n, err := Estimate(c.laid, c.nozzles, Losses{c.purge, c.hold, c.waste}, c.cartridge)
		if err == nil || fault.KindOf(err) != fault.Invalid {
			t.Errorf("%s: %+v %v", what, n, err)
		}
	}
}

// No fewer cartridges would do, and with those told it does; nothing is lost
// in the sum.
func TestEstimateIsTheLeast(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := Losses{
			PurgeML:      rapid.Float64Range(0, 15).Draw(t, "purge"),
			HoldUpML:     rapid.Float64Range(0, 12).Draw(t, "hold-up"),
			WastePercent: rapid.Float64Range(0, 30).Draw(t, "waste"),
		}
		laid, cartridge := rapid.Float64Range(0.1, 3000).Draw(t, "laid"), rapid.Float64Range(50, 600).Draw(t, "cartridge")
		nozzles := rapid.IntRange(1, 20).Draw(t, "nozzles")
		n := must(Estimate(laid, nozzles, l, cartridge))
		takes := func(cartridges int) float64 {
			return laid*(1+l.WastePercent/100) + float64(max(nozzles, cartridges))*(l.PurgeML+l.HoldUpML)
		}
		if held := float64(n.Cartridges) * cartridge; takes(n.Cartridges) > held+1e-6 {
			t.Fatalf("%+v: %v in %v", n, takes(n.Cartridges), held)
		}
		if fewer := n.Cartridges - 1; fewer > 0 && takes(fewer) < float64(fewer)*cartridge-1e-6 {
			t.Fatalf("%+v: %d would have done", n, fewer)
		}
		if sum := n.LaidML + n.WasteML + n.NozzlesML; math.Abs(sum-n.TotalML) > 1e-9 ||
			math.Abs(n.TotalML+n.LeftML-float64(n.Cartridges)*cartridge) > 1e-6 {
			t.Fatalf("%+v does not add up", n)
		}
	})
}

func TestHoldUp(t *testing.T) {
	bound := must(EmptyTube(8, 160))
	if bound.Measured {
		t.Error("a bound passes for a measurement")
	}
	near(t, "empty tube", bound.ML, 8.04247719, 1e-8) // π/4 64 160 / 1000
	weighed := must(Weighed(21.4, 14.2, 1.2))
	if !weighed.Measured {
		t.Error("a measurement passes for a bound")
	}
	near(t, "weighed", weighed.ML, 6, 1e-9)
	for _, bad := range []func() (HoldUp, error){
		func() (HoldUp, error) { return EmptyTube(0, 160) },
		func() (HoldUp, error) { return EmptyTube(8, math.NaN()) },
		func() (HoldUp, error) { return Weighed(14, 14.2, 1.2) },
		func() (HoldUp, error) { return Weighed(21, 0, 1.2) },
		func() (HoldUp, error) { return Weighed(21, 14, math.NaN()) },
	} {
		if h, err := bad(); err == nil {
			t.Errorf("accepted: %+v", h)
		}
	}
	for _, flow := range []float64{0, -1, math.NaN()} {
		if s, err := ResidenceS(weighed, flow); err == nil {
			t.Errorf("flow %v: %v", flow, s)
		}
	}
	if s, err := ResidenceS(HoldUp{}, 30); err == nil {
		t.Errorf("nothing held: %v", s)
	}
}
