package published_test

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"seamwright/services/calc/plan"
	"seamwright/services/calc/plan/published"
)

func text(t *testing.T, path ...string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(append([]string{"..", "..", "..", "..", "testdata", "benchmarks"}, path...)...))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// checked adds up the cost of an order by itself and sees that each job
// stands in it once.
func checked(t *testing.T, s plan.Single, order []int) float64 {
	t.Helper()
	seen := make([]bool, len(s.Process))
	now, before, sum := int64(0), len(s.Process), 0.0
	for _, j := range order {
		if seen[j] {
			t.Fatalf("job %d twice", j)
		}
		seen[j] = true
		if s.Setup != nil {
			now += s.Setup[before][j]
		}
		now += s.Process[j]
		if now > s.Due[j] {
			sum += s.Weight[j] * float64(now-s.Due[j])
		}
		before = j
	}
	if len(order) != len(s.Process) {
		t.Fatalf("%d jobs of %d", len(order), len(s.Process))
	}
	return sum
}

// The optima are those of the OR-Library (wtopt40, wtopt50) and the best
// known of Congram, Potts and van de Velde (wtbest100b).
func TestWeightedTardinessReachesTheBestKnown(t *testing.T) {
	for _, c := range []struct {
		n           int
		in, best    string
		step, round int
	}{
		{40, "wt40.txt", "wtopt40.txt", 12, 2500},
		{50, "wt50.txt", "wtopt50.txt", 20, 9000},
		{100, "wt100.txt", "wtbest100b.txt", 60, 6000},
	} {
		instances, best, err := published.WeightedTardiness(c.n, text(t, "wt-orlib", c.in), text(t, "wt-orlib", c.best))
		if err != nil || len(instances) != 125 {
			t.Fatalf("%d instances, %v", len(instances), err)
		}
		for k := 0; k < 125; k += c.step {
			got, err := instances[k].Solve(plan.Options{Seed: 1, Rounds: c.round})
			if err != nil {
				t.Fatal(err)
			}
			if cost := checked(t, instances[k], got.Order); cost != got.Cost || cost < best[k] || published.Gap(cost, best[k]) > 0.001 {
				t.Errorf("wt%d number %d: told %g, adds up to %g, best known %g", c.n, k+1, got.Cost, cost, best[k])
			}
		}
	}
}

// The reference orders are checked themselves; what is found must come close.
func TestSetupsComeCloseToTheBestFound(t *testing.T) {
	best, err := published.Orders(text(t, "wtsds-cicirello", "best-found.csv"))
	if err != nil || len(best) != 120 {
		t.Fatalf("%d orders, %v", len(best), err)
	}
	sum, n := 0.0, 0
	for k := 4; k < 120; k += 24 {
		s, err := published.Setups(text(t, "wtsds-cicirello", "wt_sds_"+best[k].Instance+".instance"))
		if err != nil {
			t.Fatal(err)
		}
		if cost := checked(t, s, best[k].Order); cost != best[k].Cost {
			t.Errorf("reference %s adds up to %g, told %g", best[k].Instance, cost, best[k].Cost)
		}
		got, err := s.Solve(plan.Options{Seed: 1, Rounds: 8000})
		if err != nil {
			t.Fatal(err)
		}
		if cost := checked(t, s, got.Order); cost != got.Cost {
			t.Errorf("%s: told %g, adds up to %g", best[k].Instance, got.Cost, cost)
		}
		sum += published.Gap(got.Cost, best[k].Cost)
		n++
	}
	if mean := sum / float64(n); mean > 0.02 {
		t.Errorf("mean gap %.2f %%", 100*mean)
	}
}

// What was found since is cheaper, and adds up.
func TestBetterOrdersAddUp(t *testing.T) {
	best, err := published.Orders(text(t, "wtsds-cicirello", "best-found.csv"))
	if err != nil {
		t.Fatal(err)
	}
	was := map[string]float64{}
	for _, b := range best {
		was[b.Instance] = b.Cost
	}
	better, err := published.Orders(text(t, "wtsds-cicirello", "better-found.csv"))
	if err != nil || len(better) == 0 {
		t.Fatalf("%d orders, %v", len(better), err)
	}
	for _, b := range better {
		s, err := published.Setups(text(t, "wtsds-cicirello", "wt_sds_"+b.Instance+".instance"))
		if err != nil {
			t.Fatal(err)
		}
		if cost := checked(t, s, b.Order); cost != b.Cost || !(cost < was[b.Instance]) {
			t.Errorf("%s: told %g, adds up to %g, was %g", b.Instance, b.Cost, cost, was[b.Instance])
		}
	}
}

// The optima are the table of the project named in SOURCE.md.
func TestProjectsReachTheOptimum(t *testing.T) {
	for _, set := range []string{"j10", "ubo10"} {
		optima, err := published.Optima(text(t, "rcpsp-max", "optimum-"+set+".csv"))
		if err != nil {
			t.Fatal(err)
		}
		begun := time.Now()
		for _, o := range optima {
			p, err := published.Project(text(t, "rcpsp-max", set, o.File))
			if err != nil {
				t.Fatal(err)
			}
			got, err := p.Solve(plan.Options{})
			if err != nil {
				t.Fatal(err)
			}
			if !got.Proved || (got.Start == nil) != o.None || got.Start != nil && got.Makespan != o.Makespan {
				t.Errorf("%s %s: %+v, want %+v", set, o.File, got, o)
			}
			if got.Start != nil {
				kept(t, o.File, p, got)
			}
		}
		t.Logf("%s: %d instances in %s", set, len(optima), time.Since(begun))
	}
}

// kept checks lags, needs and the makespan moment by moment.
func kept(t *testing.T, name string, p plan.Project, s plan.Schedule) {
	t.Helper()
	for _, l := range p.Lags {
		if s.Start[l.To] < s.Start[l.From]+l.Least {
			t.Errorf("%s: lag %+v", name, l)
		}
	}
	end := int64(0)
	for i := range p.Length {
		end = max(end, s.Start[i]+p.Length[i])
	}
	if end != s.Makespan {
		t.Errorf("%s: ends at %d, told %d", name, end, s.Makespan)
	}
	for at := range end {
		for r, have := range p.Have {
			need := 0
			for i := range p.Length {
				if s.Start[i] <= at && at < s.Start[i]+p.Length[i] {
					need += p.Need[i][r]
				}
			}
			if need > have {
				t.Errorf("%s: at %d resource %d needs %d of %d", name, at, r, need, have)
			}
		}
	}
}
