package console

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"runtime"
	"runtime/debug"
	"slices"
	"sync"
	"time"

	"seamwright/services/fault"
	"seamwright/services/sim"
)

// Soak runs simulated shops for years on journals in memory, in driven time,
// with mistakes and faults from seeds, and compares all that the program says
// with an account that shares no code with it. The first thing that is wrong
// ends it.
type Soak struct {
	Years    int    // 20 if 0
	Seed     uint64 // of the first shop, the next ones count on; 1 if 0
	Parallel int    // shops side by side; as many as there are cores if 0

	Progress io.Writer // a line for each shop that ended; nil: none

	days   int         // of each shop, for tests and measurements; 0: its years
	enough func() bool // no other shop is begun once it says so; nil: never
}

// Limits of a soak.
const (
	defaultYears = 20
	mostYears    = 100_000
	gcPercent    = 800     // shops are small and short-lived: rather room than time,
	roomEach     = 5 << 28 // up to so many bytes for each that runs
	beatEvery    = 5 * time.Second
)

// soakAnswer is what the shops of a soak came to, added up.
type soakAnswer struct {
	Sound      bool            `json:"sound"`
	Seed       uint64          `json:"seed"`
	Shops      int             `json:"shops"`
	Years      int             `json:"years"` // of the shops that ran to their end
	Events     uint64          `json:"events"`
	Readings   int             `json:"readings"`
	Jobs       int             `json:"jobs_delivered"`
	Beads      int             `json:"beads"`
	Permits    int             `json:"permits"`
	Revoked    int             `json:"revoked"`
	Sprayed    int             `json:"loads_sprayed"`
	Holds      map[string]int  `json:"holds"`
	Findings   map[string]int  `json:"findings"`
	Planted    map[string]int  `json:"planted"`
	Checked    map[string]int  `json:"checked"`
	Violations []sim.Violation `json:"violations"`
	Replay     string          `json:"replay"` // the command that shows the first violation again; empty: there is none
	Log        []string        `json:"log"`    // what was planted before it, the last of it
}

func (a *soakAnswer) Lines() []string {
	out := []string{
		fmt.Sprintf("%s, %s, seeds from %d", counted(a.Shops, "shop"), counted(a.Years, "year"), a.Seed),
		fmt.Sprintf("events %d, readings %d, jobs delivered %d, layers laid %d", a.Events, a.Readings, a.Jobs, a.Beads),
		fmt.Sprintf("permits %d, revoked %d, loads sprayed %d", a.Permits, a.Revoked, a.Sprayed),
	}
	table := func(title string, m map[string]int) {
		out = append(out, title)
		for _, k := range slices.Sorted(maps.Keys(m)) {
			out = append(out, fmt.Sprintf("  %-28s %9d", k, m[k]))
		}
	}
	table("holds by reason", a.Holds)
	table("findings by rule", a.Findings)
	table("faults and mistakes", a.Planted)
	table("checks", a.Checked)
	if a.Sound {
		return append(out, "0 violations")
	}
	for _, l := range a.Log {
		out = append(out, "  "+l)
	}
	for _, v := range a.Violations {
		out = append(out, v.String())
	}
	return append(out, "again with: "+a.Replay)
}

func (q *Soak) defaults() error {
	if q.Years == 0 {
		q.Years = defaultYears
	}
	if q.Seed == 0 {
		q.Seed = 1
	}
	if q.Parallel == 0 {
		q.Parallel = runtime.GOMAXPROCS(0)
	}
	switch {
	case q.Years < 1 || q.Years > mostYears:
		return fault.Bad("--years", q.Years, fmt.Sprintf("1 to %d", mostYears))
	case q.Parallel < 1 || q.Parallel > 256:
		return fault.Bad("--parallel", q.Parallel, "1 to 256 shops side by side")
	}
	return nil
}

// Run soaks.
func (q Soak) Run(ctx context.Context, o Out) error {
	if err := q.defaults(); err != nil {
		return err
	}
	a := newSoakAnswer(q.Seed)
	if err := q.all(ctx, a); err != nil {
		return err
	}
	if err := o.put(a); err != nil {
		return err
	}
	if !a.Sound {
		return fault.New(fault.Internal, "soak-broken", "a simulated shop did not do what was due: "+a.Violations[0].String(), "run "+a.Replay)
	}
	return nil
}

// all runs shop after shop, some side by side, until the years are full or
// something is wrong. Shops that are still running then run to their end, so
// that the first one by seed is told.
func (q Soak) all(ctx context.Context, a *soakAnswer) error {
	defer debug.SetGCPercent(debug.SetGCPercent(gcPercent))
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(int64(q.Parallel) * roomEach))
	var mu sync.Mutex
	var failed error
	var stopped []*cutShort
	seed, left := q.Seed, q.Years
	next := func() (uint64, bool) {
		mu.Lock()
		defer mu.Unlock()
		if left <= 0 || failed != nil || !a.Sound || ctx.Err() != nil || q.enough != nil && q.enough() {
			return 0, false
		}
		s := seed
		seed, left = seed+1, left-yearsOf(s)
		return s, true
	}
	var crew sync.WaitGroup
	for range q.Parallel {
		crew.Go(func() {
			for s, ok := next(); ok; s, ok = next() {
				r, years, err := q.one(ctx, s)
				mu.Lock()
				if cut, ok := errors.AsType[*cutShort](err); ok {
					stopped = append(stopped, cut)
					mu.Unlock()
					return
				}
				a.add(r, years)
				if q.Progress != nil {
					fmt.Fprintf(q.Progress, "shop %d ended; %d of %d years done\n", s, a.Years, q.Years)
				}
				if err != nil {
					failed = errors.Join(failed, fmt.Errorf("%w (again with: %s)", err, replay(s)))
				}
				mu.Unlock()
			}
		})
	}
	crew.Wait()
	a.close()
	if ctx.Err() != nil && a.Sound { // shops that were stopped by it are not broken, one that ended before may be
		return q.stopped(a.Years, stopped)
	}
	return failed
}

// cutShort is a shop that was stopped before its end.
type cutShort struct {
	seed  uint64
	start time.Time
	at    time.Time // by the shop's time
	cause error
}

func (c *cutShort) Error() string {
	year := 1
	for !c.at.Before(c.start.AddDate(year, 0, 0)) {
		year++
	}
	day := int(c.at.Sub(c.start.AddDate(year-1, 0, 0))/(24*time.Hour)) + 1
	return fmt.Sprintf("shop %d was in year %d, on day %d (%s)", c.seed, year, day, c.at.Format(time.DateOnly))
}

func (c *cutShort) Unwrap() error { return c.cause }

// stopped says that somebody stopped the soak, and where.
func (q Soak) stopped(years int, shops []*cutShort) error {
	text := fmt.Sprintf("the soak was stopped: %d of %d years done, without a violation", years, q.Years)
	slices.SortFunc(shops, func(x, y *cutShort) int { return cmp.Compare(x.seed, y.seed) })
	for _, s := range shops {
		text += "; " + s.Error()
	}
	return fault.New(fault.Cancelled, "cancelled", text, "")
}

func replay(seed uint64) string { return fmt.Sprintf("seamwright soak --years 1 --seed %d", seed) }

// one runs the shop of one seed.
func (q Soak) one(ctx context.Context, seed uint64) (_ *sim.Report, years int, err error) {
	shop, err := shopOf(seed)
	if err != nil {
		return nil, 0, err
	}
	things, err := shop.furniture()
	if err != nil {
		return nil, 0, err
	}
	m, err := newSoakMachine(shop.start)
	if err != nil {
		return nil, 0, err
	}
	defer func() { err = errors.Join(err, m.stop()) }()
	if m.now, err = m.start(ctx); err != nil {
		if ctx.Err() != nil {
			err = &cutShort{seed: seed, start: shop.start, at: m.Now(), cause: err}
		}
		return nil, 0, err
	}
	days := q.days
	if days == 0 {
		days = int(shop.start.AddDate(shop.years, 0, 0).Sub(shop.start) / (24 * time.Hour))
	}
	r, err := sim.Run(ctx, sim.Options{
		Seed: seed, Days: days, Start: shop.start, Clients: sim.Over(m),
		Time: m, Habits: shop.habits, Furniture: things, Inspect: m, Machine: m, PIN: soakPIN,
		Stop: func(sim.Violation) bool { return true }, Out: io.Discard,
	})
	if ctx.Err() != nil { // whatever it found at its end may come of that
		return nil, 0, &cutShort{seed: seed, start: shop.start, at: m.Now(), cause: ctx.Err()}
	}
	return r, shop.years, err
}

func newSoakAnswer(seed uint64) *soakAnswer {
	return &soakAnswer{
		Sound: true, Seed: seed, Holds: map[string]int{}, Findings: map[string]int{}, Planted: map[string]int{}, Checked: map[string]int{},
		Violations: []sim.Violation{}, Log: []string{},
	}
}

// lastPlanted is how much of what was planted is told with a violation.
const lastPlanted = 12

// add takes in one shop.
func (a *soakAnswer) add(r *sim.Report, years int) {
	if r == nil {
		return
	}
	a.Shops++
	a.Events += r.Events
	a.Readings += r.Readings
	a.Jobs += r.Delivered
	a.Beads += r.Beads
	a.Permits += r.Permits
	a.Revoked += r.Revocations
	a.Sprayed += r.Sprayed
	for _, x := range []struct{ to, from map[string]int }{
		{a.Holds, r.Holds}, {a.Findings, r.Findings}, {a.Planted, r.Planted}, {a.Checked, r.Checked},
	} {
		for k, n := range x.from {
			x.to[k] += n
		}
	}
	if r.Sound() {
		a.Years += years
		return
	}
	a.Sound = false
	if len(a.Violations) == 0 || r.Seed < a.Violations[0].Seed {
		a.Log = r.Log[max(0, len(r.Log)-lastPlanted):]
	}
	a.Violations = append(a.Violations, r.Violations...)
	slices.SortStableFunc(a.Violations, func(x, y sim.Violation) int {
		switch {
		case x.Seed < y.Seed:
			return -1
		case x.Seed > y.Seed:
			return 1
		}
		return 0
	})
}

// close names the command that shows the first violation again.
func (a *soakAnswer) close() {
	if !a.Sound {
		a.Replay = replay(a.Violations[0].Seed)
	}
}
