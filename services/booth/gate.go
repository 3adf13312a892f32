package booth

import (
	"context"
	"maps"
	"sync"
	"sync/atomic"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/floor"
	"seamwright/services/record"
)

// Names of why a permit ended that are not grounds of the gate.
const (
	EndedNewHolder = floor.EndedNewHolder
	EndedExpired   = "permit-expired"
	EndedReturned  = floor.EndedReturned
	HeldElsewhere  = floor.HoldOtherHolder // it runs, but another service speaks for it
)

// Options of the gate.
type Options struct {
	Holder  string        // name of this service; letters, digits, - and _
	Lease   time.Duration // longest time from a permit to its spraying; 0: DefaultLease
	Beat    time.Duration // between beats, well below Silence; 0: a second
	HearFor time.Duration // how long a bay's terminal may be silent; 0: the floor's default
	Health  func() error  // more that must be sound beside journal and fold; nil: nothing; several troubles may be joined
	// Running is a clock that nobody sets, by which the gate notices that it
	// was not called for a while; nil: it does not, for driven time.
	Running func() time.Duration
	// Jumps are the times that the shop's clock was set while the program ran;
	// nil: it is not watched.
	Jumps func() []floor.Jump
	// Quiet leaves out beats while no permit runs, for driven time in which
	// nobody listens second by second; while nobody watches at all the gate's
	// state is not even worked out until somebody asks.
	Quiet bool

	// Standing is what this service is among several of a shop's; nil: it is
	// the only one. See [Stand].
	Standing func() Standing
	// Spread tells the shop's other booth services that a terminal was heard;
	// nil: there are none.
	Spread func(terminal string)
	// Send puts the state of a booth's gate before readers outside the
	// process, numbered one by one; it must not block. nil: there are none.
	Send func(*boothv1.Gate)
}

// DefaultLease is the longest time from a permit to its spraying.
const DefaultLease = 10 * time.Minute

// actor is the name under which the gate speaks.
const actor = "booth-gate"

// Gate keeps the permits of all booths. It is an actor of package clock.
type Gate struct {
	desk *record.Desk
	opt  Options

	watchers atomic.Int64 // streams of beats that are open

	mu     sync.Mutex // never held while the writer is called
	heard  map[string]time.Time
	begun  bool
	spoke  bool                      // at its newest look, it was the service that speaks
	lost   map[string][]floor.Reason // by permit: the grounds that fell away, until it is revoked
	beats  map[floor.BoothID]uint64
	states map[floor.BoothID]*boothv1.Gate
	moved  chan struct{} // closed and replaced when a state changed
	looked time.Duration // on the running clock: when the permits were looked after last
	looks  uint64

	sent map[floor.BoothID]sent // Step's own
}

// NewGate makes the gate of the floor behind a desk.
func NewGate(d *record.Desk, o Options) *Gate {
	if o.Lease <= 0 {
		o.Lease = DefaultLease
	}
	if o.Beat <= 0 {
		o.Beat = time.Second
	}
	g := &Gate{
		desk: d, opt: o, heard: map[string]time.Time{}, lost: map[string][]floor.Reason{}, beats: map[floor.BoothID]uint64{},
		states: map[floor.BoothID]*boothv1.Gate{}, moved: make(chan struct{}), sent: map[floor.BoothID]sent{},
	}
	d.Writer.Listen(g.event)
	return g
}

// Hear notes a sign of life of a terminal that stands in a zone; of others
// nobody asks. It reports whether it stands in one.
func (g *Gate) Hear(terminal string, at time.Time) (known bool) {
	g.desk.Writer.View(func(uint64) { known = g.desk.Floor.TerminalZone(terminal) != "" })
	if !known {
		return false
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	if at.After(g.heard[terminal]) {
		g.heard[terminal] = at
	}
	return true
}

// Step looks at every running permit, beats, and takes back what lost its
// ground. What is lost is shown before it is told to the journal, which may
// not answer: a permit that could not be taken back holds all the same, and
// is taken back by a later step.
func (g *Gate) Step(ctx context.Context, now time.Time) (time.Time, error) {
	standing := g.standing()
	g.turn(standing.Active)
	if !standing.Active {
		return now.Add(g.opt.Beat), g.stepBack(ctx, standing) // another service speaks: it looks, and it beats
	}
	live := g.live()
	running := g.running()
	lost := g.look(running, live)
	idle := len(running) == 0 && g.unwatched()
	left := false
	if !idle {
		left = g.beat(live)
	}
	failed := g.revoke(ctx, lost)
	g.mu.Lock()
	g.begun = g.begun || failed == nil
	g.mu.Unlock()
	switch {
	case failed != nil:
		return now.Add(g.opt.Beat), failed
	case idle, g.opt.Quiet && !left:
		return time.Time{}, nil
	}
	return now.Add(g.opt.Beat), nil
}

// unwatched reports whether a quiet gate has nobody to beat for. What it
// showed last is forgotten: the next watcher waits for a state of the present.
func (g *Gate) unwatched() bool {
	if !g.opt.Quiet || g.watchers.Load() > 0 {
		return false
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	clear(g.states)
	return true
}

// running lists the permits that run and forgets what was lost by others.
func (g *Gate) running() (out []floor.Permit) {
	ids := map[string]bool{}
	g.desk.Writer.View(func(uint64) {
		for _, p := range g.desk.Floor.Permits() {
			out = append(out, *p)
			ids[p.ID] = true
		}
	})
	g.mu.Lock()
	defer g.mu.Unlock()
	maps.DeleteFunc(g.lost, func(id string, _ []floor.Reason) bool { return !ids[id] })
	return out
}
