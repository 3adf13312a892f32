package stock

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"seamwright/services/fault"
)

var weekly = Policy{Service: 0.95, Lead: Lead{Mean: 2, SD: 0.5}, Cover: 4, Pack: 6, Minimum: 12}

func TestAdviceByHand(t *testing.T) {
	d := Demand{Mean: 10, SD: 3}
	// 20 until the delivery, √(2·9 + 100·0.25) = 6.557 times 1.645 for safety.
	a := must(Advise(d, weekly, 30))
	if a.Point != 31 || a.Quantity != 42 || a.Order != 48 || !strings.Contains(a.Why, "31 or less") {
		t.Errorf("%+v", a) // 40 for four weeks in packs of six; one more to catch up
	}
	if a := must(Advise(d, weekly, 31)); a.Order != 42 {
		t.Errorf("at the point: %+v", a)
	}
	if a := must(Advise(d, weekly, 32)); a.Order != 0 || a.Quantity != 42 {
		t.Errorf("above the point: %+v", a)
	}
	costs := weekly
	costs.OrderCost, costs.HoldCost = 20, 0.1 // √(2·20·10/0.1) = 63.2
	if a := must(Advise(d, costs, 0)); a.Quantity != 66 || a.Shelf {
		t.Errorf("by cost: %+v", a)
	}
	costs.Keeps = 4 // 40 are used in its life, 10.8 of them lie behind the safety stock
	if a := must(Advise(d, costs, 99)); a.Quantity != 30 || !a.Shelf {
		t.Errorf("cut to its life: %+v", a)
	}
	slow := weekly
	slow.Poisson, slow.Pack, slow.Minimum = true, 1, 0
	// Mean 3 until the delivery: P(D <= 6) = 0.9665, P(D <= 5) = 0.9161.
	if a := must(Advise(Demand{Mean: 1.5}, slow, 6)); a.Point != 6 || a.Order != 6 {
		t.Errorf("slow mover: %+v", a)
	}
}

func TestMoreServiceMoreStock(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := Demand{Mean: rapid.Float64Range(0.1, 50).Draw(t, "mean"), SD: rapid.Float64Range(0, 20).Draw(t, "sd")}
		l := Lead{Mean: rapid.Float64Range(0.1, 8).Draw(t, "lead"), SD: rapid.Float64Range(0, 3).Draw(t, "lead sd")}
		a, b := rapid.Float64Range(0.5, 0.98).Draw(t, "low"), rapid.Float64Range(0, 0.0199).Draw(t, "more")
		low, high := must(ReorderPoint(d, l, a)), must(ReorderPoint(d, l, a+b))
		longer := l
		longer.Mean++
		if low.At > high.At || low.Safety < 0 || low.At > must(ReorderPoint(d, longer, a)).At {
			t.Fatalf("%+v at %g, %+v at %g", low, a, high, a+b)
		}
		if low.SD > 1e-4*(1+low.During) && math.Abs(must(CycleService(d, l, low.At))-a) > 1e-9 {
			t.Fatalf("%+v gives %g", low, must(CycleService(d, l, low.At)))
		}
		if must(PoissonPoint(d.Mean, a)) > must(PoissonPoint(d.Mean, a+b)) {
			t.Fatal("a lower point for more service")
		}
	})
}

func TestPacks(t *testing.T) {
	for _, c := range []struct {
		q              float64
		pack, min, got int
	}{{0, 6, 0, 0}, {0.1, 6, 0, 6}, {12, 6, 0, 12}, {12.0001, 6, 0, 18}, {1, 6, 13, 18}, {7.3, 1, 0, 8}} {
		if n := must(Pack(c.q, c.pack, c.min)); n != c.got {
			t.Errorf("%+v: %d", c, n)
		}
	}
}

func TestRefusedOrders(t *testing.T) {
	nan := math.NaN()
	d, l := Demand{Mean: 10, SD: 3}, Lead{Mean: 2}
	rates := Rates{1, 2, 3}
	policy := func(f func(*Policy)) error {
		p := weekly
		f(&p)
		_, err := Advise(d, p, 3)
		return err
	}
	second := func(_, _ float64, err error) error { return err }
	demanded := func(from, to time.Time, period time.Duration, uses ...Use) error {
		_, err := Demanded(uses, from, to, period)
		return err
	}
	week, later := 7*dayLong, monday.AddDate(0, 2, 0)
	only := func(_ any, err error) error { return err }
	for field, errs := range map[string][]error{
		"service": {
			only(Z(0)), only(Z(1)), only(Z(nan)), only(ReorderPoint(d, l, -1)), only(PoissonPoint(3, 1.5)), policy(func(p *Policy) { p.Service = 1 }),
		},
		"lead.mean":      {only(ReorderPoint(d, Lead{}, 0.9)), only(ReorderPoint(d, Lead{Mean: nan}, 0.9)), only(CycleService(d, Lead{Mean: -1}, 3))},
		"lead.sd":        {only(ReorderPoint(d, Lead{Mean: 1, SD: -1}, 0.9))},
		"lead.review":    {only(ReorderPoint(d, Lead{Mean: 1, Review: nan}, 0.9))},
		"demand.mean":    {only(ReorderPoint(Demand{Mean: -1}, l, 0.9)), only(FillRate(Demand{Mean: nan}, l, 1, 1))},
		"demand.sd":      {only(ReorderPoint(Demand{SD: math.Inf(1)}, l, 0.9)), only(RQCost(Demand{Mean: 1}, l, rates, 1, 1))},
		"mean":           {only(PoissonPoint(0, 0.9)), only(PoissonPoint(nan, 0.9)), only(SSCost(0, 0, rates, 1, 2)), only(SSCost(nan, 0, rates, 1, 2))},
		"lead":           {only(SSCost(1, -1, rates, 1, 2))},
		"up_to":          {only(SSCost(1, 0, rates, 2, 2))},
		"demand":         {second(EOQ(0, 1, 1)), second(EOQ(nan, 1, 1))},
		"order_cost":     {second(EOQ(1, -1, 1)), only(SSCost(1, 0, Rates{1, 1, 0}, 1, 2))},
		"hold_cost":      {second(EOQ(1, 1, 0)), only(CriticalRatio(0, 1)), only(NewsvendorCost(d, nan, 1))},
		"short_cost":     {only(CriticalRatio(1, 0))},
		"quantity":       {only(Pack(nan, 1, 0)), only(FillRate(d, l, 1, 0)), only(RQCost(d, l, rates, 1, 0))},
		"point":          {only(CycleService(d, l, nan)), only(RQCost(d, l, rates, nan, 1))},
		"pack":           {only(Pack(1, 0, 0)), policy(func(p *Policy) { p.Pack = 0 })},
		"minimum":        {only(Pack(1, 1, -1))},
		"cover":          {policy(func(p *Policy) { p.Cover = 0 }), policy(func(p *Policy) { p.Cover = nan })},
		"keeps":          {policy(func(p *Policy) { p.Keeps = nan })},
		"position":       {only(Advise(d, weekly, nan))},
		"size":           {only(d.In(0))},
		"period":         {demanded(monday, later, 0, Use{monday, 1}), demanded(monday, later, 90*dayLong, Use{monday, 1}), demanded(monday, later, time.Second, Use{monday, 1})},
		"to":             {demanded(later, monday, week, Use{monday, 1}), demanded(time.Time{}, later, week, Use{monday, 1})},
		"uses":           {demanded(monday, later, week), demanded(monday, later, week, Use{later, 5}), demanded(monday, later, week, Use{monday, 0})},
		"uses[0].amount": {demanded(monday, later, week, Use{monday, nan}), demanded(monday, later, week, Use{monday, -1})},
	} {
		for i, err := range errs {
			if err == nil || fault.KindOf(err) != fault.Invalid || !strings.HasPrefix(err.Error(), field+": ") {
				t.Errorf("%s %d: %v", field, i, err)
			}
		}
	}
}

// Whatever is put in, a number comes out or an error.
func FuzzOrders(f *testing.F) {
	f.Add(10.0, 3.0, 2.0, 0.5, 0.95, 1.0, 2.0, 3.0)
	f.Add(math.NaN(), math.Inf(1), -1.0, 0.0, 1.0, 1e300, 1e-300, 0.0)
	f.Fuzz(func(t *testing.T, mean, sd, lead, leadSD, service, hold, short, order float64) {
		look := func(what string, x float64, err error) {
			if err == nil && (math.IsNaN(x) || math.IsInf(x, 0)) || err != nil && fault.KindOf(err) != fault.Invalid {
				t.Errorf("%s: %g %v", what, x, err)
			}
		}
		d, l := Demand{Mean: mean, SD: sd}, Lead{Mean: lead, SD: leadSD}
		p, err := ReorderPoint(d, l, service)
		look("point", p.At, err)
		x, err := CycleService(d, l, mean)
		look("service", x, err)
		x, err = FillRate(d, l, mean, order)
		look("fill", x, err)
		x, _, err = EOQ(mean, order, hold)
		look("eoq", x, err)
		n, err := PoissonPoint(mean, service)
		look("poisson", float64(n), err)
		a, err := Advise(d, Policy{Service: service, Lead: l, OrderCost: order, HoldCost: hold, Cover: 2, Pack: 1}, mean)
		look("advice", a.Safety, err)
		c := Rates{Hold: hold, Short: short, Order: order}
		r, q, cost, err := RQ(d, l, c)
		look("r", r, err)
		look("Q", q, err)
		look("cost", cost, err)
		if mean < 20 {
			s, _, cost, err := SS(mean, 0, c)
			look("s", float64(s), err)
			look("cost", cost, err)
		}
	})
}
