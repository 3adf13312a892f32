package console

import (
	"bytes"
	"encoding/json"
	"os"
	"strings"
	"testing"

	"seamwright/services/fault"
	"seamwright/services/sim"
)

// Under every policy the shop does what is due, the same cars come in, and
// every load is sprayed behind the gate; summed over the seeds the plan is late
// by less than first come, first served and misses no more windows. A seed is
// one shop, so that this does not waver. With POLICY_LONG set more of them run
// for longer, and the table is told.
func TestPolicies(t *testing.T) {
	if testing.Short() {
		t.Skip("runs shops for days")
	}
	q := BenchPolicies{Seeds: 1, First: 3, Days: 8, Loads: "95"} // a shop in which first come, first served is late
	if os.Getenv("POLICY_LONG") != "" {
		q = BenchPolicies{}
	}
	a, err := q.measure(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("\n%s", strings.Join(a.Lines(), "\n"))
	for _, g := range a.Gains {
		if g.Against != sim.FirstCome {
			continue
		}
		if g.Tardiness == nil || *g.Tardiness <= 0 {
			t.Errorf("at %g %% the plan is late by no less than first come, first served: %+v", g.Load, g)
		}
		if g.Missed != nil && *g.Missed < 0 {
			t.Errorf("at %g %% the plan misses more windows than first come, first served: %.0f %%", g.Load, -*g.Missed)
		}
	}
	sums := map[string]string{}
	for _, r := range a.Runs {
		if r.wrong != "" {
			t.Errorf("load %g, seed %d, %s: %s", r.Load, r.Seed, r.Order.Policy, r.wrong)
		}
		if r.Order.Unready > 0 || r.Order.Sprayed < r.Order.Cars || r.Order.Cars == 0 {
			t.Errorf("load %g, seed %d, %s: %d cars, %d loads sprayed, %d not ready", r.Load, r.Seed, r.Order.Policy, r.Order.Cars, r.Order.Sprayed, r.Order.Unready)
		}
		key := string(rune(r.Seed)) + string(rune(int(r.Load)))
		if sums[key] == "" {
			sums[key] = r.Order.Arrivals
		}
		if sums[key] != r.Order.Arrivals {
			t.Errorf("load %g, seed %d: other cars come in under %s", r.Load, r.Seed, r.Order.Policy)
		}
	}
}

func TestTheSumsOverSeeds(t *testing.T) {
	run := func(seed uint64, p sim.Policy, late float64, missed int) policyRun {
		return policyRun{Seed: seed, Load: 85, Order: &sim.Tally{Policy: p, Tardiness: late, Missed: missed}}
	}
	a := &policyAnswer{Seeds: 2, First: 1, Days: 30, Runs: []policyRun{
		run(1, sim.FirstCome, 100, 4), run(2, sim.FirstCome, 300, 6), run(1, sim.Planned, 150, 0), run(2, sim.Planned, 50, 1),
	}}
	a.Sets = []policySet{setOf(a.Runs[:2]), setOf(a.Runs[2:])}
	a.gains()
	if s := a.Sets[0].Measures["weighted_tardiness_min"]; s.Mean != 200 || s.Min != 100 || s.Max != 300 || s.SD < 141.4 || s.SD > 141.5 {
		t.Errorf("100 and 300 are %+v, want mean 200 and the deviation of a sample, 141.4", s)
	}
	if g := a.Gains[0]; len(a.Gains) != 1 || *g.Tardiness != 50 || *g.Missed != 90 || g.Better != 1 || g.Worse != 1 {
		t.Errorf("200 for 400 and 1 for 10 are %+v, want 50 %% and 90 %% lower, better in one seed, worse in one", a.Gains)
	}
	if lower(1, 0) != nil {
		t.Error("lower than nothing is no per cent")
	}
	var out bytes.Buffer
	if err := (Out{W: &out, JSON: true}).put(a); err != nil || !json.Valid(out.Bytes()) || strings.Contains(out.String(), "null") {
		t.Errorf("%v\n%s", err, out.String())
	}
}

func TestBadPolicies(t *testing.T) {
	for _, q := range []BenchPolicies{
		{Seeds: -1}, {Days: 400}, {Parallel: 999}, {Loads: "85,x"}, {Loads: "9"}, {Loads: "NaN"}, {Loads: "85,"}, {Policies: "plan,lifo"}, {Policies: ","},
	} {
		if _, _, err := q.defaults(); fault.KindOf(err) != fault.Invalid {
			t.Errorf("%+v: %v", q, err)
		}
	}
	for _, q := range []Demo{{Policy: "lifo"}, {Load: 85}, {Headless: true, Load: 5}, {Headless: true, Load: 121}} {
		if err := q.defaults(); fault.KindOf(err) != fault.Invalid {
			t.Errorf("%+v: %v", q, err)
		}
	}
}
