package booth

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/record"
)

// Names of why a permit ended that are not grounds of the gate.
const (
	EndedNewHolder = "new-holder"
	EndedExpired   = "permit-expired"
	EndedReturned  = "returned"
)

// Options of the gate.
type Options struct {
	Holder  string        // name of this service; letters, digits, - and _
	Lease   time.Duration // longest time from a permit to its spraying; 0: DefaultLease
	Beat    time.Duration // between beats; 0: a second
	HearFor time.Duration // how long a bay's terminal may be silent; 0: the floor's default
	Health  func() error  // more that must be sound beside journal and fold; nil: nothing
	// Quiet leaves out beats while no permit runs, for driven time in which
	// nobody listens second by second.
	Quiet bool
}

// DefaultLease is the longest time from a permit to its spraying.
const DefaultLease = 10 * time.Minute

// actor is the name under which the gate speaks.
const actor = "booth-gate"

// Gate keeps the permits of all booths. It is an actor of package clock.
type Gate struct {
	desk *record.Desk
	opt  Options

	mu     sync.Mutex
	heard  map[string]time.Time
	begun  bool
	beats  map[floor.BoothID]uint64
	states map[floor.BoothID]*boothv1.Gate
	moved  chan struct{} // closed and replaced when a state changed
}

// NewGate makes the gate of the floor behind a desk.
func NewGate(d *record.Desk, o Options) *Gate {
	if o.Lease <= 0 {
		o.Lease = DefaultLease
	}
	if o.Beat <= 0 {
		o.Beat = time.Second
	}
	return &Gate{
		desk: d, opt: o, heard: map[string]time.Time{}, beats: map[floor.BoothID]uint64{},
		states: map[floor.BoothID]*boothv1.Gate{}, moved: make(chan struct{}),
	}
}

// Hear notes a sign of life of a terminal.
func (g *Gate) Hear(terminal string, at time.Time) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if at.After(g.heard[terminal]) {
		g.heard[terminal] = at
	}
}

// live is what the ruling must know beside the journal. It must not be
// called while the floor is locked.
func (g *Gate) live() floor.Live {
	health := g.desk.Writer.Healthy()
	if health == nil && g.opt.Health != nil {
		health = g.opt.Health()
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	heard := make(map[string]time.Time, len(g.heard))
	for t, at := range g.heard {
		heard[t] = at
	}
	return floor.Live{Health: health, Heard: heard, HearFor: g.opt.HearFor}
}

// Step looks at every running permit, takes back what lost its ground, and
// beats.
func (g *Gate) Step(ctx context.Context, now time.Time) (time.Time, error) {
	live := g.live()
	var running []floor.Permit
	g.desk.Writer.View(func(uint64) {
		for _, b := range g.desk.Floor.Booths() {
			if p := g.desk.Floor.Permit(b); p != nil {
				running = append(running, *p)
			}
		}
	})
	for _, p := range running {
		if err := g.keep(ctx, p, live, now); err != nil {
			g.beat(live, now)
			return now.Add(g.opt.Beat), err
		}
	}
	g.mu.Lock()
	g.begun = true
	g.mu.Unlock()
	if left := g.beat(live, now); !left && g.opt.Quiet {
		return time.Time{}, nil
	}
	return now.Add(g.opt.Beat), nil
}

// keep leaves a permit running or revokes it. The look is repeated under the
// lock of the writer, so that a permit that was used meanwhile is let be.
func (g *Gate) keep(ctx context.Context, p floor.Permit, live floor.Live, now time.Time) error {
	if names, _ := g.fallen(g.desk, p, live, now); len(names) == 0 {
		return nil
	}
	_, err := g.desk.Writer.Do(ctx, func(seq uint64) ([]floor.Event, error) {
		f := g.desk.Floor
		if r := f.Permit(p.Booth); r == nil || r.ID != p.ID {
			return nil, nil
		}
		names, why := g.grounds(f, p, live, now)
		if len(names) == 0 {
			return nil, nil
		}
		return []floor.Event{revocation(f, p, names, why, seq, now)}, nil
	})
	return err
}

func (g *Gate) fallen(d *record.Desk, p floor.Permit, live floor.Live, now time.Time) (names []string, why string) {
	d.Writer.View(func(uint64) { names, why = g.grounds(d.Floor, p, live, now) })
	return names, why
}

// grounds lists what a running permit lacks: nothing while it may run on.
func (g *Gate) grounds(f *floor.Floor, p floor.Permit, live floor.Live, now time.Time) (names []string, why string) {
	g.mu.Lock()
	begun := g.begun
	g.mu.Unlock()
	switch {
	case now.After(p.StartBy):
		return []string{EndedExpired}, fmt.Sprintf("not used by %s", p.StartBy.UTC().Format("15:04"))
	case p.Holder != g.opt.Holder && !begun:
		return []string{EndedNewHolder}, fmt.Sprintf("%s has taken over from %s", g.opt.Holder, p.Holder)
	case p.Holder != g.opt.Holder:
		return nil, "" // its own holder keeps it
	}
	live.Holding, live.Untouched = p.ID, p.Untouched
	r := f.Gate(p.Load, now, live)
	if p.Override {
		r.Reasons = slices.DeleteFunc(r.Reasons, func(x floor.Reason) bool { return !beyondOverride(x.Name) })
	}
	return reasonNames(r.Reasons), reasonTexts(r.Reasons)
}

// beyondOverride: no foreman can answer for these.
func beyondOverride(name string) bool {
	switch name {
	case floor.HoldLoadUnknown, floor.HoldBoothUnknown, floor.HoldBoothFault, floor.HoldBoothBusy, floor.HoldBoothPermitted,
		floor.HoldLoadSprayed, floor.HoldJobEnded, floor.HoldUnhealthy, floor.HoldClock, floor.HoldPanic, floor.HoldWrongBooth:
		return true
	}
	return false
}

func reasonNames(rs []floor.Reason) []string {
	var out []string
	for _, r := range rs {
		out = append(out, r.Name+" "+r.Subject)
	}
	return out
}

func reasonTexts(rs []floor.Reason) string {
	var out []string
	for _, r := range rs {
		out = append(out, r.Text)
	}
	text := strings.Join(out, "; ")
	if len(text) > 1900 {
		text = text[:1900] + " ..."
	}
	return strings.ToValidUTF8(text, "")
}

func revocation(f *floor.Floor, p floor.Permit, names []string, why string, seq uint64, now time.Time) floor.Event {
	ev := machineEvent(f, fmt.Sprintf("gate.revoke.%s.%d", p.ID, seq+1), now)
	ev.Aggregate = p.Booth.Aggregate()
	ev.Body = &boothv1.PermitRevoked{PermitId: p.ID, BoothId: string(p.Booth), LoadId: string(p.Load), Reasons: names, Why: why}
	return ev
}

// machineEvent is an event of the gate itself, heard now.
func machineEvent(f *floor.Floor, id string, now time.Time) floor.Event {
	if last := f.Last(); now.Before(last) {
		now = last
	}
	return floor.Event{Header: floor.Header{
		CommandID: id, Actor: actor, Role: floor.Machine, Terminal: actor, AgeKind: floor.AgeLive,
		Received: now, Occurred: now, Earliest: now, Latest: now, Rules: floor.RulesVersion,
	}}
}

// needLive refuses permissions asked for after the fact.
func needLive(h floor.Header) error {
	if h.AgeKind != floor.AgeLive {
		return fault.Bad("stamp.age.kind", h.AgeKind, "must be live: leave to spray is given for now, not for the past")
	}
	return nil
}
