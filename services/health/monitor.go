package health

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"time"

	"seamwright/services/fault"
)

// Check is one thing that is looked at again and again.
type Check struct {
	Name   string        // the trouble when it does not answer in time: a stable reason
	What   string        // what is looked at, for people: "the disk of the journal"
	Hint   string        // what to do when it does not answer
	Every  time.Duration // pause between two looks
	Within time.Duration // how old the last answer may be

	// Look returns nil when all is well, or a fault whose reason names the
	// trouble. Its context ends after Within.
	Look func(ctx context.Context) error
}

// Options of a monitor. The zero value is fit for use.
type Options struct {
	// Running is a clock that runs evenly and that nobody sets, as a length
	// of time since any moment; nil: the machine's.
	Running func() time.Duration

	// Changed is called when troubles came or went; nil: nobody is.
	Changed func()

	Log *slog.Logger // nil: slog.Default
}

// Monitor keeps what every check saw last. Add the checks, then Run it.
type Monitor struct {
	opt    Options
	checks []Check

	mu   sync.Mutex
	seen []sight

	telling sync.Mutex // one comparison at a time: an older one must not have the last word
	names   string     // of the troubles when they were last compared
	told    string     // of the troubles that the log knows of

	begun time.Duration // of Run
}

// sight is the newest answer of a check.
type sight struct {
	asked    time.Duration // when the look began that answered last
	answered bool
	err      error
}

// sentinel is how often lateness is looked for: a check that hangs tells
// nobody.
const sentinel = 250 * time.Millisecond

// Usual times of a check that costs nothing.
const (
	Often    = 250 * time.Millisecond
	Patience = 2 * time.Second
)

// New makes a monitor without checks.
func New(o Options) *Monitor {
	if o.Running == nil {
		o.Running = Running()
	}
	if o.Log == nil {
		o.Log = slog.Default()
	}
	if o.Changed == nil {
		o.Changed = func() {}
	}
	return &Monitor{opt: o}
}

// Running is the machine's running clock, from now on.
func Running() func() time.Duration {
	begun := time.Now()
	return func() time.Duration { return time.Since(begun) }
}

// Add puts a check in. Call it before Run.
func (m *Monitor) Add(c Check) {
	m.checks, m.seen = append(m.checks, c), append(m.seen, sight{})
}

// Run looks until the context ends. ready is called once, when every check
// has answered or the patience with it is over.
func (m *Monitor) Run(ctx context.Context, ready func()) {
	m.begun = m.opt.Running()
	var all, first sync.WaitGroup
	for i := range m.checks {
		first.Add(1)
		all.Go(func() { m.watch(ctx, i, sync.OnceFunc(first.Done)) })
	}
	all.Go(func() { first.Wait(); ready() })
	all.Go(func() { m.tell(ctx) })
	all.Wait()
}

// watch repeats one check.
func (m *Monitor) watch(ctx context.Context, i int, answered func()) {
	defer answered()
	c := m.checks[i]
	pause := time.NewTimer(0)
	defer pause.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-pause.C:
		}
		asked := m.opt.Running()
		patience := time.AfterFunc(c.Within, answered)
		look, cancel := context.WithTimeout(ctx, c.Within)
		err := guarded(c, look)
		cancel()
		patience.Stop()
		if ctx.Err() != nil {
			return
		}
		m.note(i, asked, err)
		answered()
		pause.Reset(c.Every)
	}
}

// guarded turns a panic of a look into trouble.
func guarded(c Check, ctx context.Context) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fault.New(fault.Internal, c.Name, fmt.Sprintf("looking at %s failed: %v", c.What, p), c.Hint)
		}
	}()
	return c.Look(ctx)
}

func (m *Monitor) note(i int, asked time.Duration, err error) {
	m.mu.Lock()
	m.seen[i] = sight{asked, true, err}
	m.mu.Unlock()
	m.compare()
}

// tell notices what becomes late.
func (m *Monitor) tell(ctx context.Context) {
	t := time.NewTicker(sentinel)
	defer t.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-t.C:
			m.compare()
		}
	}
}

// compare tells of troubles that came or went.
func (m *Monitor) compare() {
	m.telling.Lock()
	defer m.telling.Unlock()
	ts := m.Troubles()
	var names []string
	for _, t := range ts {
		names = append(names, fault.ReasonOf(t))
	}
	slices.Sort(names)
	now := strings.Join(names, " ")
	if m.names != now {
		m.names = now
		m.opt.Changed()
	}
	if m.told == now || m.starting() {
		return
	}
	if now == "" {
		m.opt.Log.Info("the process can be trusted again", "troubles", m.told)
	} else {
		m.opt.Log.Warn("the process cannot be trusted: the gate holds", "troubles", now, "err", errors.Join(ts...))
	}
	m.told = now
}

// starting reports whether a check has not answered yet and is not late: the
// gate holds, and there is nothing to tell.
func (m *Monitor) starting() bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	now := m.opt.Running()
	for i, c := range m.checks {
		if !m.seen[i].answered && now-m.begun <= c.Within {
			return true
		}
	}
	return false
}

// Troubles are the troubles now, in the order of the checks.
func (m *Monitor) Troubles() []error {
	now := m.opt.Running()
	m.mu.Lock()
	defer m.mu.Unlock()
	var out []error
	for i, c := range m.checks {
		if err := judge(c, m.seen[i], now); err != nil {
			out = append(out, err)
		}
	}
	return out
}

// judge is what a check's newest answer is worth at a moment.
func judge(c Check, s sight, now time.Duration) error {
	switch {
	case !s.answered:
		return fault.New(fault.Unavailable, c.Name, fmt.Sprintf("%s has not answered yet", c.What), c.Hint)
	case s.err != nil:
		return s.err
	case now-s.asked > c.Within+c.Every:
		return fault.New(fault.Unavailable, c.Name,
			fmt.Sprintf("%s has not answered for %s, the limit is %s", c.What, (now-s.asked).Round(100*time.Millisecond), c.Within+c.Every), c.Hint)
	}
	return nil
}

// Healthy is nil while no check is in trouble, else all troubles in one
// error, each of which errors.As and its Unwrap() []error can reach.
func (m *Monitor) Healthy() error { return errors.Join(m.Troubles()...) }
