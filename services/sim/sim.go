package sim

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	curesv1 "seamwright/proto/seamwright/cures/v1"
)

// sim is one simulation.
type sim struct {
	opt      Options
	ctx      context.Context
	err      error
	now      time.Time
	began    uint64 // the journal's last event before the simulated people began
	commands int
	queue    queue
	chance   *rand.Rand
	weather  *weather
	paced    pacer
	hours    hours

	products map[string]*product
	airs     map[string]*air
	zones    []string // in order
	zoneDefs map[string]*curesv1.ZoneDefined
	booths   map[string]*booth
	jobs     map[string]*job
	order    []string  // jobs in the order they came
	fixed    []Arrival // where they are fixed beforehand
	inShop   []*job    // those of them that are not delivered
	loads    map[string]*load
	lots     map[string]*lot
	stock    []*lot // in the order they came
	store    store
	carts    []*cartridge
	beads    map[beadKey]*bead
	stalls   map[string]int
	techs    map[string]*tech
	heard    map[string]time.Time
	gaps     map[string]gap       // the last time that each terminal was missed
	worked   map[string]time.Time // the newest fact that a terminal told
	mute     map[string]bool      // terminals that give no sign of life
	dead     map[string]bool      // probes that are silent
	watching map[string]bool      // probes that read more often for a while
	kept     map[string]told      // the reading that stands for a probe
	asks     map[string]*load
	granted  map[string]bool
	deck     *deck
	numbers  int
	doubted  bool          // the store, for an exercise
	trouble  *hold         // what the program says is wrong with itself
	drawer   *ack          // what a tablet told before it was put away
	untold   int           // beads that a tablet in a drawer knows of alone
	silent   bool          // nothing can be written
	stumble  *rand.Rand    // of machines
	acting   *proc         // who acts now
	score    *Tally        // of the order of loads; nil: nobody keeps it
	sheet    sheet         // the booth service's plan as people see it
	changes  map[*seam]int // how often somebody did something that may set a seam back

	acc    *account
	led    *ledger
	watch  *watcher
	checks *checks
	rep    *Report
}

// beadKey names a bead by its seam and the fact that its clocks began with.
type beadKey struct {
	seam  string
	began uint64
}

func newSim(ctx context.Context, o Options) *sim {
	s := &sim{
		opt: o, ctx: ctx, now: o.Start, hours: o.Habits.hours(), chance: stream(o.Seed, "work"), stumble: stream(o.Seed, "machine"), weather: newWeather(o),
		products: map[string]*product{}, airs: map[string]*air{}, zoneDefs: map[string]*curesv1.ZoneDefined{}, booths: map[string]*booth{}, jobs: map[string]*job{},
		loads: map[string]*load{}, lots: map[string]*lot{}, beads: map[beadKey]*bead{}, stalls: map[string]int{},
		techs: map[string]*tech{}, heard: map[string]time.Time{}, gaps: map[string]gap{}, worked: map[string]time.Time{}, mute: map[string]bool{}, dead: map[string]bool{}, watching: map[string]bool{},
		kept: map[string]told{}, asks: map[string]*load{}, granted: map[string]bool{}, changes: map[*seam]int{}, acc: newAccount(), rep: newReport(o),
	}
	s.checks = newChecks(s)
	s.led, s.watch, s.deck = newLedger(s), newWatcher(s), newDeck(o.Seed)
	if o.Machine != nil {
		s.deck.kinds = slices.Concat(kinds, machineKinds, groundKinds)
	}
	return s
}

// Run simulates the shop. The report is whole unless there is an error; an
// error means that the shop could not be driven on, a report that is not
// Sound that it did not do what was due. A context that ends is no error of a
// simulation without end.
func Run(ctx context.Context, o Options) (*Report, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	s := newSim(ctx, o)
	defer s.close()
	s.open()
	if s.err != nil {
		return s.rep, s.err
	}
	var ear *listener
	if !o.Habits.Unheard {
		ear = s.listen()
	}
	s.staff()
	if o.Days == 0 {
		s.run(time.Time{})
	} else {
		s.run(s.hours.on(o.Start, o.Days, 0))
		s.runOn()
	}
	s.finish(ear)
	if errors.Is(s.err, errHalted) || s.err != nil && ctx.Err() != nil && o.Days == 0 {
		s.err = nil
	}
	return s.rep, s.err
}

// open fills the shop and learns what it consists of from the journal.
func (s *sim) open() {
	s.moveTo(s.opt.Start)
	if s.opt.Import != nil && s.err == nil {
		if err := s.opt.Import(s.ctx); err != nil {
			s.fail(fmt.Errorf("filling the shop: %w", err))
			return
		}
	}
	for _, f := range s.opt.Furniture {
		s.tell(foreman, desk, live, f)
	}
	s.watch.catchUp(s.learn)
	s.began = s.watch.seq
	if s.err == nil && (len(s.products) == 0 || len(s.airs) == 0 || len(s.booths) == 0) {
		s.fail(fmt.Errorf("the shop has %d products, %d zones and %d booths: fill it first", len(s.products), len(s.airs), len(s.booths)))
	}
}

// fail ends the simulation.
func (s *sim) fail(err error) {
	if s.err == nil && err != nil {
		s.err = fmt.Errorf("seed %d, %s: %w", s.opt.Seed, s.when(), err)
	}
}

func (s *sim) when() string {
	return fmt.Sprintf("day %d %s", int(s.now.Sub(s.opt.Start).Hours()/24)+1, s.now.Format("15:04:05"))
}

// moveTo lets time pass up to a moment, and all that is due with it.
func (s *sim) moveTo(at time.Time) {
	for s.err == nil {
		to := s.paced.next(s, at)
		if s.err = s.ctx.Err(); s.err != nil {
			return
		}
		if err := s.advance(to); err != nil {
			s.fail(fmt.Errorf("moving time to %s: %w", clock(to), err))
			return
		}
		if to.After(s.now) {
			s.now = to
		}
		if !to.Before(at) {
			return
		}
	}
}

// settle lets the shop come to rest at this moment.
func (s *sim) settle() { s.moveTo(s.now) }

// catchUp reads the journal to its end.
func (s *sim) catchUp() { s.watch.catchUp(s.brought) }

// planted counts a mishap.
func (s *sim) planted(kind, what string) {
	s.rep.Planted[kind]++
	s.rep.Log = append(s.rep.Log, fmt.Sprintf("%s: %s %s", s.when(), kind, what))
}

// minutes is a chance length of time, whole seconds.
func (s *sim) minutes(from, to float64) time.Duration {
	return time.Duration((from + (to-from)*s.chance.Float64()) * float64(time.Minute)).Truncate(time.Second)
}

// pacer lets driven time run at a pace of the machine's.
type pacer struct {
	real time.Time
	sim  time.Time
	on   bool
	told bool // that it is on
}

// tick is how often a paced shop's clock moves.
const tick = 250 * time.Millisecond

// next waits until some of the way to a moment may be gone, and says how far.
func (p *pacer) next(s *sim, at time.Time) time.Time {
	if s.opt.Pace == 0 || at.Before(s.opt.LiveFrom) {
		return at
	}
	if !s.hours.in(at, 0, prepOpens, prepCloses) {
		p.on = false // nobody watches the nights: they pass as fast as they go
		return at
	}
	if !p.on {
		p.on, p.real, p.sim = true, time.Now(), at
		if s.opt.LiveFrom.After(at) {
			p.sim = s.opt.LiveFrom
		}
		if s.opt.Live != nil && !p.told {
			p.told = true
			s.opt.Live()
		}
	}
	for {
		gone := time.Duration(float64(time.Since(p.real)) * s.opt.Pace)
		allowed := p.sim.Add(gone).Truncate(time.Second)
		if !allowed.Before(at) {
			return at
		}
		if allowed.After(s.now) {
			return allowed
		}
		t := time.NewTimer(tick)
		select {
		case <-t.C:
		case <-s.ctx.Done():
			t.Stop()
			return s.now
		}
	}
}
