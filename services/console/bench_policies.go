package console

import (
	"context"
	"fmt"
	"io"
	"runtime"
	"runtime/debug"
	"strconv"
	"strings"
	"sync"

	"seamwright/services/fault"
	"seamwright/services/sim"
)

// BenchPolicies runs the simulated shop under every policy with the same cars,
// the same days and the same luck, over several seeds and booth loads.
type BenchPolicies struct {
	Seeds    int    // 20 if 0
	First    uint64 // the first seed; 1 if 0
	Days     int    // that cars come in; 30 if 0
	Loads    string // per cent, separated by commas; 70,85,95 if empty
	Policies string // separated by commas; all if empty
	Parallel int    // shops side by side; as many as there are cores if 0

	Progress io.Writer // a line for each shop that ended; nil: none
}

type policyAnswer struct {
	Seeds int           `json:"seeds"`
	First uint64        `json:"first_seed"`
	Days  int           `json:"days"`
	Sound bool          `json:"sound"` // every shop did what was due
	Sets  []policySet   `json:"sets"`
	Runs  []policyRun   `json:"runs"`
	Gains []policyGains `json:"gains"`
}

// policySet is one policy at one load over the seeds.
type policySet struct {
	Load     float64                `json:"load_percent"`
	Policy   sim.Policy             `json:"policy"`
	Measures map[string]spreadOfOne `json:"measures"`
}

// spreadOfOne is a measure over the seeds.
type spreadOfOne struct {
	Mean float64 `json:"mean"`
	SD   float64 `json:"sd"` // of a sample; 0 for one seed
	Min  float64 `json:"min"`
	Max  float64 `json:"max"`
}

// policyGains is how much lower the plan's sums over the seeds are than
// another policy's, in per cent of the other's; null where that is nothing.
type policyGains struct {
	Load      float64    `json:"load_percent"`
	Against   sim.Policy `json:"against"`
	Tardiness *float64   `json:"weighted_tardiness_percent"`
	Missed    *float64   `json:"missed_windows_percent"`
	Better    int        `json:"seeds_with_less_tardiness"`
	Worse     int        `json:"seeds_with_more_tardiness"`
}

// policyRun is one shop.
type policyRun struct {
	Seed  uint64     `json:"seed"`
	Load  float64    `json:"load_percent"`
	Order *sim.Tally `json:"order"`
	wrong string
}

// measures are what is told of each policy, in order.
var measures = []struct {
	key, title string
	of         func(*sim.Tally) float64
	digits     int
}{
	{"weighted_tardiness_min", "weighted tardiness, min", func(t *sim.Tally) float64 { return t.Tardiness }, 0},
	{"late_cars", "cars late", func(t *sim.Tally) float64 { return float64(t.Late) }, 1},
	{"missed_windows", "missed windows", func(t *sim.Tally) float64 { return float64(t.Missed) }, 1},
	{"idle_while_work_waited_min", "idle with work, min", func(t *sim.Tally) float64 { return t.WaitedMin }, 0},
	{"idle_min", "idle, min", func(t *sim.Tally) float64 { return t.IdleMin }, 0},
	{"colour_changes", "colour changes", func(t *sim.Tally) float64 { return float64(t.Changes) }, 1},
	{"setups_min", "setups, min", func(t *sim.Tally) float64 { return t.SetupsMin }, 0},
	{"loads_sprayed", "loads", func(t *sim.Tally) float64 { return float64(t.Sprayed) }, 1},
	{"weighted_tardiness_delivered_min", "by delivery, min", func(t *sim.Tally) float64 { return t.Delivered }, 0},
}

func (q *BenchPolicies) defaults() (loads []float64, policies []sim.Policy, err error) {
	if q.Seeds == 0 {
		q.Seeds = 20
	}
	if q.First == 0 {
		q.First = 1
	}
	if q.Days == 0 {
		q.Days = 30
	}
	if q.Parallel == 0 {
		q.Parallel = runtime.GOMAXPROCS(0)
	}
	if q.Loads == "" {
		q.Loads = "70,85,95"
	}
	switch {
	case q.Seeds < 1 || q.Seeds > 1000:
		return nil, nil, fault.Bad("--seeds", q.Seeds, "1 to 1000")
	case q.Days < 1 || q.Days > 365:
		return nil, nil, fault.Bad("--days", q.Days, "1 to 365")
	case q.Parallel < 1 || q.Parallel > 256:
		return nil, nil, fault.Bad("--parallel", q.Parallel, "1 to 256 shops side by side")
	}
	for _, f := range strings.Split(q.Loads, ",") {
		x, err := strconv.ParseFloat(strings.TrimSpace(f), 64)
		if err != nil || !(x >= leastLoad && x <= mostLoad) {
			return nil, nil, fault.Bad("--loads", show(q.Loads), loadLimit+", separated by commas")
		}
		loads = append(loads, x)
	}
	if q.Policies == "" {
		return loads, sim.Policies(), nil
	}
	for _, f := range strings.Split(q.Policies, ",") {
		p, err := sim.ParsePolicy("--policies", strings.TrimSpace(f))
		if err != nil || p == "" {
			return nil, nil, fault.Bad("--policies", show(q.Policies), "plan, fcfs, edd, separated by commas")
		}
		policies = append(policies, p)
	}
	return loads, policies, nil
}

// Run runs them all.
func (q BenchPolicies) Run(ctx context.Context, o Out) error {
	a, err := q.measure(ctx)
	if err != nil {
		return err
	}
	if err := o.put(a); err != nil {
		return err
	}
	for _, r := range a.Runs {
		if r.wrong != "" {
			return fault.New(fault.Internal, "policies-unsound", "a simulated shop did not do what was due: "+r.wrong,
				fmt.Sprintf("run seamwright demo --headless --days %d --seed %d --policy %s --load %g", a.Days, r.Seed, r.Order.Policy, r.Load))
		}
	}
	return nil
}

func (q BenchPolicies) measure(ctx context.Context) (*policyAnswer, error) {
	loads, policies, err := q.defaults()
	if err != nil {
		return nil, err
	}
	a := &policyAnswer{Seeds: q.Seeds, First: q.First, Days: q.Days, Sound: true, Sets: []policySet{}, Runs: []policyRun{}, Gains: []policyGains{}}
	var todo []policyShop
	for _, load := range loads {
		for _, p := range policies {
			for n := range q.Seeds {
				todo = append(todo, policyShop{policy: p, load: load, days: q.Days, seed: q.First + uint64(n)})
			}
		}
	}
	if a.Runs, err = q.all(ctx, todo); err != nil {
		return nil, err
	}
	for i := 0; i < len(todo); i += q.Seeds {
		a.Sets = append(a.Sets, setOf(a.Runs[i:i+q.Seeds]))
	}
	for _, r := range a.Runs {
		a.Sound = a.Sound && r.wrong == ""
	}
	a.gains()
	return a, nil
}

// all runs shops, some side by side.
func (q BenchPolicies) all(ctx context.Context, todo []policyShop) ([]policyRun, error) {
	defer debug.SetGCPercent(debug.SetGCPercent(gcPercent))
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(int64(q.Parallel) * roomEach))
	runs := make([]policyRun, len(todo))
	next := make(chan int)
	var mu sync.Mutex
	var failed error
	var crew sync.WaitGroup
	for range q.Parallel {
		crew.Go(func() {
			for i := range next {
				t := todo[i]
				r, err := t.run(ctx)
				mu.Lock()
				switch {
				case err != nil:
					if failed == nil {
						failed = err
					}
				default:
					runs[i] = policyRun{Seed: t.seed, Load: t.load, Order: r.Order}
					if !r.Sound() {
						runs[i].wrong = r.Violations[0].String()
					}
					if q.Progress != nil {
						fmt.Fprintf(q.Progress, "load %g, seed %d, %s: weighted tardiness %.0f min, missed windows %d\n",
							t.load, t.seed, t.policy, r.Order.Tardiness, r.Order.Missed)
					}
				}
				mu.Unlock()
			}
		})
	}
	for i := range todo {
		mu.Lock()
		stop := failed != nil || ctx.Err() != nil
		mu.Unlock()
		if stop {
			break
		}
		next <- i
	}
	close(next)
	crew.Wait()
	if ctx.Err() != nil {
		return nil, fault.Wrap(ctx.Err(), fault.Cancelled, "cancelled", "")
	}
	return runs, failed
}
